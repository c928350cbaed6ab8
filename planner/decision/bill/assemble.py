"""A plan, put together from what the stages have computed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.decision.bill import summary
from planner.decision.bill.case import Case
from planner.decision.bill.cautions import cautions
from planner.decision.bill.prices import load_prices
from planner.decision.bill.reasons import reason
from planner.decision.bill.rows import watch_rows
from planner.decision.bill.shortfall import shortfall
from planner.decision.bill.skip import skipped_runs
from planner.decision.bill.windows import engine_windows
from planner.domain.arrays import Ints
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route
from planner.domain.policy import Policy, Trial
from planner.domain.results.figures import ReserveKept
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipOffset
from planner.simulation.harvest.loss_account import loss_account
from planner.simulation.harvest.sun_views import sun_views

if TYPE_CHECKING:
    import xarray as xr


def assemble(
    *,
    passage: Passage,
    boat: Boat,
    route: Route,
    input_files: dict[str, str],
    ship_offset: ShipOffset,
    track: xr.Dataset,
    harvest: xr.Dataset,
    demand: xr.Dataset,
    ledger: xr.Dataset,
    planned: xr.Dataset,
    policy: Policy,
    watch_index: Ints,
    reserve_kept: ReserveKept,
    warnings: tuple[Note, ...],
    trials: tuple[Trial, ...] = (),
) -> Plan:
    """Draw up the bill, the windows, the totals and the cautions of a computed passage.

    Parameters
    ----------
    passage, boat, route : Passage, Boat, Route
        The inputs.
    input_files : dict of str to str
        File name to SHA-256.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    track, harvest, demand, ledger : xarray.Dataset
        As the glossary has them, all members.
    planned : xarray.Dataset
        A ledger of one member on the members' mean weather.
    policy : Policy
        The ladders that the ledgers followed.
    watch_index : int array (epoch,)
        Which of the passage's watches each epoch is.
    reserve_kept : ReserveKept
        As the decision found it.
    warnings : tuple of Note
        What earlier stages warn of; those of the bank are added.
    trials : tuple of Trial
        With which the decision found ``reserve_kept``.

    Returns
    -------
    Plan
    """
    case = Case(
        passage=passage,
        boat=boat,
        ship_offset=ship_offset,
        track=track,
        harvest=harvest,
        demand=demand,
        ledger=ledger,
        planned=planned,
        policy=policy,
        watch_index=watch_index,
    )
    skipped = skipped_runs(case)
    reasons = [reason(case, epoch, skipped.get(epoch)) for epoch in range(case.epochs)]
    whole = slice(0, case.steps)
    return Plan(
        passage=passage,
        boat=boat,
        route=route,
        input_files=input_files,
        ship_offset=ship_offset,
        arrival=case.at(case.steps),
        track=track,
        harvest=harvest,
        losses=loss_account(
            track,
            harvest,
            planned,
            panels=boat.panel,
            controllers=boat.controller,
            days_from=passage.days_from,
        ),
        demand=demand,
        ledger=ledger,
        planned=planned,
        policy=policy,
        watches=watch_rows(case, skipped, reasons),
        windows=engine_windows(case, reasons),
        days=summary.days(case),
        prices=load_prices(case),
        engine_hours=summary.engine_hours(case, whole),
        charging_hours=summary.charging_hours(case),
        fuel_l=summary.fuel(case, whole),
        min_soc=summary.lowest_soc(case, whole),
        reserve_kept=reserve_kept,
        warnings=(*warnings, *shortfall(case, reserve_kept)),
        cautions=cautions(case),
        sun_views=sun_views(track, harvest, boat=boat),
        trials=trials,
    )
