"""The boat file's rig and panels as the surfaces, tubes and sample points that the shade kernel reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints
from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Rig
from planner.physics import shade
from planner.physics.deck import lattice, rig

FORESTAY_RADIUS_M = 0.02  # m; wire and the furler's foil (recalled)
ROLLED_SAIL_RADIUS_M = 0.03  # m; what the headsail adds rolled up whole (recalled)
CARRIED_M = 0.10  # m; a panel over canvas or arch and no lower than this below it lies on it


@dataclass(frozen=True, eq=False)
class Trim:
    """How sails stand, one value a setting.

    Attributes
    ----------
    boom_angle_deg, headsail_angle_deg : array (setting,)
        From the centreline, positive to port [degree].
    hoist_fraction, set_fraction : array (setting,)
        Parts of the mainsail's luff and of the headsail set [0..1].
    tack : array (setting,)
        +1 starboard tack; decides the side on which a sail sheeted amidships twists.
    """

    boom_angle_deg: Floats
    headsail_angle_deg: Floats
    hoist_fraction: Floats
    set_fraction: Floats
    tack: Floats

    def take(self, steps: npt.NDArray[np.int64]) -> Trim:
        """Return the settings at the given indices."""
        return Trim(
            self.boom_angle_deg[steps],
            self.headsail_angle_deg[steps],
            self.hoist_fraction[steps],
            self.set_fraction[steps],
            self.tack[steps],
        )


def axes_of(panels: Sequence[Panel]) -> Floats:
    """Return the axes of each panel.

    Parameters
    ----------
    panels : sequence of Panel
        In boat order.

    Returns
    -------
    array (panel, 3, 3)
        Rows: along the length, along the width, out of the face [1].
    """
    return np.stack([lattice.panel_axes(panel.tilt_deg, panel.tilt_toward_deg) for panel in panels])


def outlines_of(panels: Sequence[Panel]) -> Floats:
    """Return the corners of each panel in order round it.

    Parameters
    ----------
    panels : sequence of Panel
        In boat order.

    Returns
    -------
    array (panel, 4, 3)
        In the boat frame [m].
    """
    signs = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
    half = np.array([[panel.length_m / 2.0, panel.width_m / 2.0] for panel in panels])
    centre = np.array([panel.centre_m for panel in panels])
    offset = np.einsum("pkc,pcx->pkx", signs * half[:, None, :], axes_of(panels)[:, :2])
    return np.asarray(centre[:, None, :] + offset, dtype=np.float64)


def cell_samples(panels: Sequence[Panel], places: Sequence[Ints], *, points: int) -> shade.Samples:
    """Return the planes of all panels and points spread over each cell.

    Parameters
    ----------
    panels : sequence of Panel
        In boat order.
    places : sequence of int array (cell, 2)
        Where each panel's cells lie, as ``layout.cell_places`` has them.
    points : int
        Points wanted on each cell.
    """
    return _samples(
        panels,
        [
            lattice.sample_points(panel.length_m, panel.width_m, points=points, places=cells)
            for panel, cells in zip(panels, places, strict=True)
        ],
    )


def middle_samples(panels: Sequence[Panel], places: Sequence[Ints]) -> shade.Samples:
    """Return the planes of all panels and the middle of each cell; parameters as for ``cell_samples``."""
    return _samples(
        panels,
        [
            lattice.middle_points(panel.length_m, panel.width_m, places=cells)
            for panel, cells in zip(panels, places, strict=True)
        ],
    )


def _samples(panels: Sequence[Panel], chosen: Sequence[lattice.Points]) -> shade.Samples:
    """Join planes and points of all panels."""
    rows = np.array([int(points_here.row.max()) + 1 for points_here in chosen])
    patch_first = np.cumsum([0, *(int(points_here.patch.max()) + 1 for points_here in chosen)])
    patch_word = np.zeros((int(patch_first[-1]), int(rows.max())), dtype=np.uint64)
    for index, points_here in enumerate(chosen):
        bits = np.left_shift(np.uint64(1), points_here.place.astype(np.uint64))
        np.bitwise_or.at(patch_word, (patch_first[index] + points_here.patch, points_here.row), bits)
    area = np.array([panel.length_m * panel.width_m for panel in panels])
    return shade.Samples(
        centre_m=np.array([panel.centre_m for panel in panels], dtype=np.float64),
        axes=axes_of(panels),
        half_m=np.array([[panel.length_m / 2.0, panel.width_m / 2.0] for panel in panels]),
        pitch_m=np.sqrt(area / np.array([points_here.row.size for points_here in chosen])),
        to_row=np.stack([points_here.to_row for points_here in chosen]),
        rows=rows.astype(np.int64),
        patch_first=patch_first.astype(np.int64),
        patch_word=patch_word,
    )


def glowing(boat_rig: Rig) -> Rig:
    """Return the rig as the sky's light meets it: what sailcloth passes, and what it throws back of half a sky.

    A sail stands nearly upright, so half of the sky shines on the side that a panel sees. The sun on that side is
    left out, and so is canvas, which is dark.
    """
    passed = boat_rig.sail_transmission
    return boat_rig.model_copy(update={"sail_transmission": passed + 0.5 * boat_rig.sail_reflection * (1.0 - passed)})


def surfaces_of(boat_rig: Rig, panels: Sequence[Panel], trim: Trim) -> shade.Surfaces:
    """Return mainsail, headsail, deck gear, free polygons, radomes and panels as surfaces, in that order.

    Parameters
    ----------
    boat_rig : Rig
        From the boat file.
    panels : sequence of Panel
        In boat order; each shades the others.
    trim : Trim
        How the sails stand.
    """
    settings = trim.boom_angle_deg.size
    everywhere = np.ones(len(panels), dtype=np.bool_)
    main = rig.mainsail(
        p_m=boat_rig.p_m,
        e_m=boat_rig.e_m,
        boom_height_m=boat_rig.boom_height_m,
        boom_angle_deg=trim.boom_angle_deg,
        hoist_fraction=trim.hoist_fraction,
        side=_side(trim.boom_angle_deg, trim.tack),
    )
    head = rig.headsail(
        i_m=boat_rig.i_m,
        j_m=boat_rig.j_m,
        overlap=boat_rig.headsail_overlap,
        tack_height_m=boat_rig.headsail_tack_height_m,
        headsail_angle_deg=trim.headsail_angle_deg,
        set_fraction=trim.set_fraction,
        side=_side(trim.headsail_angle_deg, trim.tack),
    )
    sailcloth = boat_rig.sail_transmission
    groups: list[tuple[Floats, Floats, npt.NDArray[np.bool_]]] = [
        (main, np.where(trim.hoist_fraction > 0.0, sailcloth, 1.0), everywhere),
        (head, np.where(trim.set_fraction > 0.0, sailcloth, 1.0), everywhere),
    ]
    hood, bimini = boat_rig.sprayhood, boat_rig.bimini
    if hood is not None:
        pieces = rig.sprayhood(
            front_x_m=hood.front_x_m, aft_x_m=hood.aft_x_m, width_m=hood.width_m, height_m=hood.height_m
        )
        groups.append((pieces[None], np.full(settings, hood.transmission), ~_over(panels, pieces[1])))
    if bimini is not None:
        pieces = rig.awning(
            front_x_m=bimini.front_x_m, aft_x_m=bimini.aft_x_m, width_m=bimini.width_m, height_m=bimini.height_m
        )
        groups.append((pieces[None], np.full(settings, bimini.transmission), ~_over(panels, pieces[0])))
    for polygon in boat_rig.polygons:
        corners = np.array(polygon.corners_m, dtype=np.float64)
        groups.append((corners[None, None], np.full(settings, polygon.transmission), everywhere))
    for radome in boat_rig.radomes:
        pieces = rig.drum(centre_m=radome.centre_m, diameter_m=radome.diameter_m, height_m=radome.height_m)
        groups.append((pieces[None], np.zeros(settings), everywhere))
    for index, outline in enumerate(outlines_of(panels)):
        groups.append((outline[None, None], np.zeros(settings), np.arange(len(panels)) != index))
    return _packed(groups, settings)


def tubes_of(boat_rig: Rig, panels: Sequence[Panel], trim: Trim) -> shade.Tubes:
    """Return mast, boom, forestay, arch and free tubes, in that order.

    Parameters
    ----------
    boat_rig : Rig
        From the boat file.
    panels : sequence of Panel
        In boat order.
    trim : Trim
        How the boom and the headsail stand.
    """
    settings = trim.boom_angle_deg.size
    everywhere = np.ones(len(panels), dtype=np.bool_)
    masthead = max(boat_rig.i_m, boat_rig.boom_height_m + boat_rig.p_m)
    boom = np.empty((settings, 2, 3))
    boom[:, 0] = [0.0, 0.0, boat_rig.boom_height_m]
    boom[:, 1] = rig.boom_end(
        e_m=boat_rig.e_m, boom_height_m=boat_rig.boom_height_m, boom_angle_deg=trim.boom_angle_deg
    )
    mast = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, masthead]])
    stay = np.array([[boat_rig.j_m, 0.0, boat_rig.headsail_tack_height_m], [0.0, 0.0, boat_rig.i_m]])
    stowed = boat_rig.stowed_sail_radius_m * (1.0 - trim.hoist_fraction)
    rolled = FORESTAY_RADIUS_M + ROLLED_SAIL_RADIUS_M * (1.0 - trim.set_fraction)
    tubes: list[tuple[Floats, Floats, npt.NDArray[np.bool_]]] = [
        (mast, np.full(settings, boat_rig.mast_radius_m), everywhere),
        (boom, boat_rig.boom_radius_m + stowed, everywhere),
        (stay, rolled, everywhere),
    ]
    if boat_rig.arch is not None:
        arch = boat_rig.arch
        carried = np.array([_on_arch(panel, arch.x_m, arch.width_m, arch.height_m) for panel in panels])
        axes = rig.arch(x_m=arch.x_m, width_m=arch.width_m, height_m=arch.height_m)
        tubes += [(axis, np.full(settings, arch.tube_radius_m), ~carried) for axis in axes]
    for tube in boat_rig.tubes:
        ends = np.array([tube.from_m, tube.to_m], dtype=np.float64)
        tubes.append((ends, np.full(settings, tube.radius_m), everywhere))
    return shade.Tubes(
        end_m=np.stack([np.broadcast_to(ends, (settings, 2, 3)) for ends, _, _ in tubes], axis=1),
        radius_m=np.stack([radius for _, radius, _ in tubes], axis=1),
        shades=np.stack([shades for _, _, shades in tubes]),
    )


def _packed(groups: Sequence[tuple[Floats, Floats, npt.NDArray[np.bool_]]], settings: int) -> shade.Surfaces:
    """Join surfaces, each (setting or 1, piece, corner, 3), into flat tables."""
    corners = [
        np.broadcast_to(pieces.reshape(pieces.shape[0], -1, 3), (settings, pieces.shape[1] * pieces.shape[2], 3))
        for pieces, _, _ in groups
    ]
    sizes = np.concatenate([np.full(pieces.shape[1], pieces.shape[2]) for pieces, _, _ in groups])
    counts = np.array([pieces.shape[1] for pieces, _, _ in groups])
    return shade.Surfaces(
        corner_m=np.ascontiguousarray(np.concatenate(corners, axis=1)),
        piece_first=np.concatenate([[0], np.cumsum(sizes)]),
        surface_first=np.concatenate([[0], np.cumsum(counts)]),
        passed=np.ascontiguousarray(np.stack([passed for _, passed, _ in groups], axis=1)),
        shades=np.ascontiguousarray(np.stack([shades for _, _, shades in groups])),
    )


def _side(angle_deg: Floats, tack: Floats) -> Floats:
    """Return the side that a sail stands on: its angle's, or to leeward when sheeted amidships."""
    return np.where(angle_deg == 0.0, np.sign(tack), np.sign(angle_deg))


def _over(panels: Sequence[Panel], level_piece: Floats) -> npt.NDArray[np.bool_]:
    """Return which panels lie on a level rectangle: centre over it, no lower than ``CARRIED_M`` below."""
    low, high = level_piece.min(axis=0), level_piece.max(axis=0)
    return np.array(
        [
            low[0] <= panel.centre_m[0] <= high[0]
            and low[1] <= panel.centre_m[1] <= high[1]
            and panel.centre_m[2] >= high[2] - CARRIED_M
            for panel in panels
        ]
    )


def _on_arch(panel: Panel, x_m: float, width_m: float, height_m: float) -> bool:
    """Return whether an arch carries the panel: the crossbar passes under its length, within the arch's breadth."""
    x, y, z = panel.centre_m
    return abs(x - x_m) <= panel.length_m and abs(y) <= width_m / 2.0 and z >= height_m - CARRIED_M
