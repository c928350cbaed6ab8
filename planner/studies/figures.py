"""A plan in figures, member by member, and the difference of two plans on the same members."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.decision.bill.summary import spread
from planner.domain.arrays import Floats
from planner.domain.inputs.power import Engine
from planner.domain.results.figures import ReserveKept, Spread
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.results.studies import ComparedRow, Figures
from planner.domain.ship_clock import ShipOffset
from planner.domain.utc import to_numpy
from planner.domain.voyage import offered_solar_w
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.simulate import fuel_l

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, eq=False)
class Outcome:
    """What is compared of a plan; the planned course is the last row of each array, (member + 1,).

    Attributes
    ----------
    solar_wh, offered_wh, load_wh : array
        Taken by the bus, what the controllers could deliver, and served [Wh].
    engine_h, charging_h : array
        The engine's running, whatever for; only to charge [h].
    fuel_l : array
        [L].
    min_soc, arrival_soc : array
        Lowest and last state of charge [0..1].
    passage_h : array
        From departure to arrival, or as far as the forecast serves a member [h].
    reserve_kept : ReserveKept
        Members held out.
    departure, arrival : datetime
        UTC.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    wiring : tuple of Note
        What was wired anew for it.
    """

    solar_wh: Floats
    offered_wh: Floats
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
    wiring: tuple[Note, ...] = ()

    @property
    def members(self) -> int:
        """Members of the forecast."""
        return int(self.solar_wh.size) - 1


HOUR: Final = timedelta(hours=1)
OverTime = Callable[[np.ufunc, Floats], Floats]
QUANTITIES = tuple(each.name for each in fields(Figures))


def outcome_of(plan: Plan, wiring: tuple[Note, ...] = ()) -> Outcome:
    """Return what is compared of a plan: of its members on their own tracks, where it was made for these.

    Parameters
    ----------
    plan : Plan
    wiring : tuple of Note
        What was wired anew for it.
    """
    began, engine = plan.passage.departure, plan.boat.engine
    planned = _sums(plan.planned, plan.track, engine, lambda each, values: each.reduce(values, axis=1))
    hours = [(plan.arrival - began) / HOUR]
    if plan.own_tracks is None:
        members = _sums(plan.ledger, plan.track, engine, lambda each, values: each.reduce(values, axis=1))
        at_sea_h = np.repeat(hours, plan.ledger.sizes["member"])
    else:
        tracks = plan.own_tracks.tracks
        ends = np.cumsum(tracks["row_size"].values)
        members = _sums(tracks, tracks, engine, lambda each, values: each.reduceat(values, [0, *ends[:-1]]))
        followed_h = tracks["row_size"].values * plan.voyage.step_h
        arrived_h = (tracks["arrival"].values - to_numpy(began)) / np.timedelta64(1, "h")
        at_sea_h = np.where(np.isnat(tracks["arrival"].values), followed_h, arrived_h)
    return Outcome(
        **{name: np.concatenate([members[name], planned[name]]) for name in members},
        passage_h=np.append(at_sea_h, hours),
        reserve_kept=plan.reserve_kept,
        departure=began.astimezone(UTC),
        arrival=plan.arrival,
        ship_offset=plan.ship_offset,
        wiring=wiring,
    )


def _sums(ledger: xr.Dataset, track: xr.Dataset, engine: Engine, over_time: OverTime) -> dict[str, Floats]:
    """Return what ledgers come to, (member,); ``over_time`` takes the steps of each member together."""
    step_h = step_seconds(track) / 3600.0
    running = ledger["engine_on"].values > 0
    charging = running & ~(track["under_engine"].values > 0)
    last = ledger["bank_soc_end"].values
    return {
        "solar_wh": over_time(np.add, ledger["solar_power_w"].values) * step_h,
        "offered_wh": over_time(np.add, offered_solar_w(ledger)) * step_h,
        "load_wh": over_time(np.add, ledger["load_power_w"].values) * step_h,
        "engine_h": over_time(np.add, running.astype(np.float64)) * step_h,
        "charging_h": over_time(np.add, charging.astype(np.float64)) * step_h,
        "fuel_l": over_time(np.add, fuel_l(ledger, track, engine)),
        "min_soc": np.minimum(over_time(np.minimum, ledger["bank_soc"].values), last),
        "arrival_soc": last,
    }


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
        wiring=outcome.wiring,
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
