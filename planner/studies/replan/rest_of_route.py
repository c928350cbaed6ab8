"""The rest of a route, from a fix on."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.errors import Fault, InputError, suggest
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, Waypoint, places_of
from planner.domain.results.replan import LastPlan
from planner.domain.ship_clock import ShipClock, ShipOffset, offset_at
from planner.domain.units import M_PER_NM
from planner.domain.utc import to_numpy
from planner.physics.sailing.sailings import great_circle
from planner.simulation.clock import changes_of_watch
from planner.simulation.ship_time import ship_offset_along

FIX: Final = "fix"
FARTHEST_OFF_NM: Final = 300.0  # nm that a fix may lie off the route; beyond, it is taken for a slip
THERE_NM: Final = 0.1  # nm from the destination at which nothing is left to plan


def next_waypoint(route: Route, fix: Waypoint) -> int:
    """Return the index of the waypoint to steer for: the end of the leg that a call at the fix lengthens least.

    Parameters
    ----------
    route : Route
        The whole route.
    fix : Waypoint
        Where she is.

    Returns
    -------
    int
        From 1 on.
    """
    longer = [_nm(begin, fix) + _nm(fix, end) - _nm(begin, end) for begin, end in pairwise(route)]
    return 1 + int(np.argmin(longer))


def rest_of_route(route: Route, fix: Waypoint, following: str | None) -> tuple[Route, int]:
    """Return the route from the fix on, and the index in the whole route of its next waypoint.

    Parameters
    ----------
    route, fix
        As for ``next_waypoint``.
    following : str, optional
        Name or number of the next waypoint; the one that the fix lies before when None.

    Raises
    ------
    InputError
        When there is no such waypoint, or several, the fix is far off the route, or she is there.
    """
    index = _ahead(route, following) if following is not None else next_waypoint(route, fix)
    begin, end = route[index - 1], route[index]
    off_nm = 0.5 * (_nm(begin, fix) + _nm(fix, end) - _nm(begin, end))
    if off_nm > FARTHEST_OFF_NM and following is None:
        problem = f"it lies {off_nm:.0f} nm off the route, of which '{begin.name}' to '{end.name}' is nearest."
        remedy = "Are latitude and longitude swapped, or a hemisphere? Or name the next waypoint with --next."
        raise InputError([Fault("--fix", "", problem, remedy)])
    if index == len(route) - 1 and _nm(fix, end) < THERE_NM:
        raise InputError([Fault("--fix", "", f"that is {end.name}: nothing is left to plan.")])
    return (fix, *route[index:]), index


def _ahead(route: Route, following: str) -> int:
    """Return the index of a waypoint after the first, by its name or number."""
    names = [waypoint.name for waypoint in route[1:]]
    by_number = following.isdecimal() and following not in names
    places = [place for place in places_of(route, int(following) if by_number else following) if place > 0]
    if not places:
        problem, remedy = f"the route has no waypoint '{following}' ahead.", suggest(following, names)
        raise InputError([Fault("--next", "", problem, remedy)])
    if len(places) > 1:
        numbers = ", ".join(str(place + 1) for place in places)
        problem = f"the route has {len(places)} waypoints '{following}' ahead, numbers {numbers}."
        raise InputError([Fault("--next", "", problem, "Give the number.")])
    return places[0]


def rest_of_passage(passage: Passage, route: Route, index: int) -> Passage:
    """Return the passage with what belongs to legs and waits behind her left out.

    Parameters
    ----------
    passage : Passage
        Of the whole route.
    route : Route
        The whole route.
    index : int
        Of its next waypoint.

    Returns
    -------
    Passage
        The leg being sailed begins at the fix; legs and waits have the numbers of their waypoints from there.
    """
    legs = [(leg, places_of(route, leg.from_waypoint)[0] - index) for leg in passage.legs]
    waits = [(wait, places_of(route, wait.at_waypoint)[0] - index) for wait in passage.waits]
    ahead = {
        "legs": tuple(leg.model_copy(update={"from_waypoint": on + 2}) for leg, on in legs if on >= -1),
        "waits": tuple(wait.model_copy(update={"at_waypoint": on + 2}) for wait, on in waits if on >= 0),
    }
    return passage.model_copy(update=ahead)


def clock_to_fix(
    passage: Passage, route: Route, until: datetime, first: timedelta, last: LastPlan | None
) -> ShipOffset:
    """Return the ship's clock from departure to a fix, as the last plan had it, and before that as she sailed.

    Before the last plan, or without one, she is taken to have run evenly along the route. A clock kept by longitude
    alone depends on how she sailed.

    Parameters
    ----------
    passage : Passage
        From its departure.
    route : Route
        Waypoints behind her, and the fix.
    until : datetime
        Time of the fix, or near it: she is taken to stay there for a day.
    first : timedelta
        Ship's time less UTC at departure.
    last : LastPlan or None
        What the last plan said of the clock.
    """
    begin, end = to_numpy(passage.departure), to_numpy(until)
    if passage.ship_time.zone is None or end <= begin:
        return first
    legs = [_nm(a, b) for a, b in pairwise(route)]
    sailed = np.concatenate([[0.0], np.cumsum(legs)]) / max(sum(legs), THERE_NM)
    step = np.timedelta64(passage.model.step_min, "m")
    time = np.arange(begin, end + np.timedelta64(1, "D"), step)
    lons = np.unwrap([waypoint.lon for waypoint in route], period=360.0)
    lon = np.interp((time - begin) / (end - begin), sailed, lons)
    run = xr.Dataset(
        {"lon": ("time", (lon + 180.0) % 360.0 - 180.0)},
        coords={"time": time},
        attrs={"step_s": float(step / np.timedelta64(1, "s"))},
    )
    clock = ship_offset_along(passage, run, first)
    if last is None or passage.ship_time.zone != "nautical":
        return clock
    begins = last.time[0]
    earlier = clock.changes if isinstance(clock, ShipClock) else ()
    later = last.ship_offset.changes if isinstance(last.ship_offset, ShipClock) else ()
    return ShipClock(
        first,
        (*(each for each in earlier if each[0] < begins), (begins, offset_at(last.ship_offset, begins)), *later),
    )


def keepers_from(passage: Passage, time: datetime, ship_offset: ShipOffset) -> tuple[str, ...]:
    """Return the watchkeepers in the turn that they have come to, whoever is on watch first.

    Parameters
    ----------
    passage : Passage
        From its departure.
    time : datetime
        When the rest of it begins.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    """
    keepers = passage.watchkeepers
    if not keepers:
        return keepers
    begin, end = to_numpy(passage.departure), to_numpy(time)
    minutes = np.arange(begin, end + np.timedelta64(1, "m"), np.timedelta64(1, "m"))
    stood = changes_of_watch(minutes, passage.watches, ship_offset)[0].size - 1
    turn = stood % len(keepers)
    return (*keepers[turn:], *keepers[:turn])


def _nm(begin: Waypoint, end: Waypoint) -> float:
    distance, _ = great_circle(*(np.array([value]) for value in (begin.lat, begin.lon, end.lat, end.lon)))
    return float(distance[0]) / M_PER_NM
