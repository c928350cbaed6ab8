"""A plan, put together from what the stages have computed."""

from __future__ import annotations

from collections.abc import Sequence

from planner.decision.bill import summary
from planner.decision.bill.cautions import cautions
from planner.decision.bill.dead.without_engine import without_engine
from planner.decision.bill.ladders.card import card
from planner.decision.bill.prices import load_prices
from planner.decision.bill.reasons import reason
from planner.decision.bill.rows import watch_rows
from planner.decision.bill.shortfall import shortfall
from planner.decision.bill.skip import skipped_runs
from planner.decision.bill.windows import engine_windows
from planner.domain.results.bill import WatchRow
from planner.domain.results.figures import ReserveKept
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.voyage import Voyage
from planner.simulation.harvest.loss_account import loss_account
from planner.simulation.harvest.sun_views import sun_views


def assemble(
    voyage: Voyage, *, reserve_kept: ReserveKept, warnings: tuple[Note, ...], card_dearer: float = 0.0
) -> Plan:
    """Draw up the bill, the windows, the totals and the cautions of a computed passage.

    Parameters
    ----------
    voyage : Voyage
    reserve_kept : ReserveKept
        As the decision found it.
    warnings : tuple of Note
        What earlier stages warn of; those of the bank are added.
    card_dearer : float
        As the decision found it [1].

    Returns
    -------
    Plan
    """
    passage, boat, track, harvest = voyage.passage, voyage.boat, voyage.track, voyage.harvest
    skipped = skipped_runs(voyage)
    reasons = [reason(voyage, epoch, skipped.get(epoch)) for epoch in range(voyage.epochs)]
    whole = slice(0, voyage.steps)
    watches = watch_rows(voyage, skipped, reasons)
    return Plan(
        voyage=voyage,
        losses=loss_account(
            track,
            harvest,
            voyage.planned,
            panels=boat.panel,
            controllers=boat.controller,
            days_from=passage.days_from,
        ),
        watches=watches,
        card=card(voyage, watches, dearer=card_dearer),
        without_engine=without_engine(voyage, _first_steps_of_days(voyage, watches)),
        windows=engine_windows(voyage, reasons),
        days=summary.days(voyage),
        prices=load_prices(voyage),
        engine_hours=summary.engine_hours(voyage, whole),
        charging_hours=summary.charging_hours(voyage),
        fuel_l=summary.fuel(voyage, whole),
        min_soc=summary.lowest_soc(voyage, whole),
        reserve_kept=reserve_kept,
        warnings=(*shortfall(voyage, reserve_kept), *warnings),
        cautions=cautions(voyage),
        sun_views=sun_views(track, harvest, boat=boat),
    )


def _first_steps_of_days(voyage: Voyage, watches: Sequence[WatchRow]) -> list[int]:
    """Return the first step of each day's first watch."""
    days = [row.day for row in watches]
    return [int(voyage.policy.first_step[days.index(day)]) for day in sorted(set(days))]
