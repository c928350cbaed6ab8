"""Plain reading of tables and grids, and turning of angles: what every part of the reference model leans on."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence

from scipy.optimize import brentq


def wrap(angle_deg: float) -> float:
    """An angle brought to [-180, 180) degrees."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def bracket(nodes: Sequence[float], at: float) -> tuple[int, float]:
    """Index of the node below ``at`` and the part of the way to the next one, held at both ends."""
    if at <= nodes[0] or len(nodes) == 1:
        return 0, 0.0
    if at >= nodes[-1]:
        return len(nodes) - 2, 1.0
    below = bisect_right(nodes, at) - 1
    return below, (at - nodes[below]) / (nodes[below + 1] - nodes[below])


def interp(nodes: Sequence[float], values: Sequence[float], at: float) -> float:
    """Read a table linearly between its rows and hold it beyond its ends."""
    if len(nodes) == 1:
        return values[0]
    below, part = bracket(nodes, at)
    return values[below] * (1.0 - part) + values[below + 1] * part


def trilinear(cube, axes: Sequence[Sequence[float]], at: Sequence[float]) -> float:
    """Read a field on three axes linearly along each; outside it is held."""
    corners = [bracket(axis, where) for axis, where in zip(axes, at, strict=True)]
    total = 0.0
    for corner in range(8):
        index, weight = [], 1.0
        for bit, (axis, (below, part)) in enumerate(zip(axes, corners, strict=True)):
            upper = corner >> bit & 1
            weight *= part if upper else 1.0 - part
            index.append(min(below + upper, len(axis) - 1))
        if weight > 0.0:
            total += weight * float(cube[tuple(index)])
    return total


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a continuous function changes sign between ``low`` and ``high``; the nearer end where it does not."""
    at_low, at_high = function(low), function(high)
    if at_low * at_high >= 0.0:
        return low if abs(at_low) <= abs(at_high) else high
    return brentq(function, low, high, xtol=1e-15, rtol=1e-15, maxiter=300)
