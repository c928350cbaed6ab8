"""Values of a forecast grid along a track: linear in time and, on each side, bilinear in space."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Floats, Ints
from planner.physics.frames import locate

Cells = tuple[Ints, Floats]


class Nodes(NamedTuple):
    """What stands on each node of a time axis for each member: a time of some member's field.

    Attributes
    ----------
    member : array of int (member, k)
        Whose field.
    lower : array of int (member, k)
        The field's time at or before.
    part : array (member, k)
        How far on towards the next [0..1].
    """

    member: Ints
    lower: Ints
    part: Floats


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


def along(field: npt.NDArray[np.floating], nodes: Nodes, time: Cells, lat: Cells, lon: Cells) -> Floats:
    """Return a field of each member at each step's time and place.

    Parameters
    ----------
    field : array (member, time, lat, lon)
        On the grid, in single or double precision; computed in double [any].
    nodes : Nodes
        What stands on the time axis that ``time`` lies on.
    time, lat, lon : tuple of array (n,)
        Cells and fractions from ``cells``.

    Returns
    -------
    array (member, n)
        In the field's units.
    """
    return _along(np.ascontiguousarray(field), nodes, time, lat, lon)


@njit(cache=True)
def _along(field: npt.NDArray[np.floating], nodes: Nodes, time: Cells, lat: Cells, lon: Cells) -> Floats:
    (t_index, t_part), last = time, nodes.member.shape[1] - 1
    members = nodes.member.shape[0]
    result = np.empty((members, t_index.size))
    for m in range(members):
        for i in range(t_index.size):
            place = (lat[0][i], lat[1][i], lon[0][i], lon[1][i])
            before = _at_node(field, nodes, m, t_index[i], place)
            after = _at_node(field, nodes, m, min(t_index[i] + 1, last), place)
            result[m, i] = (1.0 - t_part[i]) * before + t_part[i] * after
    return result


@njit(cache=True)
def _at_node(
    field: npt.NDArray[np.floating], nodes: Nodes, member: int, node: int, place: tuple[int, float, int, float]
) -> float:
    """Return what stands on a node of the time axis for a member, at a place."""
    donor, time, part = nodes.member[member, node], nodes.lower[member, node], nodes.part[member, node]
    value = _bilinear(field[donor, time], place)
    if part > 0.0:
        value = (1.0 - part) * value + part * _bilinear(field[donor, time + 1], place)
    return float(value)


@njit(cache=True)
def _bilinear(plane: npt.NDArray[np.floating], place: tuple[int, float, int, float]) -> float:
    y0, fy, x0, fx = place
    y1, x1 = min(y0 + 1, plane.shape[0] - 1), min(x0 + 1, plane.shape[1] - 1)
    south = (1.0 - fx) * plane[y0, x0] + fx * plane[y0, x1]
    north = (1.0 - fx) * plane[y1, x0] + fx * plane[y1, x1]
    return float((1.0 - fy) * south + fy * north)
