"""Values of a forecast grid along a track: linear in time and, on each side, bilinear in space."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.physics.frames import locate

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Cells = tuple[Indices, Floats]


def cells(axis: Floats, values: Floats) -> Cells:
    """Return the cell of a rising axis that holds each value, and how far across it lies; held at both ends.

    Parameters
    ----------
    axis : array (k,)
        Rising [any].
    values : array (n,)
        In the axis's units.

    Returns
    -------
    index : array of int (n,)
        Lower node.
    fraction : array (n,)
        0 at the lower node, 1 at the next [0..1].
    """
    axis, values = np.ascontiguousarray(axis, dtype=np.float64), np.ascontiguousarray(values, dtype=np.float64)
    return _cells(axis, values)


@njit(cache=True)
def _cells(axis: Floats, values: Floats) -> Cells:
    index = np.empty(values.size, dtype=np.int64)
    fraction = np.empty(values.size)
    for i in range(values.size):
        index[i], fraction[i] = locate(axis, values[i])
    return index, fraction


def along(field: Floats, time: Cells, lat: Cells, lon: Cells) -> Floats:
    """Return a field of each member at each step's time and place.

    Parameters
    ----------
    field : array (member, time, lat, lon)
        On the grid [any].
    time, lat, lon : tuple of array (n,)
        Cells and fractions from ``cells``.

    Returns
    -------
    array (member, n)
        In the field's units.
    """
    return _along(np.ascontiguousarray(field, dtype=np.float64), time, lat, lon)


@njit(cache=True)
def _along(field: Floats, time: Cells, lat: Cells, lon: Cells) -> Floats:
    (t_index, t_part), (y_index, y_part), (x_index, x_part) = time, lat, lon
    members, times, rows, columns = field.shape
    result = np.empty((members, t_index.size))
    for m in range(members):
        for i in range(t_index.size):
            t0, y0, x0 = t_index[i], y_index[i], x_index[i]
            t1, y1, x1 = min(t0 + 1, times - 1), min(y0 + 1, rows - 1), min(x0 + 1, columns - 1)
            ft, fy, fx = t_part[i], y_part[i], x_part[i]
            before = (1.0 - fy) * ((1.0 - fx) * field[m, t0, y0, x0] + fx * field[m, t0, y0, x1]) + fy * (
                (1.0 - fx) * field[m, t0, y1, x0] + fx * field[m, t0, y1, x1]
            )
            after = (1.0 - fy) * ((1.0 - fx) * field[m, t1, y0, x0] + fx * field[m, t1, y0, x1]) + fy * (
                (1.0 - fx) * field[m, t1, y1, x0] + fx * field[m, t1, y1, x1]
            )
            result[m, i] = (1.0 - ft) * before + ft * after
    return result
