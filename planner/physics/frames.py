"""Rotations between boat and earth, the wind triangle's vectors, and table look-up: what every physics module shares.

Boat frame: x forward, y to port, z up. Earth frame: east, north, up. Bearings clockwise from north.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Floats


def bearing_vector(bearing_deg: npt.ArrayLike, elevation_deg: npt.ArrayLike = 0.0) -> Floats:
    """Return the unit vector toward a bearing and elevation.

    Parameters
    ----------
    bearing_deg, elevation_deg : array_like (...)
        Clockwise from north, above the horizon [degree].

    Returns
    -------
    array (..., 3)
        East, north, up [1].
    """
    bearing, elevation = np.broadcast_arrays(np.radians(bearing_deg), np.radians(elevation_deg))
    level = np.cos(elevation)
    return np.stack([np.sin(bearing) * level, np.cos(bearing) * level, np.sin(elevation)], axis=-1)


def boat_to_earth(heading_deg: npt.ArrayLike, heel_deg: npt.ArrayLike, pitch_deg: npt.ArrayLike) -> Floats:
    """Return the matrix that turns boat-frame vectors into earth-frame ones: roll, then pitch, then heading.

    Parameters
    ----------
    heading_deg, heel_deg, pitch_deg : array_like (...)
        Heading true; heel positive starboard side down; pitch positive bow up [degree].

    Returns
    -------
    array (..., 3, 3)
        Columns are the boat's x, y and z axes in east, north, up [1].
    """
    heading, heel, pitch = np.broadcast_arrays(np.radians(heading_deg), np.radians(heel_deg), np.radians(pitch_deg))
    sin_head, cos_head = np.sin(heading), np.cos(heading)
    sin_heel, cos_heel = np.sin(heel), np.cos(heel)
    sin_pitch, cos_pitch = np.sin(pitch), np.cos(pitch)
    ahead = np.stack([sin_head, cos_head, np.zeros_like(heading)], axis=-1)
    port = np.stack([-cos_head, sin_head, np.zeros_like(heading)], axis=-1)
    up = np.broadcast_to(np.array([0.0, 0.0, 1.0]), ahead.shape)
    x_axis = ahead * cos_pitch[..., None] + up * sin_pitch[..., None]
    lifted = up * cos_pitch[..., None] - ahead * sin_pitch[..., None]
    y_axis = port * cos_heel[..., None] + lifted * sin_heel[..., None]
    z_axis = lifted * cos_heel[..., None] - port * sin_heel[..., None]
    return np.stack([x_axis, y_axis, z_axis], axis=-1)


def earth_to_boat(
    vector: Floats, heading_deg: npt.ArrayLike, heel_deg: npt.ArrayLike, pitch_deg: npt.ArrayLike
) -> Floats:
    """Return earth-frame vectors in the boat frame.

    Parameters
    ----------
    vector : array (..., 3)
        East, north, up [any].
    heading_deg, heel_deg, pitch_deg : array_like (...)
        As in ``boat_to_earth`` [degree].

    Returns
    -------
    array (..., 3)
        Forward, to port, up, in the units of ``vector``.
    """
    result: Floats = np.einsum("...ij,...i->...j", boat_to_earth(heading_deg, heel_deg, pitch_deg), vector)
    return result


def wrap_180(angle_deg: npt.ArrayLike) -> Floats:
    """Return the angle [degree] brought into [-180, 180)."""
    return np.asarray((np.asarray(angle_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0, dtype=np.float64)


@njit(cache=True)
def cell_of(place: float, cells: int) -> int:
    """Return the cell of an even grid that holds a place on it; whatever the place is, the cell is one of the grid's.

    Parameters
    ----------
    place : float
        In cells from the grid's beginning [1]; below it, or NaN, gives the first cell, beyond its end the last.
    cells : int
        How many the grid has, at least 1 [1].

    Returns
    -------
    int
        0 to ``cells - 1``.
    """
    if not place > 0.0:
        return 0
    return int(place) if place < cells else cells - 1


@njit(cache=True)
def locate(axis: Floats, value: float) -> tuple[int, float]:
    """Return the cell of a rising axis that holds a value, and how far across it lies; held at both ends.

    A value that is not a number lies at no part of the first cell, so that what is read there is not a number either.

    Parameters
    ----------
    axis : array (n,)
        Rising, n >= 1 [any].
    value : float
        In the axis's units.

    Returns
    -------
    index : int
        Lower node, at most n - 2 (0 when n is 1).
    fraction : float
        0 at the lower node, 1 at the next [0..1]; NaN for a value that is NaN, unless n is 1.
    """
    last = axis.size - 1
    if last == 0 or value <= axis[0]:
        return 0, 0.0
    if value >= axis[last]:
        return last - 1, 1.0
    if np.isnan(value):
        return 0, np.nan
    index = min(max(int(np.searchsorted(axis, value, side="right")) - 1, 0), last - 1)
    return index, float(value - axis[index]) / (axis[index + 1] - axis[index])
