"""The helm: how the boat moves in a wind and a current, toward a mark, under sail or engine, hove-to or at anchor."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.sailing.boards import course_made_good, course_to_steer, lies_between
from planner.physics.sailing.polar import PolarTable, boat_speed, read_table
from planner.physics.sailing.wind import apparent_wind_in_step, held_tack

UNDER_WAY: Final = 0.0
AT_ANCHOR: Final = 1.0
HOVE_TO: Final = 2.0

CONVERGED_DEG: Final = 1e-10  # degree: heading and leeway of two rounds together
ROUNDS: Final = 60  # rounds at most; a knot or two of current takes about ten
SAME_GROUND_KN: Final = 1e-6  # kn: boards that advance alike to this leave the boat on the tack that she is on
NO_GO_DEG: Final = 0.01  # degree; a course nearer the wind than the best angle by less is laid, but for rounding
SAME_TIME_H: Final = 1e-9  # h: spans that differ by less are one; steps do not add up exactly


class Vessel(NamedTuple):
    """How the boat sails: ``domain.boat.Sailing`` as arrays and numbers; ``pace`` slows her for a fixed arrival."""

    polar: PolarTable
    comfort: float
    seaway_wind_kn: Floats
    seaway_factor: Floats
    pace: float
    motoring_kn: float
    engine_below_kn: float
    engine_below_wind_kn: float
    engine_below_made_good_kn: float
    engine_margin_kn: float
    engine_least_h: float
    board_nm: float
    board_h: float
    shift_deg: float
    gybes: bool
    hysteresis_deg: float
    leeway_angle_deg: Floats
    leeway_size_deg: Floats
    hove_to_deg: float
    hove_to_share: float


class Air(NamedTuple):
    """The wind over the water, and the current under it."""

    wind_kn: float
    from_deg: float
    set_deg: float
    drift_kn: float


class Memory(NamedTuple):
    """What the helm remembers.

    Her board (-1 left, +1 right, 0 none), how long she has been on it and the wind that it began in; her tack
    (0 unknown); how long the engine has driven without a break (0 not now).
    """

    side: float
    board_h: float
    board_from_deg: float
    tack: float
    driven_h: float


class Motion(NamedTuple):
    """How she moves; ``side`` is 0 straight for the mark, else ``other_deg`` is the other board's course.

    ``made_good_kn`` is over ground toward the mark, on boards of both of them together.
    """

    heading_deg: float
    leeway_deg: float
    through_kn: float
    course_deg: float
    ground_kn: float
    made_good_kn: float
    tack: float
    engine: float
    side: float
    other_deg: float
    lying: float


@njit(cache=True)
def _wrap(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


@njit(cache=True)
def felt_wind(air: Air, motion: Motion) -> tuple[float, float]:
    """Return speed [kn] and angle off the bow [degree] of the apparent wind."""
    angle = _wrap(air.from_deg - motion.heading_deg)
    felt_kn, felt_deg = apparent_wind_in_step(air.wind_kn, angle, motion.through_kn, motion.leeway_deg)
    return felt_kn, felt_deg


@njit(cache=True)
def sailing_speed(vessel: Vessel, angle_deg: float, wind_kn: float) -> float:
    """Return what crew and seaway get out of the polar at a true wind angle and speed, not slowed down [kn]."""
    seaway = read_table(vessel.seaway_wind_kn, vessel.seaway_factor, wind_kn)
    return float(vessel.comfort * seaway * boat_speed(vessel.polar, angle_deg, wind_kn))


@njit(cache=True)
def remember(before: Memory, motion: Motion, air: Air, hours: float) -> Memory:
    """Return the memory after a motion has lasted for some hours."""
    since, began = before.board_h + hours, before.board_from_deg
    if motion.side != before.side:
        since, began = hours, air.from_deg
    driven = driven_on(before.driven_h, motion.engine, hours)
    return Memory(motion.side, since if motion.side != 0.0 else 0.0, began, motion.tack, driven)


@njit(cache=True)
def lie(vessel: Vessel, air: Air, memory: Memory, lying: float) -> Motion:
    """Return how she lies at anchor, head to the wind over ground, or hove-to, drifting before the wind."""
    if lying == AT_ANCHOR:
        wind, toward = np.radians(air.from_deg + 180.0), np.radians(air.set_deg)
        east = air.wind_kn * np.sin(wind) + air.drift_kn * np.sin(toward)
        north = air.wind_kn * np.cos(wind) + air.drift_kn * np.cos(toward)
        heading = np.degrees(np.arctan2(-east, -north)) % 360.0
        past = _wrap(air.set_deg + 180.0 - heading) if air.drift_kn > 0.0 else 0.0  # the water runs past her
        tack = held_tack(memory.tack, _wrap(air.from_deg - heading), vessel.hysteresis_deg)
        return Motion(heading, past, air.drift_kn, heading, 0.0, 0.0, tack, 0.0, 0.0, 0.0, lying)
    tack = 1.0 if memory.tack == 0.0 else memory.tack
    heading = (air.from_deg - tack * vessel.hove_to_deg) % 360.0
    through, through_deg = vessel.hove_to_share * air.wind_kn, air.from_deg + 180.0
    course, ground = course_made_good(through_deg, through, air.set_deg, air.drift_kn)
    return Motion(heading, _wrap(through_deg - heading), through, course, ground, 0.0, tack, 0.0, 0.0, 0.0, lying)


@njit(cache=True)
def choose(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    vessel: Vessel, air: Air, memory: Memory, off_nm: float, mark_deg: float, fixed_kn: float
) -> Motion:
    """Return how she sails or motors now.

    Parameters
    ----------
    vessel, air, memory
        Boat, wind with current, and what the helm remembers.
    off_nm : float
        Distance to the right of the leg [nm].
    mark_deg : float
        Bearing of the mark [degree].
    fixed_kn : float
        Speed through the water, in boards where the mark lies too near the wind; NaN: as the polar lets her [kn].

    Returns
    -------
    Motion
        Its speed over ground is negative, or NaN, where no heading gains ground: the current beats her, or the mark
        lies nearer the wind than she sails.
    """
    free = np.isnan(fixed_kn)
    motion = _boards(vessel, air, memory, off_nm, mark_deg, fixed_kn, 1.0)
    if motion.side == 0.0 and free and vessel.gybes:
        motion = _boards(vessel, air, memory, off_nm, mark_deg, fixed_kn, -1.0)
    if motion.side == 0.0:
        motion = _hold_course(vessel, air, mark_deg, fixed_kn, memory.tack)
    if not may_drive(vessel):
        return motion
    under_engine = vessel.motoring_kn if free else min(fixed_kn, vessel.motoring_kn)
    motor = _motor(vessel, air, mark_deg, vessel.pace * under_engine, memory.tack)
    if not motor.ground_kn > 0.0:
        return motion if motion.made_good_kn > 0.0 or motion.through_kn > motor.through_kn else motor
    sailed = sailing_speed(vessel, abs(_wrap(air.from_deg - motion.heading_deg)), air.wind_kn)
    pinched = not free and motion.side != 0.0
    if pinched or drives(vessel, air.wind_kn, memory.driven_h, sailed):
        return motor
    carried = air.drift_kn * np.cos(np.radians(air.set_deg - mark_deg))
    made_good = (motion.made_good_kn - carried) / vessel.pace + carried
    helps = not motion.made_good_kn >= motor.ground_kn
    return motor if helps and gains_too_little(vessel, memory.driven_h, made_good) else motion


@njit(cache=True)
def may_drive(vessel: Vessel) -> bool:
    """Return whether the skipper lets the engine drive at all."""
    return vessel.engine_below_kn > 0.0 or vessel.engine_below_wind_kn > 0.0


@njit(cache=True)
def drives(vessel: Vessel, wind_kn: float, driven_h: float, sailed_kn: float) -> bool:
    """Return whether the engine drives: in too little speed or wind, or since it started only now.

    Parameters
    ----------
    vessel : Vessel
        Boat.
    wind_kn : float
        Over the water [kn].
    driven_h : float
        How long it has driven without a break, 0 not now [h].
    sailed_kn : float
        What she would sail at, not slowed down [kn].
    """
    driving = driven_h > 0.0
    margin = vessel.engine_margin_kn if driving and vessel.engine_below_kn > 0.0 else 0.0
    just_started = driving and driven_h < vessel.engine_least_h - SAME_TIME_H
    too_light = wind_kn < vessel.engine_below_wind_kn
    return just_started or too_light or sailed_kn < vessel.engine_below_kn + margin


@njit(cache=True)
def gains_too_little(vessel: Vessel, driven_h: float, made_good_kn: float) -> bool:
    """Return whether sailing gains too little ground toward the mark to go on without the engine.

    Parameters
    ----------
    vessel : Vessel
        Boat.
    driven_h : float
        How long the engine has driven without a break, 0 not now [h].
    made_good_kn : float
        Over ground toward the mark under sail, not slowed down; NaN where no heading holds the course [kn].
    """
    margin = vessel.engine_margin_kn if driven_h > 0.0 and vessel.engine_below_made_good_kn > 0.0 else 0.0
    return not (made_good_kn > 0.0 and made_good_kn >= vessel.engine_below_made_good_kn + margin)


@njit(cache=True)
def driven_on(driven_h: float, engine: float, hours: float) -> float:
    """Return how long the engine has driven without a break, some hours on with it running (1) or not (0) [h]."""
    return driven_h + hours if engine > 0.0 else 0.0


@njit(cache=True)
def _leeway(vessel: Vessel, air: Air, motion: Motion) -> float:
    _, angle = felt_wind(air, motion)
    return -motion.tack * read_table(vessel.leeway_angle_deg, vessel.leeway_size_deg, abs(angle))


@njit(cache=True)
def _under_sail(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    heading: float, leeway: float, through: float, course: float, ground: float, tack: float
) -> Motion:
    return Motion(heading, leeway, through, course, ground, ground, tack, 0.0, 0.0, 0.0, UNDER_WAY)


@njit(cache=True)
def _hold_course(vessel: Vessel, air: Air, course: float, fixed: float, tack: float) -> Motion:
    """Return the motion under sail that holds a course over ground, at a fixed speed or (NaN) the polar's.

    Nearer the wind than her best angle she lies in irons: no way through the water, and the course is not held.
    """
    over_ground = course % 360.0
    motion = _under_sail(course, 0.0, 0.0, over_ground, 0.0, tack)
    for _ in range(ROUNDS):
        angle = _wrap(air.from_deg - motion.heading_deg)
        now = held_tack(tack, angle, vessel.hysteresis_deg)
        through = vessel.pace * (sailing_speed(vessel, abs(angle), air.wind_kn) if np.isnan(fixed) else fixed)
        tried = _under_sail(motion.heading_deg, motion.leeway_deg, through, over_ground, 0.0, now)
        leeway = _leeway(vessel, air, tried)
        through_deg, ground = course_to_steer(course, through, air.set_deg, air.drift_kn)
        moved = abs(_wrap(through_deg - leeway - motion.heading_deg)) + abs(leeway - motion.leeway_deg)
        motion = _under_sail((through_deg - leeway) % 360.0, leeway, through, over_ground, ground, now)
        if moved < CONVERGED_DEG:
            break
    if in_irons(vessel, abs(_wrap(air.from_deg - motion.heading_deg)), air.wind_kn):
        return _under_sail(motion.heading_deg, 0.0, 0.0, over_ground, np.nan, motion.tack)
    return motion


@njit(cache=True)
def in_irons(vessel: Vessel, angle_deg: float, wind_kn: float) -> bool:
    """Return whether a true wind angle [degree] is under her best one upwind, in a wind [kn] that she sails in."""
    best = read_table(vessel.polar.wind_kn, vessel.polar.best_upwind_deg, wind_kn)
    return bool(angle_deg < best - NO_GO_DEG and sailing_speed(vessel, best, wind_kn) > 0.0)


@njit(cache=True)
def _motor(vessel: Vessel, air: Air, course: float, through: float, tack: float) -> Motion:
    """Return the motion under engine, without leeway, that holds a course over ground."""
    heading, ground = course_to_steer(course, through, air.set_deg, air.drift_kn)
    now = held_tack(tack, _wrap(air.from_deg - heading), vessel.hysteresis_deg)
    return Motion(heading % 360.0, 0.0, through, course % 360.0, ground, ground, now, 1.0, 0.0, 0.0, UNDER_WAY)


@njit(cache=True)
def _on_board(vessel: Vessel, air: Air, angle: float, fixed: float, tack: float) -> Motion:
    """Return the motion at a true wind angle on a tack, at a fixed speed or (NaN) the polar's."""
    through = vessel.pace * (sailing_speed(vessel, angle, air.wind_kn) if np.isnan(fixed) else fixed)
    motion = _under_sail((air.from_deg - tack * angle) % 360.0, 0.0, through, 0.0, 0.0, tack)
    for _ in range(ROUNDS):
        leeway = _leeway(vessel, air, motion)
        moved = abs(leeway - motion.leeway_deg)
        motion = _under_sail(motion.heading_deg, leeway, through, 0.0, 0.0, tack)
        if moved < CONVERGED_DEG:
            break
    through_deg = motion.heading_deg + motion.leeway_deg
    course, ground = course_made_good(through_deg, through, air.set_deg, air.drift_kn)
    return _under_sail(motion.heading_deg, motion.leeway_deg, through, course, ground, tack)


@njit(cache=True)
def _toward(motion: Motion, mark_deg: float) -> float:
    return float(motion.ground_kn * np.cos(np.radians(motion.course_deg - mark_deg)))


@njit(cache=True)
def _together(left: Motion, right: Motion, mark_deg: float) -> float:
    """Return what two boards either side of the mark make good toward it, sailed so long that they end before it."""
    to_left = -left.ground_kn * np.sin(np.radians(left.course_deg - mark_deg))
    to_right = right.ground_kn * np.sin(np.radians(right.course_deg - mark_deg))
    ahead = _toward(left, mark_deg) * to_right + _toward(right, mark_deg) * to_left
    return float(ahead / (to_left + to_right))


@njit(cache=True)
def _pick_side(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    vessel: Vessel, air: Air, memory: Memory, off_nm: float, left: Motion, right: Motion, mark_deg: float
) -> float:
    """Return the board to be on: the first makes better ground or, both alike, keeps the tack; kept to its end."""
    gain = _toward(right, mark_deg) - _toward(left, mark_deg)
    better = 0.0
    if abs(gain) > SAME_GROUND_KN:
        better = 1.0 if gain > 0.0 else -1.0
    side = memory.side
    if side == 0.0:
        side = better if better != 0.0 else right.tack * (1.0 if memory.tack == 0.0 else memory.tack)
        return -side if side * off_nm >= vessel.board_nm else side
    turn = side * off_nm >= vessel.board_nm or memory.board_h >= vessel.board_h - SAME_TIME_H
    shifted = abs(_wrap(air.from_deg - memory.board_from_deg)) >= vessel.shift_deg
    turn = turn or (shifted and better == -side and -side * off_nm < vessel.board_nm)
    return -side if turn else side


@njit(cache=True)
def _boards(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    vessel: Vessel, air: Air, memory: Memory, off_nm: float, mark_deg: float, fixed: float, left_tack: float
) -> Motion:
    """Return the motion on a board, its side 0 when none is needed; left is starboard tack (+1) only to windward."""
    best = vessel.polar.best_upwind_deg if left_tack > 0.0 else vessel.polar.best_downwind_deg
    angle = read_table(vessel.polar.wind_kn, best, air.wind_kn)
    left = _on_board(vessel, air, angle, fixed, left_tack)
    right = _on_board(vessel, air, angle, fixed, -left_tack)
    if not lies_between(mark_deg, left.course_deg, right.course_deg):
        return left
    side = _pick_side(vessel, air, memory, off_nm, left, right, mark_deg)
    on, other = (left, right) if side < 0.0 else (right, left)
    return Motion(
        on.heading_deg,
        on.leeway_deg,
        on.through_kn,
        on.course_deg,
        on.ground_kn,
        _together(left, right, mark_deg),
        on.tack,
        0.0,
        side,
        other.course_deg,
        UNDER_WAY,
    )
