"""The march along the route: one compiled loop that carries leg, distance along it and distance off it.

In each step wind and current are read once, at the middle of the step and the place of its start. A step that holds a
tack, a waypoint or the end of a wait is sailed in parts; its speeds are means over the step, its angles those of the
longest part.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Floats
from planner.domain.units import M_PER_NM
from planner.physics.sailing.boards import hours_to_layline
from planner.physics.sailing.sailings import great_circle_point, rhumb_line_point
from planner.physics.sailing.wind import WindGrid, read_wind, wind_from
from planner.simulation.track.helm import (
    SAME_TIME_H,
    UNDER_WAY,
    Air,
    Memory,
    Motion,
    Vessel,
    choose,
    felt_wind,
    lie,
    remember,
)

ARRIVED: Final = 0
OUT_OF_TIME: Final = 1
HELD: Final = 2
NO_WIND_GIVEN: Final = 3

SHORTEST_BOARD_H: Final = 1e-4  # h, a third of a second: keeps the boards under a mark from closing in for ever


class Legs(NamedTuple):
    """Where each leg starts, its first bearing, length, kind and fixed speed (NaN: the polar's); the wait before it.

    ``after_nm`` is the way from its end to the destination. A wait ends after ``wait_h`` or at ``wait_until_h`` from
    departure, whichever is later; ``lying`` says how.
    """

    lat_deg: Floats
    lon_deg: Floats
    bearing_deg: Floats
    length_nm: Floats
    rhumb: npt.NDArray[np.bool_]
    fixed_kn: Floats
    lying: Floats
    wait_h: Floats
    wait_until_h: Floats
    after_nm: Floats


class Log(NamedTuple):
    """What the march writes down, one entry a step; the names are the glossary's, with their units and signs."""

    lat: Floats
    lon: Floats
    leg: Floats
    leg_bearing_deg: Floats
    course_deg: Floats
    heading_deg: Floats
    speed_over_ground_kn: Floats
    speed_through_water_kn: Floats
    distance_nm: Floats
    distance_to_go_nm: Floats
    true_wind_speed_kn: Floats
    true_wind_from_deg: Floats
    true_wind_angle_deg: Floats
    apparent_wind_speed_kn: Floats
    apparent_wind_angle_deg: Floats
    tack: Floats
    leeway_deg: Floats
    under_engine: Floats
    current_set_deg: Floats
    current_drift_kn: Floats
    lying: Floats


class _Place(NamedTuple):
    """Where the boat is: on which leg, how far along and to the right of it, and until when she waits there.

    ``bearing_deg`` is the direction at her position that runs with the leg.
    """

    leg: int
    along_nm: float
    off_nm: float
    leaves_h: float
    lat_deg: float
    lon_deg: float
    bearing_deg: float


@njit(cache=True)
def _at(legs: Legs, leg: int, along_nm: float, off_nm: float, leaves_h: float) -> _Place:
    """Return the place with the position and bearing that leg and distances give; beyond the last leg, without."""
    if leg == legs.length_nm.size:
        return _Place(leg, along_nm, off_nm, leaves_h, np.nan, np.nan, np.nan)
    lat, lon, bearing = legs.lat_deg[leg], legs.lon_deg[leg], legs.bearing_deg[leg]
    if legs.rhumb[leg]:
        lat, lon, bearing = rhumb_line_point(lat, lon, bearing, along_nm * M_PER_NM)
    else:
        lat, lon, bearing = great_circle_point(lat, lon, bearing, along_nm * M_PER_NM)
    if off_nm != 0.0:
        lat, lon, across = great_circle_point(lat, lon, bearing + 90.0, off_nm * M_PER_NM)
        bearing = (across - 90.0) % 360.0
    return _Place(leg, along_nm, off_nm, leaves_h, lat, lon, bearing)


@njit(cache=True)
def _enter(legs: Legs, leg: int, time_h: float) -> _Place:
    """Return the place at the start of a leg, come upon at a time."""
    leaves = -np.inf
    if leg < legs.length_nm.size and legs.lying[leg] != UNDER_WAY:
        leaves = max(time_h + legs.wait_h[leg], legs.wait_until_h[leg])
    return _at(legs, leg, 0.0, 0.0, leaves)


@njit(cache=True)
def _drift(legs: Legs, place: _Place, motion: Motion, hours: float) -> _Place:
    """Return the place after a course over ground has been held regardless of the leg."""
    relative = np.radians(motion.course_deg - place.bearing_deg)
    along = place.along_nm + motion.ground_kn * np.cos(relative) * hours
    off = place.off_nm + motion.ground_kn * np.sin(relative) * hours
    return _at(legs, place.leg, along, off, place.leaves_h)


@njit(cache=True)
def _straight(legs: Legs, place: _Place, motion: Motion, time_h: float, hours: float) -> tuple[_Place, float]:
    """Return the place after sailing straight for the mark until it is reached or time is up, and the time spent."""
    to_go = legs.length_nm[place.leg] - place.along_nm
    direct = np.hypot(to_go, place.off_nm)
    needed = 0.0 if direct == 0.0 else np.inf
    if direct > 0.0 and motion.ground_kn > 0.0:
        needed = direct / motion.ground_kn
    if needed <= hours:
        return _enter(legs, place.leg + 1, time_h + needed), needed
    part = hours / needed
    return _at(legs, place.leg, place.along_nm + to_go * part, place.off_nm * (1.0 - part), place.leaves_h), hours


@njit(cache=True)
def _board(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    vessel: Vessel, legs: Legs, place: _Place, motion: Motion, since_h: float, hours: float
) -> tuple[_Place, float]:
    """Return the place after sailing a board, begun ``since_h`` ago, until it ends or time is up; and that time."""
    relative = np.radians(motion.course_deg - place.bearing_deg)
    advance, sideways = motion.ground_kn * np.cos(relative), motion.ground_kn * np.sin(relative)
    to_go = legs.length_nm[place.leg] - place.along_nm
    lays = hours_to_layline(to_go, place.off_nm, advance, sideways, motion.other_deg - place.bearing_deg)
    limit = np.inf
    if motion.side * sideways > 0.0:
        limit = (motion.side * vessel.board_nm - place.off_nm) / sideways
    spent = min(hours, max(min(lays, limit, vessel.board_h - since_h), SHORTEST_BOARD_H))
    off = motion.side * vessel.board_nm if spent == limit else place.off_nm + sideways * spent
    return _at(legs, place.leg, place.along_nm + advance * spent, off, place.leaves_h), spent


@njit(cache=True)
def march(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    vessel: Vessel, legs: Legs, wind: WindGrid, current: WindGrid, step_h: float, log: Log
) -> tuple[int, int, float]:
    """Sail the legs from the first one's start, writing one entry a step into the log.

    Parameters
    ----------
    vessel, legs : Vessel, Legs
        Boat and route.
    wind, current : WindGrid
        Over ground; the grids' time counts from departure.
    step_h : float
        Step [h].
    log : Log
        Written in place; its length limits the passage.

    Returns
    -------
    outcome : int
        ``ARRIVED``, or why not.
    steps : int
        Entries written; when not arrived, the last one holds place and wind of the failure.
    hours : float
        From departure to arrival [h].
    """
    place = _enter(legs, 0, 0.0)
    memory = Memory(0.0, 0.0, 0.0, 0.0, 0.0)
    sailed_nm = 0.0
    for row in range(log.lat.size):
        air = _look_around(wind, current, (row + 0.5) * step_h, place)
        _write_start(log, row, legs, place, air)
        log.distance_nm[row] = sailed_nm
        if np.isnan(air.wind_kn):
            return NO_WIND_GIVEN, row + 1, row * step_h
        left, longest, ground_nm, through_nm = step_h, -1.0, 0.0, 0.0
        while left > 0.0 and place.leg < legs.length_nm.size:
            now = (row + 1) * step_h - left
            if place.leaves_h > now + SAME_TIME_H:
                motion = lie(vessel, air, memory, legs.lying[place.leg])
                spent = min(left, place.leaves_h - now)
                place = _drift(legs, place, motion, spent)
            else:
                to_go = legs.length_nm[place.leg] - place.along_nm
                mark_deg = place.bearing_deg + np.degrees(np.arctan2(-place.off_nm, to_go))
                motion = choose(vessel, air, memory, place.off_nm, mark_deg, legs.fixed_kn[place.leg])
                if not motion.ground_kn >= 0.0:
                    _write_motion(log, row, air, motion)
                    log.speed_through_water_kn[row] = motion.through_kn
                    return HELD, row + 1, row * step_h
                if motion.side == 0.0:
                    place, spent = _straight(legs, place, motion, now, left)
                else:
                    since_h = memory.board_h if motion.side == memory.side else 0.0
                    place, spent = _board(vessel, legs, place, motion, since_h, left)
            memory = remember(memory, motion, air, spent)
            if spent > longest:
                longest = spent
                _write_motion(log, row, air, motion)
            ground_nm += motion.ground_kn * spent
            through_nm += motion.through_kn * spent
            left -= spent
        sailed_nm += ground_nm
        log.speed_over_ground_kn[row], log.speed_through_water_kn[row] = ground_nm / step_h, through_nm / step_h
        if place.leg == legs.length_nm.size:
            return ARRIVED, row + 1, (row + 1) * step_h - left
    return OUT_OF_TIME, log.lat.size, log.lat.size * step_h


@njit(cache=True)
def _look_around(wind: WindGrid, current: WindGrid, time_h: float, place: _Place) -> Air:
    over_east, over_north = read_wind(wind, time_h, place.lat_deg, place.lon_deg)
    east, north = read_wind(current, time_h, place.lat_deg, place.lon_deg)
    wind_kn, from_deg = wind_from(over_east - east, over_north - north)
    drift_kn, against_deg = wind_from(-east, -north)
    return Air(wind_kn, from_deg, against_deg, drift_kn)


@njit(cache=True)
def _write_start(log: Log, row: int, legs: Legs, place: _Place, air: Air) -> None:
    log.lat[row], log.lon[row], log.leg[row] = place.lat_deg, place.lon_deg, place.leg
    log.leg_bearing_deg[row] = place.bearing_deg
    to_mark = np.hypot(legs.length_nm[place.leg] - place.along_nm, place.off_nm)
    log.distance_to_go_nm[row] = to_mark + legs.after_nm[place.leg]
    log.true_wind_speed_kn[row], log.true_wind_from_deg[row] = air.wind_kn, air.from_deg
    log.current_set_deg[row], log.current_drift_kn[row] = air.set_deg, air.drift_kn


@njit(cache=True)
def _write_motion(log: Log, row: int, air: Air, motion: Motion) -> None:
    log.course_deg[row], log.heading_deg[row] = motion.course_deg, motion.heading_deg
    log.true_wind_angle_deg[row] = _wrap_180(air.from_deg - motion.heading_deg)
    log.apparent_wind_speed_kn[row], log.apparent_wind_angle_deg[row] = felt_wind(air, motion)
    log.tack[row], log.leeway_deg[row], log.under_engine[row] = motion.tack, motion.leeway_deg, motion.engine
    log.lying[row] = motion.lying


@njit(cache=True)
def _wrap_180(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0
