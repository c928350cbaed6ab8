"""The shadows on the panels at one moment, as outlines to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Rig
from planner.physics.shade.occluders import cut_pieces, cut_tube, throw_tube
from planner.simulation.harvest import deck


@dataclass(frozen=True, eq=False)
class ShadowOutline:
    """One shadow on one panel.

    Attributes
    ----------
    panel : int
        Index of the panel in boat order.
    corners_m : array (corner, 2)
        Along the panel's length and width from its middle, within the panel [m].
    passed : float
        Part of the light that passes [0..1].
    surface : int
        What throws it: surfaces, then tubes, in the order of ``deck``; outlines of one count once where they overlap.
    """

    panel: int
    corners_m: Floats
    passed: float
    surface: int


def shadow_outlines(sun: Floats, trim: deck.Trim, *, rig: Rig, panels: Sequence[Panel]) -> list[ShadowOutline]:
    """Return the shadows that the kernel fills, as outlines clipped to the panels.

    Parameters
    ----------
    sun : array (3,)
        Unit vector toward the sun in the boat frame [1].
    trim : Trim
        How the sails stand, one setting.
    rig : Rig
        Spars, sails, deck gear.
    panels : sequence of Panel
        In boat order; none is shaded that has the sun behind it.
    """
    surfaces, tubes = deck.surfaces_of(rig, panels, trim), deck.tubes_of(rig, panels, trim)
    pieces = surfaces.piece_first.size - 1
    piece_surface = np.repeat(np.arange(surfaces.surface_first.size - 1), np.diff(surfaces.surface_first))
    cut, box, axis = np.empty((3, 2 * surfaces.corner_m.shape[1])), np.empty((7, pieces)), np.empty(6)
    outlines: list[ShadowOutline] = []
    for index, (panel, axes) in enumerate(zip(panels, deck.axes_of(panels), strict=True)):
        light = axes @ sun
        if light[2] <= 0.0:
            continue
        half = np.array([panel.length_m / 2.0, panel.width_m / 2.0])
        frame = (np.array(panel.centre_m, dtype=np.float64), axes)
        thrown: list[tuple[Floats, float, int]] = []
        cut_pieces(surfaces, (0, index), frame, cut, box)
        for piece in range(pieces):
            start, corners = 2 * surfaces.piece_first[piece], int(box[6, piece])
            x, y, height = cut[:, start : start + corners]
            outline = np.stack([x - height * light[0] / light[2], y - height * light[1] / light[2]], axis=1)
            surface = int(piece_surface[piece])
            thrown.append((outline, float(surfaces.passed[0, surface]), surface))
        for tube in np.flatnonzero(tubes.shades[:, index]):
            if not cut_tube(tubes.end_m[0, tube], frame, axis):
                continue
            ends = (axis[0], axis[1], axis[2], axis[3], axis[4], axis[5])
            sunward = (light[0], light[1], light[2])
            band = throw_tube(ends, tubes.radius_m[0, tube], sunward, (half[0], half[1], 0.0))
            x0, y0, x1, y1, px, py, passed = band
            outline = np.array([[x0 + px, y0 + py], [x1 + px, y1 + py], [x1 - px, y1 - py], [x0 - px, y0 - py]])
            thrown.append((outline, float(passed), surfaces.surface_first.size - 1 + int(tube)))
        for outline, passed, surface in thrown:
            inside = _clipped(outline, half)
            if passed < 1.0 and len(inside) >= 3:
                outlines.append(ShadowOutline(index, inside, passed, surface))
    return outlines


def _clipped(outline: Floats, half: Floats) -> Floats:
    """Return the part of a convex outline within a rectangle about the origin (Sutherland and Hodgman)."""
    for axis in (0, 1):
        for sign in (1.0, -1.0):
            beyond = sign * outline[:, axis] - half[axis]
            kept: list[Floats] = []
            for k in range(len(outline)):
                if (beyond[k - 1] > 0.0) != (beyond[k] > 0.0):
                    part = beyond[k - 1] / (beyond[k - 1] - beyond[k])
                    kept.append(outline[k - 1] + part * (outline[k] - outline[k - 1]))
                if beyond[k] <= 0.0:
                    kept.append(outline[k])
            outline = np.array(kept).reshape(-1, 2)
    return outline
