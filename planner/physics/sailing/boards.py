"""Boards: what to do with a mark that lies closer to the wind, or deeper, than the boat sails well."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import njit

LAYS_DEG: Final = 1e-6  # degree: a mark this near to a board's course is laid by it


@njit(cache=True)
def course_made_good(through_deg: Any, through_kn: Any, set_deg: Any, drift_kn: Any) -> tuple[Any, Any]:
    """Return course and speed over ground of a boat in moving water.

    Parameters
    ----------
    through_deg, through_kn : float or array (...)
        Course [degree] and speed [kn] through the water.
    set_deg, drift_kn : float or array (...)
        Where the current sets [degree] and how fast [kn].

    Returns
    -------
    course_deg, speed_kn : float or array (...)
        Over ground; course in [0, 360) [degree, kn].
    """
    through, toward = np.radians(through_deg), np.radians(set_deg)
    east = through_kn * np.sin(through) + drift_kn * np.sin(toward)
    north = through_kn * np.cos(through) + drift_kn * np.cos(toward)
    return np.degrees(np.arctan2(east, north)) % 360.0, np.hypot(east, north)


@njit(cache=True)
def course_to_steer(course_deg: float, through_kn: float, set_deg: float, drift_kn: float) -> tuple[float, float]:
    """Return the course through the water that holds a course over ground, and the speed made good along it.

    Where the current's part across the course exceeds the boat's speed, the boat heads square across the course and
    the speed returned is NaN.

    Parameters
    ----------
    course_deg : float
        Wanted over ground [degree].
    through_kn : float
        Speed through the water [kn].
    set_deg, drift_kn : float
        Where the current sets [degree] and how fast [kn].

    Returns
    -------
    through_deg : float
        Course through the water [degree].
    ground_kn : float
        Speed over ground, negative when the current carries her back, NaN when the course cannot be held [kn].
    """
    angle = np.radians(set_deg - course_deg)
    across = drift_kn * np.sin(angle)
    if abs(across) > through_kn:
        return course_deg - 90.0 * np.sign(across), np.nan
    crab = -np.arcsin(across / through_kn) if through_kn > 0.0 else 0.0
    return course_deg + np.degrees(crab), through_kn * np.cos(crab) + drift_kn * np.cos(angle)


@njit(cache=True)
def lies_between(mark_deg: float, left_deg: float, right_deg: float) -> bool:
    """Return whether the mark bears inside the sector that the boat can only cross in boards.

    Parameters
    ----------
    mark_deg : float
        Bearing of the mark [degree].
    left_deg, right_deg : float
        Courses over ground of the boards to the left and to the right of the sector [degree].

    Returns
    -------
    bool
        False also when the boards open by 180 degrees or more, as in a foul current that no board can stem.
    """
    to_right_of_left = (mark_deg - left_deg) % 360.0
    to_left_of_right = (right_deg - mark_deg) % 360.0
    return to_right_of_left > LAYS_DEG and to_left_of_right > LAYS_DEG and to_right_of_left + to_left_of_right < 180.0


@njit(cache=True)
def hours_to_layline(
    to_go_nm: float, off_nm: float, advance_kn: float, sideways_kn: float, other_board_deg: float
) -> float:
    """Return how long until the other board lays the mark.

    Parameters
    ----------
    to_go_nm, off_nm : float
        The mark's distance ahead along the leg; the boat's distance to the right of the leg [nm].
    advance_kn, sideways_kn : float
        Speed over ground along the leg and to its right on this board [kn].
    other_board_deg : float
        Course over ground of the other board, clockwise from the leg [degree].

    Returns
    -------
    float
        Not negative [h]; infinite when this board never brings it about.
    """
    other = np.radians(other_board_deg)
    closing = np.sin(other) * advance_kn - np.cos(other) * sideways_kn
    if closing == 0.0:
        return np.inf
    hours = (np.cos(other) * off_nm + np.sin(other) * to_go_nm) / closing
    return float(max(hours, 0.0))
