"""Pieces and tubes in a panel's own axes, cut off at its plane; and a tube's shadow as a band on it.

Compiled into the kernel: after a change here, clear the compiled cache beside ``kernel.py``.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.shade.scene import Surfaces

SUN_DISC_RAD = 0.0093  # rad; mean angular diameter of the sun, 32 arcminutes (recalled)
CLEARANCE_M = 1e-6  # m; what stands less than this above a panel's plane casts no shadow on it
END_ON = 1e-9  # 1; sine of the angle between tube and light below which the tube casts none
NOWHERE_M = 1e30  # m; where the box of a piece is put that cannot shade the panel

Vector = tuple[float, float, float]
Band = tuple[float, float, float, float, float, float, float]


@njit(cache=True, error_model="numpy")
def _to_panel(point: Floats, centre: Floats, axes: Floats) -> tuple[float, float, float]:
    """Return a point in the panel's own axes: along its length, along its width, above its plane."""
    dx, dy, dz = point[0] - centre[0], point[1] - centre[1], point[2] - centre[2]
    return (
        axes[0, 0] * dx + axes[0, 1] * dy + axes[0, 2] * dz,
        axes[1, 0] * dx + axes[1, 1] * dy + axes[1, 2] * dz,
        axes[2, 0] * dx + axes[2, 1] * dy + axes[2, 2] * dz,
    )


@njit(cache=True, error_model="numpy")
def cut_pieces(
    surfaces: Surfaces, which: tuple[int, int], frame: tuple[Floats, Floats], cut: Floats, box: Floats
) -> None:
    """Write every piece in a panel's axes, cut off at its plane, and the box about each.

    Parameters
    ----------
    surfaces : Surfaces
        All pieces.
    which : tuple of int
        Index of the rig's setting and of the panel.
    frame : tuple of array
        The panel's centre (3,) [m] and axes (3, 3) [1].
    cut : array (3, corner)
        Filled with x, y and height; piece p has room from twice its first corner on [m].
    box : array (7, piece)
        Filled with centre x, y, height, half extents in each, and corners; out of all reach where nothing is left
        above the plane, the surface is not set or it does not shade the panel.
    """
    setting, panel = which
    centre, axes = frame
    for surface in range(surfaces.surface_first.size - 1):
        present = surfaces.passed[setting, surface] < 1.0 and surfaces.shades[surface, panel]
        for piece in range(surfaces.surface_first[surface], surfaces.surface_first[surface + 1]):
            start, stop = surfaces.piece_first[piece], surfaces.piece_first[piece + 1]
            filled = 2 * start
            if present:
                x0, y0, h0 = _to_panel(surfaces.corner_m[setting, stop - 1], centre, axes)
                for k in range(start, stop):
                    x1, y1, h1 = _to_panel(surfaces.corner_m[setting, k], centre, axes)
                    if (h0 > CLEARANCE_M) != (h1 > CLEARANCE_M):
                        part = (CLEARANCE_M - h0) / (h1 - h0)
                        cut[0, filled] = x0 + part * (x1 - x0)
                        cut[1, filled] = y0 + part * (y1 - y0)
                        cut[2, filled] = CLEARANCE_M
                        filled += 1
                    if h1 > CLEARANCE_M:
                        cut[0, filled], cut[1, filled], cut[2, filled] = x1, y1, h1
                        filled += 1
                    x0, y0, h0 = x1, y1, h1
            _bound(cut, 2 * start, filled, box, piece)


@njit(cache=True, error_model="numpy")
def _bound(cut: Floats, start: int, stop: int, box: Floats, piece: int) -> None:
    """Write the box about a piece's corners."""
    box[6, piece] = stop - start
    for k in range(3):
        low, high = np.inf, -np.inf
        for corner in range(start, stop):
            low, high = min(low, cut[k, corner]), max(high, cut[k, corner])
        if stop - start < 3:
            box[k, piece], box[k + 3, piece] = NOWHERE_M, 0.0
        else:
            box[k, piece], box[k + 3, piece] = 0.5 * (low + high), 0.5 * (high - low)


@njit(cache=True, error_model="numpy")
def cut_tube(end_m: Floats, frame: tuple[Floats, Floats], axis: Floats) -> bool:
    """Write a tube's axis in a panel's axes, cut off at its plane; return whether any is left.

    Parameters
    ----------
    end_m : array (2, 3)
        Ends of the axis [m].
    frame : tuple of array
        The panel's centre (3,) [m] and axes (3, 3) [1].
    axis : array (6,)
        Filled with x, y and height of both ends [m].
    """
    ax, ay, ah = _to_panel(end_m[0], frame[0], frame[1])
    bx, by, bh = _to_panel(end_m[1], frame[0], frame[1])
    if ah <= CLEARANCE_M and bh <= CLEARANCE_M:
        return False
    if ah <= CLEARANCE_M:
        part = (CLEARANCE_M - ah) / (bh - ah)
        ax, ay, ah = ax + part * (bx - ax), ay + part * (by - ay), CLEARANCE_M
    elif bh <= CLEARANCE_M:
        part = (CLEARANCE_M - bh) / (ah - bh)
        bx, by, bh = bx + part * (ax - bx), by + part * (ay - by), CLEARANCE_M
    axis[0], axis[1], axis[2] = ax, ay, ah
    axis[3], axis[4], axis[5] = bx, by, bh
    return True


@njit(cache=True, error_model="numpy")
def throw_tube(
    axis: tuple[float, float, float, float, float, float],
    radius: float,
    light: Vector,
    panel: Vector,
) -> Band:
    """Return a tube's shadow on a panel's plane as a band: axis, half its breadth, and the light it passes.

    The shadow is the band between the tube's two edges as the sun sees them. A tube that looks narrower than the
    sun's disc, or throws a band narrower than the points' pitch, is spread to that width with as much more light
    passed: the light taken is the same, there is no full shadow, and no point misses or doubles it.

    Parameters
    ----------
    axis : tuple of float
        From ``cut_tube``: x, y and height of both ends [m].
    radius : float
        Of the tube [m].
    light : tuple of float
        Unit vector toward the light in the panel's axes, its last part positive [1].
    panel : tuple of float
        Half length, half width and the points' pitch [m].

    Returns
    -------
    tuple of float
        x and y of both ends of the axis thrown on the plane, x and y from the axis to the band's edge [m], and the
        part of the light that passes: 1 where the band misses the panel, or the tube points at the light [0..1].
    """
    ax, ay, ah, bx, by, bh = axis
    sx, sy, sz = light
    half_x, half_y, pitch = panel
    gx, gy = sx / sz, sy / sz
    x0, y0 = ax - ah * gx, ay - ah * gy
    x1, y1 = bx - bh * gx, by - bh * gy
    qx, qy = x1 - x0, y1 - y0
    length_squared = qx * qx + qy * qy
    reach = half_x + half_y + 0.5 * pitch + (radius + 0.5 * SUN_DISC_RAD * max(ah, bh) / sz) / sz
    aside = x0 * qy - y0 * qx
    px, py, passed = 0.0, 0.0, 1.0
    if aside * aside <= reach * reach * length_squared:
        dx, dy, dh = bx - ax, by - ay, bh - ah
        nx, ny, nh = dy * sz - dh * sy, dh * sx - dx * sz, dx * sy - dy * sx
        sweep = sqrt(nx * nx + ny * ny + nh * nh)
        if sweep > END_ON * sqrt(dx * dx + dy * dy + dh * dh):
            to_start = ax * sx + ay * sy + ah * sz
            along = dx * sx + dy * sy + dh * sz
            nearest = -(ax * dx + ay * dy + ah * dh - to_start * along) / (sweep * sweep)
            distance = max(to_start + min(max(nearest, 0.0), 1.0) * along, 0.0)
            pitch_seen = pitch * sz * sqrt(length_squared) / sweep  # the pitch as wide as the sun sees it
            width = max(2.0 * radius, SUN_DISC_RAD * distance, pitch_seen)
            px = 0.5 * width * (nx - nh * gx) / sweep
            py = 0.5 * width * (ny - nh * gy) / sweep
            over_x = min(x0, x1) - abs(px) <= half_x and max(x0, x1) + abs(px) >= -half_x
            over_y = min(y0, y1) - abs(py) <= half_y and max(y0, y1) + abs(py) >= -half_y
            if over_x and over_y:
                passed = 1.0 - 2.0 * radius / width
    return x0, y0, x1, y1, px, py, passed
