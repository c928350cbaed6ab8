"""The march to a wanted arrival: at her own pace, or waiting or slowing down to arrive on time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, places_of
from planner.domain.inputs.sailing import Sailing
from planner.domain.results.note import Note, together
from planner.domain.utc import to_numpy
from planner.simulation.track.march import ARRIVED, Log, march
from planner.simulation.track.orders import current_grid, legs_of, vessel_of, wind_grid

if TYPE_CHECKING:
    import xarray as xr

SLOWEST_PACE: Final = 0.5  # 1: slower than half her speed a yacht steers badly and rolls (common practice)
HALVINGS: Final = 24  # of the pace or the wait: to under a second in ten days
NEAR_ENOUGH_H: Final = 1.0 / 60.0  # h: an arrival is kept to the minute


@dataclass(frozen=True, eq=False)
class Sailed:
    """A march and what became of it.

    Attributes
    ----------
    outcome : int
        ``march.ARRIVED``, or why not.
    hours : float
        From departure to arrival [h].
    marched : dict of str to array (time,)
        By the glossary's names; ``leg`` counts the route's legs.
    departure : datetime64
        UTC.
    pace : float
        What she goes of her speed, to arrive as wanted [0..1].
    notes : tuple of Note
        How a wanted arrival is met.
    missed : Fault or None
        Why the wanted arrival cannot be met; the march then comes as near to it as she can.
    """

    outcome: int
    hours: float
    marched: dict[str, Floats]
    departure: np.datetime64
    pace: float = 1.0
    notes: tuple[Note, ...] = ()
    missed: Fault | None = None


def sail_in_time(
    passage: Passage, sailing: Sailing, route: Route, forecast: xr.Dataset, *, member: int, longest_days: int
) -> Sailed:
    """March along the route, for a wanted arrival slower or with a longer wait.

    An open-ended wait takes up the time; without one she goes at a part of her speed, the same all the way. Where a
    change of wind makes the arrival jump, she comes before the wanted time rather than after.

    Parameters
    ----------
    passage, sailing, route, forecast, member
        As ``track.sail`` has them.
    longest_days : int
        Give up after [d].

    Raises
    ------
    InputError
        When the route or its waits cannot be.
    """
    wind = wind_grid(forecast, to_numpy(passage.departure), member)
    current = current_grid(passage, forecast, member)
    step_h = passage.model.step_min / 60.0

    legs, owner = legs_of(passage, route)
    waits = [places_of(route, wait.at_waypoint)[0] for wait in passage.waits if wait.open_ended]
    open_ended = np.isin(owner, waits)

    def run(pace: float, wait_h: float) -> Sailed:
        there = legs._replace(wait_h=np.where(open_ended, wait_h, legs.wait_h))
        log = Log(*(np.empty(longest_days * 24 * 60 // passage.model.step_min) for _ in Log._fields))
        outcome, steps, hours = march(vessel_of(sailing, pace=pace), there, wind, current, step_h, log)
        marched = {name: array[:steps].copy() for name, array in log._asdict().items()}
        marched["leg"] = owner[marched["leg"].astype(np.int64)].astype(np.float64)
        return Sailed(outcome, hours, marched, to_numpy(passage.departure), pace)

    own = run(1.0, 0.0)
    if passage.arrival is None or own.outcome != ARRIVED:
        return own
    wanted_h = float((to_numpy(passage.arrival) - own.departure) / np.timedelta64(1, "h"))
    if own.hours > wanted_h + NEAR_ENOUGH_H:
        problem = (
            f"at her own pace the boat arrives {own.hours - wanted_h:.1f} h after "
            f"{passage.arrival.isoformat(timespec='minutes')}."
        )
        remedy = "Leave earlier or come later" + (", or shorten a wait." if passage.waits else ".")
        return replace(own, missed=Fault("passage", "arrival", problem, remedy))
    if waits:
        wait_h = _latest(lambda hours: run(1.0, hours), wanted_h, good=0.0, late=wanted_h)
        note = Note("waits", {"wait_h": wait_h, "waypoint": route[waits[0]].name})
        return _noted(run(1.0, wait_h), note, wanted_h)
    slowest = run(SLOWEST_PACE, 0.0)
    if slowest.outcome == ARRIVED and slowest.hours < wanted_h - NEAR_ENOUGH_H:
        problem = (
            f"even at {SLOWEST_PACE:.0%} of her speed the boat arrives {wanted_h - slowest.hours:.1f} h before "
            f"{passage.arrival.isoformat(timespec='minutes')}."
        )
        remedy = "Leave later, or add a wait without hours: [[waits]] at_waypoint = '...'"
        return replace(slowest, missed=Fault("passage", "arrival", problem, remedy))
    pace = _latest(lambda part: run(part, 0.0), wanted_h, good=1.0, late=SLOWEST_PACE)
    return _noted(run(pace, 0.0), Note("slows", {"pace": pace}), wanted_h)


def _latest(run: Callable[[float], Sailed], wanted_h: float, *, good: float, late: float) -> float:
    """Return the figure next to ``late`` with which she arrives, to the minute, not after the wanted time."""
    for _ in range(HALVINGS):
        middle = 0.5 * (good + late)
        tried = run(middle)
        if tried.outcome == ARRIVED and tried.hours <= wanted_h:
            good = middle
        else:
            late = middle
    return good


def _noted(sailed: Sailed, note: Note, wanted_h: float) -> Sailed:
    early_h = wanted_h - sailed.hours
    early = [Note("early", {"early_h": early_h})] if early_h > NEAR_ENOUGH_H else []
    return replace(sailed, notes=(together([note, *early]),))
