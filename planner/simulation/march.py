"""The march along the route: one compiled loop that carries leg, distance along it and distance off it.

In each step the wind is read once, at the middle of the step and the place of its start. A step that holds a tack or
a waypoint is sailed in parts; its speeds are means over the step, its angles those of the longest part.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.units import M_PER_NM
from planner.physics.boards import course_made_good, course_to_steer, hours_to_layline, lies_between
from planner.physics.frames import Floats
from planner.physics.polar import PolarTable, boat_speed, read_table
from planner.physics.sailings import great_circle_point, rhumb_line_point
from planner.physics.wind import WindGrid, apparent_wind, held_tack, read_wind, wind_from

ARRIVED: Final = 0
OUT_OF_TIME: Final = 1
CURRENT_WINS: Final = 2
NO_WIND_GIVEN: Final = 3

CONVERGED_DEG: Final = 1e-10  # degree: heading and leeway of two rounds together
ROUNDS: Final = 60  # rounds at most; a knot or two of current takes about ten
SAME_GROUND_KN: Final = 1e-6  # kn: boards that advance alike to this leave the boat on the tack that she is on
SHORTEST_BOARD_H: Final = 1e-4  # h, a third of a second: keeps the boards under a mark from closing in for ever


class Vessel(NamedTuple):
    """How the boat sails: ``domain.boat.Sailing`` as arrays and numbers."""

    polar: PolarTable
    comfort: float
    motoring_kn: float
    engine_below_kn: float
    board_nm: float
    gybes: bool
    hysteresis_deg: float
    leeway_angle_deg: Floats
    leeway_size_deg: Floats


class Legs(NamedTuple):
    """Where each leg starts, its first bearing, its length, its fixed speed (NaN: the polar's); and the current."""

    lat_deg: Floats
    lon_deg: Floats
    bearing_deg: Floats
    length_nm: Floats
    fixed_kn: Floats
    rhumb: bool
    set_deg: float
    drift_kn: float


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


class _Air(NamedTuple):
    """The wind over the water, and the current under it."""

    wind_kn: float
    from_deg: float
    set_deg: float
    drift_kn: float


class _State(NamedTuple):
    """Where the boat is: on which leg, how far along and to the right of it; her board (-1 left, +1 right, 0 none).

    ``bearing_deg`` is the direction at her position that runs with the leg.
    """

    leg: int
    along_nm: float
    off_nm: float
    side: float
    tack: float
    lat_deg: float
    lon_deg: float
    bearing_deg: float


class _Motion(NamedTuple):
    """How she moves; ``side`` is 0 straight for the mark, else ``other_deg`` is the other board's course."""

    heading_deg: float
    leeway_deg: float
    through_kn: float
    course_deg: float
    ground_kn: float
    tack: float
    engine: float
    side: float
    other_deg: float


@njit(cache=True)
def _wrap(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


@njit(cache=True)
def _felt_wind(air: _Air, motion: _Motion) -> tuple[float, float]:
    angle = _wrap(air.from_deg - motion.heading_deg)
    felt_kn, felt_deg = apparent_wind(air.wind_kn, angle, motion.through_kn, motion.leeway_deg)
    return felt_kn, felt_deg


@njit(cache=True)
def _leeway(vessel: Vessel, air: _Air, motion: _Motion) -> float:
    _, angle = _felt_wind(air, motion)
    return -motion.tack * read_table(vessel.leeway_angle_deg, vessel.leeway_size_deg, abs(angle))


@njit(cache=True)
def _hold_course(vessel: Vessel, air: _Air, course: float, fixed: float, tack: float) -> _Motion:
    """Return the motion under sail that holds a course over ground, at a fixed speed or (NaN) the polar's."""
    motion = _Motion(course, 0.0, 0.0, course % 360.0, 0.0, tack, 0.0, 0.0, 0.0)
    for _ in range(ROUNDS):
        angle = _wrap(air.from_deg - motion.heading_deg)
        now = held_tack(tack, angle, vessel.hysteresis_deg)
        through = fixed
        if np.isnan(fixed):
            through = vessel.comfort * boat_speed(vessel.polar, abs(angle), air.wind_kn)
        tried = _Motion(motion.heading_deg, motion.leeway_deg, through, motion.course_deg, 0.0, now, 0.0, 0.0, 0.0)
        leeway = _leeway(vessel, air, tried)
        through_deg, ground = course_to_steer(course, through, air.set_deg, air.drift_kn)
        moved = abs(_wrap(through_deg - leeway - motion.heading_deg)) + abs(leeway - motion.leeway_deg)
        heading = (through_deg - leeway) % 360.0
        motion = _Motion(heading, leeway, through, motion.course_deg, ground, now, 0.0, 0.0, 0.0)
        if moved < CONVERGED_DEG:
            break
    return motion


@njit(cache=True)
def _motor(vessel: Vessel, air: _Air, course: float, through: float, tack: float) -> _Motion:
    """Return the motion under engine, without leeway, that holds a course over ground."""
    heading, ground = course_to_steer(course, through, air.set_deg, air.drift_kn)
    now = held_tack(tack, _wrap(air.from_deg - heading), vessel.hysteresis_deg)
    return _Motion(heading % 360.0, 0.0, through, course % 360.0, ground, now, 1.0, 0.0, 0.0)


@njit(cache=True)
def _on_board(vessel: Vessel, air: _Air, angle: float, tack: float) -> _Motion:
    """Return the motion at a true wind angle on a tack."""
    through = vessel.comfort * boat_speed(vessel.polar, angle, air.wind_kn)
    motion = _Motion((air.from_deg - tack * angle) % 360.0, 0.0, through, 0.0, 0.0, tack, 0.0, 0.0, 0.0)
    for _ in range(ROUNDS):
        leeway = _leeway(vessel, air, motion)
        moved = abs(leeway - motion.leeway_deg)
        motion = _Motion(motion.heading_deg, leeway, through, 0.0, 0.0, tack, 0.0, 0.0, 0.0)
        if moved < CONVERGED_DEG:
            break
    through_deg = motion.heading_deg + motion.leeway_deg
    course, ground = course_made_good(through_deg, through, air.set_deg, air.drift_kn)
    return _Motion(motion.heading_deg, motion.leeway_deg, through, course, ground, tack, 0.0, 0.0, 0.0)


@njit(cache=True)
def _pick_side(vessel: Vessel, state: _State, left: _Motion, right: _Motion, mark_deg: float) -> float:
    """Return the board to be on: kept to its end; the first makes better ground or, both alike, keeps the tack."""
    side = state.side
    if side == 0.0:
        left_kn = left.ground_kn * np.cos(np.radians(left.course_deg - mark_deg))
        right_kn = right.ground_kn * np.cos(np.radians(right.course_deg - mark_deg))
        if abs(left_kn - right_kn) > SAME_GROUND_KN:
            side = 1.0 if right_kn > left_kn else -1.0
        else:
            side = right.tack * (1.0 if state.tack == 0.0 else state.tack)
    return -side if side * state.off_nm >= vessel.board_nm else side


@njit(cache=True)
def _boards(vessel: Vessel, air: _Air, state: _State, mark_deg: float, left_tack: float) -> _Motion:
    """Return the motion on a board, its side 0 when none is needed; left is starboard tack (+1) only to windward."""
    best = vessel.polar.best_upwind_deg if left_tack > 0.0 else vessel.polar.best_downwind_deg
    angle = read_table(vessel.polar.wind_kn, best, air.wind_kn)
    left = _on_board(vessel, air, angle, left_tack)
    right = _on_board(vessel, air, angle, -left_tack)
    if not lies_between(mark_deg, left.course_deg, right.course_deg):
        return left
    side = _pick_side(vessel, state, left, right, mark_deg)
    on, other = (left, right) if side < 0.0 else (right, left)
    return _Motion(
        on.heading_deg,
        on.leeway_deg,
        on.through_kn,
        on.course_deg,
        on.ground_kn,
        on.tack,
        0.0,
        side,
        other.course_deg,
    )


@njit(cache=True)
def _choose(vessel: Vessel, air: _Air, state: _State, mark_deg: float, fixed: float) -> _Motion:
    """Return how she sails or motors now: at a fixed speed straight for the mark, or (NaN) as the polar lets her."""
    if np.isnan(fixed):
        motion = _boards(vessel, air, state, mark_deg, 1.0)
        if motion.side == 0.0 and vessel.gybes:
            motion = _boards(vessel, air, state, mark_deg, -1.0)
        if motion.side == 0.0:
            motion = _hold_course(vessel, air, mark_deg, fixed, state.tack)
        too_slow = motion.through_kn < vessel.engine_below_kn
        speed = max(motion.through_kn, vessel.motoring_kn)
    else:
        motion = _hold_course(vessel, air, mark_deg, fixed, state.tack)
        angle = abs(_wrap(air.from_deg - motion.heading_deg))
        pinched = angle < read_table(vessel.polar.wind_kn, vessel.polar.best_upwind_deg, air.wind_kn)
        polar_kn = vessel.comfort * boat_speed(vessel.polar, angle, air.wind_kn)
        too_slow = pinched or polar_kn < vessel.engine_below_kn
        speed = fixed
    carried_back = motion.side == 0.0 and not motion.ground_kn > 0.0
    if vessel.engine_below_kn > 0.0 and (too_slow or carried_back):
        return _motor(vessel, air, mark_deg, speed, state.tack)
    return motion


@njit(cache=True)
def _settle(legs: Legs, state: _State) -> _State:
    """Return the state with the position and bearing that its leg and distances give."""
    leg, along, off = state.leg, state.along_nm * M_PER_NM, state.off_nm * M_PER_NM
    lat, lon, bearing = legs.lat_deg[leg], legs.lon_deg[leg], legs.bearing_deg[leg]
    if legs.rhumb:
        lat, lon, bearing = rhumb_line_point(lat, lon, bearing, along)
    else:
        lat, lon, bearing = great_circle_point(lat, lon, bearing, along)
    if off != 0.0:
        lat, lon, across = great_circle_point(lat, lon, bearing + 90.0, off)
        bearing = (across - 90.0) % 360.0
    return _State(leg, state.along_nm, state.off_nm, state.side, state.tack, lat, lon, bearing)


@njit(cache=True)
def _straight(state: _State, motion: _Motion, to_go: float, hours: float) -> tuple[_State, float]:
    """Return the state after sailing straight for the mark until it is reached or time is up, and the time spent."""
    direct = np.hypot(to_go, state.off_nm)
    needed = 0.0 if direct == 0.0 else np.inf
    if direct > 0.0 and motion.ground_kn > 0.0:
        needed = direct / motion.ground_kn
    leg, along, off = state.leg + 1, 0.0, 0.0
    if needed > hours:
        part = hours / needed
        leg, along, off = state.leg, state.along_nm + to_go * part, state.off_nm * (1.0 - part)
    after = _State(leg, along, off, 0.0, motion.tack, state.lat_deg, state.lon_deg, state.bearing_deg)
    return after, min(needed, hours)


@njit(cache=True)
def _board(vessel: Vessel, state: _State, motion: _Motion, to_go: float, hours: float) -> tuple[_State, float]:
    """Return the state after sailing a board until it ends or time is up, and the time spent."""
    relative = np.radians(motion.course_deg - state.bearing_deg)
    advance, sideways = motion.ground_kn * np.cos(relative), motion.ground_kn * np.sin(relative)
    lays = hours_to_layline(to_go, state.off_nm, advance, sideways, motion.other_deg - state.bearing_deg)
    limit = np.inf
    if motion.side * sideways > 0.0:
        limit = (motion.side * vessel.board_nm - state.off_nm) / sideways
    spent = min(hours, max(min(lays, limit), SHORTEST_BOARD_H))
    off = motion.side * vessel.board_nm if spent == limit else state.off_nm + sideways * spent
    along = state.along_nm + advance * spent
    after = _State(state.leg, along, off, motion.side, motion.tack, state.lat_deg, state.lon_deg, state.bearing_deg)
    return after, spent


@njit(cache=True)
def march(vessel: Vessel, legs: Legs, grid: WindGrid, step_h: float, log: Log) -> tuple[int, int, float]:
    """Sail the legs from the first one's start, writing one entry a step into the log.

    Parameters
    ----------
    vessel, legs, grid
        Boat, route with current, and wind; the grid's time counts from departure.
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
    state = _settle(legs, _State(0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0))
    sailed_nm = 0.0
    for row in range(log.lat.size):
        air = _look_around(legs, grid, (row + 0.5) * step_h, state)
        _write_start(log, row, legs, state, air)
        log.distance_nm[row] = sailed_nm
        if np.isnan(air.wind_kn):
            return NO_WIND_GIVEN, row + 1, row * step_h
        left, longest, ground_nm, through_nm = step_h, -1.0, 0.0, 0.0
        while left > 0.0 and state.leg < legs.length_nm.size:
            to_go = legs.length_nm[state.leg] - state.along_nm
            mark_deg = state.bearing_deg + np.degrees(np.arctan2(-state.off_nm, to_go))
            motion = _choose(vessel, air, state, mark_deg, legs.fixed_kn[state.leg])
            if not motion.ground_kn >= 0.0:
                return CURRENT_WINS, row + 1, row * step_h
            if motion.side == 0.0:
                state, spent = _straight(state, motion, to_go, left)
            else:
                state, spent = _board(vessel, state, motion, to_go, left)
            if spent > longest:
                longest = spent
                _write_motion(log, row, air, motion)
            ground_nm += motion.ground_kn * spent
            through_nm += motion.through_kn * spent
            left -= spent
            if state.leg < legs.length_nm.size:
                state = _settle(legs, state)
        sailed_nm += ground_nm
        log.speed_over_ground_kn[row], log.speed_through_water_kn[row] = ground_nm / step_h, through_nm / step_h
        if state.leg == legs.length_nm.size:
            return ARRIVED, row + 1, (row + 1) * step_h - left
    return OUT_OF_TIME, log.lat.size, log.lat.size * step_h


@njit(cache=True)
def _look_around(legs: Legs, grid: WindGrid, time_h: float, state: _State) -> _Air:
    east, north = read_wind(grid, time_h, state.lat_deg, state.lon_deg)
    toward = np.radians(legs.set_deg)
    wind_kn, from_deg = wind_from(east - legs.drift_kn * np.sin(toward), north - legs.drift_kn * np.cos(toward))
    return _Air(wind_kn, from_deg, legs.set_deg, legs.drift_kn)


@njit(cache=True)
def _write_start(log: Log, row: int, legs: Legs, state: _State, air: _Air) -> None:
    log.lat[row], log.lon[row], log.leg[row] = state.lat_deg, state.lon_deg, state.leg
    log.leg_bearing_deg[row] = state.bearing_deg
    log.distance_to_go_nm[row] = legs.length_nm[state.leg :].sum() - state.along_nm
    log.true_wind_speed_kn[row], log.true_wind_from_deg[row] = air.wind_kn, air.from_deg


@njit(cache=True)
def _write_motion(log: Log, row: int, air: _Air, motion: _Motion) -> None:
    log.course_deg[row], log.heading_deg[row] = motion.course_deg, motion.heading_deg
    log.true_wind_angle_deg[row] = _wrap(air.from_deg - motion.heading_deg)
    log.apparent_wind_speed_kn[row], log.apparent_wind_angle_deg[row] = _felt_wind(air, motion)
    log.tack[row], log.leeway_deg[row], log.under_engine[row] = motion.tack, motion.leeway_deg, motion.engine
