"""The boat's speed table: reading it, and the angles of most ground made to windward and to leeward."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.frames import locate

SCANS_PER_DEGREE: Final = 10  # 1/degree: best angles are found to 0.1 degree


class PolarTable(NamedTuple):
    """Boat speed by wind, and the best angles that follow from it.

    Attributes
    ----------
    angle_deg, wind_kn : array (a,), (w,)
        Rows and columns, rising; the first row is dead to windward, the first column a calm [degree, kn].
    speed_kn : array (a, w)
        Boat speed [kn].
    best_upwind_deg, best_downwind_deg : array (w,)
        True wind angle of the best velocity made good at each wind speed [degree].
    """

    angle_deg: Floats
    wind_kn: Floats
    speed_kn: Floats
    best_upwind_deg: Floats
    best_downwind_deg: Floats


def polar_table(angle_deg: npt.ArrayLike, wind_kn: npt.ArrayLike, speed_kn: npt.ArrayLike) -> PolarTable:
    """Return a table made ready for reading: with a column for the calm, and its best angles.

    The best angles are looked for between the first and the last row, where the table speaks; a column without
    speed takes those of the next one that has some. Dead to windward there is no speed, so that what lies below the
    first row is read between the two.

    Parameters
    ----------
    angle_deg, wind_kn : array_like (a,), (w,)
        Rows and columns, rising [degree, kn].
    speed_kn : array_like (a, w)
        Boat speed [kn].

    Returns
    -------
    PolarTable
        Ready for ``boat_speed``.
    """
    angle, wind = np.asarray(angle_deg, dtype=np.float64), np.asarray(wind_kn, dtype=np.float64)
    speed = np.asarray(speed_kn, dtype=np.float64)
    if wind[0] > 0.0:
        wind = np.concatenate([[0.0], wind])
        speed = np.concatenate([np.zeros((angle.size, 1)), speed], axis=1)
    else:
        speed = np.where(wind > 0.0, speed, 0.0)
    first = np.ceil(angle[0] * SCANS_PER_DEGREE)
    scanned = np.arange(first, np.floor(angle[-1] * SCANS_PER_DEGREE) + 1.0) / SCANS_PER_DEGREE
    along_wind = np.cos(np.radians(scanned))
    upwind, downwind = np.full(wind.size, angle[0]), np.full(wind.size, angle[-1])
    for column in range(wind.size - 1, -1, -1):
        read = np.interp(scanned, angle, speed[:, column])
        if read.any():
            upwind[column] = scanned[np.argmax(read * along_wind)]
            downwind[column] = scanned[np.argmax(-read * along_wind)]
        elif column + 1 < wind.size:
            upwind[column], downwind[column] = upwind[column + 1], downwind[column + 1]
    if angle[0] > 0.0:
        angle, speed = np.append(0.0, angle), np.concatenate([np.zeros((1, wind.size)), speed])
    return PolarTable(angle, wind, np.ascontiguousarray(speed), upwind, downwind)


@njit(cache=True)
def boat_speed(table: PolarTable, angle_deg: float, wind_kn: float) -> float:
    """Return the table's speed, bilinear in angle and wind, held beyond its ends, nothing in a calm or to windward.

    Parameters
    ----------
    table : PolarTable
        From ``polar_table``.
    angle_deg, wind_kn : float
        Size of the true wind angle off the bow [degree], true wind over the water [kn].

    Returns
    -------
    float
        Boat speed [kn].
    """
    a, down = locate(table.angle_deg, angle_deg)
    w, across = locate(table.wind_kn, wind_kn)
    below, beside = min(a + 1, table.angle_deg.size - 1), min(w + 1, table.wind_kn.size - 1)
    left = table.speed_kn[a, w] * (1.0 - down) + table.speed_kn[below, w] * down
    right = table.speed_kn[a, beside] * (1.0 - down) + table.speed_kn[below, beside] * down
    return float(left * (1.0 - across) + right * across)


@njit(cache=True)
def read_table(axis: Floats, values: Floats, at: float) -> float:
    """Return a table's figure, linear between rows and held beyond the ends.

    Parameters
    ----------
    axis, values : array (n,)
        Rising axis and the figure at each of its nodes [any].
    at : float
        In the axis's units.

    Returns
    -------
    float
        In the units of ``values``.
    """
    index, part = locate(axis, at)
    if part == 0.0:
        return float(values[index])
    return float(values[index] * (1.0 - part) + values[index + 1] * part)
