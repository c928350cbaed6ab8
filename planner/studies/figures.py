"""A plan in figures, member by member, and the difference of two plans on the same members."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from planner.decision.bill.summary import spread
from planner.domain.arrays import Floats
from planner.domain.results.figures import ReserveKept, Spread
from planner.domain.results.plan import Plan
from planner.domain.results.studies import ComparedRow, Figures
from planner.domain.ship_clock import ShipOffset
from planner.domain.voyage import soc_course
from planner.simulation.ledger.simulate import fuel_l

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, eq=False)
class Outcome:
    """What is compared of a plan; the planned course is the last row of each array, (member + 1,).

    Attributes
    ----------
    solar_wh, load_wh : array
        Taken by the bus, and served [Wh].
    engine_h, charging_h : array
        The engine's running, whatever for; only to charge [h].
    fuel_l : array
        [L].
    min_soc, arrival_soc : array
        Lowest and last state of charge [0..1].
    passage_h : array
        From departure to arrival, alike for all [h].
    reserve_kept : ReserveKept
        Members held out.
    departure, arrival : datetime
        UTC.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    """

    solar_wh: Floats
    load_wh: Floats
    engine_h: Floats
    charging_h: Floats
    fuel_l: Floats
    min_soc: Floats
    arrival_soc: Floats
    passage_h: Floats
    reserve_kept: ReserveKept
    departure: datetime
    arrival: datetime
    ship_offset: ShipOffset

    @property
    def members(self) -> int:
        """Members of the forecast."""
        return int(self.solar_wh.size) - 1


QUANTITIES = tuple(each.name for each in fields(Figures))


def outcome_of(plan: Plan) -> Outcome:
    """Return what is compared of a plan.

    Parameters
    ----------
    plan : Plan
    """
    step_h = plan.voyage.step_h
    driving = plan.track["under_engine"].values > 0

    def of(ledger: xr.Dataset) -> dict[str, Floats]:
        running = ledger["engine_on"].values > 0
        soc = soc_course(ledger)
        return {
            "solar_wh": ledger["solar_power_w"].values.sum(axis=1) * step_h,
            "load_wh": ledger["load_power_w"].values.sum(axis=1) * step_h,
            "engine_h": running.sum(axis=1) * step_h,
            "charging_h": (running & ~driving).sum(axis=1) * step_h,
            "fuel_l": fuel_l(ledger, plan.track, plan.boat.engine).sum(axis=1),
            "min_soc": soc.min(axis=1),
            "arrival_soc": soc[:, -1],
        }

    members, planned = of(plan.ledger), of(plan.planned)
    rows = {name: np.concatenate([members[name], planned[name]]) for name in members}
    hours = (plan.arrival - plan.passage.departure).total_seconds() / 3600.0
    return Outcome(
        **rows,
        passage_h=np.full(rows["solar_wh"].size, hours),
        reserve_kept=plan.reserve_kept,
        departure=plan.passage.departure.astimezone(UTC),
        arrival=plan.arrival,
        ship_offset=plan.ship_offset,
    )


def row_of(name: str, outcome: Outcome, base: Outcome) -> ComparedRow:
    """Return a variant beside the base.

    Parameters
    ----------
    name : str
        Of the variant.
    outcome, base : Outcome
        Of both; where their members differ in number, nothing can be paired and the row has failed.

    Returns
    -------
    ComparedRow
    """
    if outcome.members != base.members:
        return failed_row(name, f"its forecast has {outcome.members} members, the base's {base.members}.")
    return ComparedRow(
        name=name,
        figures=Figures(**{each: spread_of(getattr(outcome, each)) for each in QUANTITIES}),
        difference=Figures(**{each: difference_of(outcome, base, each) for each in QUANTITIES}),
        reserve_kept=outcome.reserve_kept,
        departure=outcome.departure,
        arrival=outcome.arrival,
        ship_offset=outcome.ship_offset,
    )


def failed_row(name: str, reason: str) -> ComparedRow:
    """Return the row of a variant that could not be planned."""
    return ComparedRow(
        name=name,
        figures=None,
        difference=None,
        reserve_kept=None,
        departure=None,
        arrival=None,
        ship_offset=None,
        failure=reason,
    )


def difference_of(outcome: Outcome, base: Outcome, quantity: str) -> Spread:
    """Return one quantity of an outcome less the base's, paired member by member."""
    return spread_of(getattr(outcome, quantity) - getattr(base, quantity))


def spread_of(values: Floats) -> Spread:
    """Return the spread of values over members, the last being the planned one."""
    return spread(float(values[-1]) + 0.0, values[:-1])
