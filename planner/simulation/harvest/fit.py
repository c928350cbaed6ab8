"""Whether rig, deck gear and panels of a boat file fit together in space."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, suggest
from planner.domain.inputs.fields import Point
from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Bimini, Rig, ShapePolygon, ShapeRadome, ShapeTube, Sprayhood
from planner.simulation.harvest.deck import axes_of
from planner.simulation.harvest.stances import panel_set

SMALLEST_M2 = 0.01  # m2; a hand's area, below which a panel's size is a slip
SMALLEST_TUBE_M = 0.01  # m; ends of a tube nearer than this are a slip
NEAR_M = 0.005  # m; panels nearer than this touch
DRAWN_IN_M = 0.03  # m; by how much two panels' edges may overlap: frames, and a tape measure's error
FLAT_M = 0.02  # m; how far a polygon's corner may lie off its plane


def scene_faults(rig: Rig, panels: Sequence[Panel], where: str) -> list[Fault]:
    """Return what cannot be as the boat file has it: panels of no area, shapes that are none, spars through panels.

    Parameters
    ----------
    rig : Rig
        Spars, sails, deck gear.
    panels : sequence of Panel
        In boat order.
    where : str
        The boat file, for messages.
    """
    return [
        *_gear_faults(rig, where),
        *(fault for index, polygon in enumerate(rig.polygons) for fault in _polygon_faults(polygon, index, where)),
        *(fault for index, tube in enumerate(rig.tubes) for fault in _tube_faults(tube, index, where)),
        *(fault for index, panel in enumerate(panels) for fault in _panel_faults(panel, index, where)),
        *(fault for index, panel in enumerate(panels) for fault in _stance_faults(panel, index, where)),
        *(
            fault
            for index, panel in enumerate(panels)
            for part, stood in _as_it_may_stand(panel)
            for fault in _spar_faults(rig, stood, f"panel[{index}]{part}.centre_m", where)
        ),
    ]


def _gear_faults(rig: Rig, where: str) -> Iterator[Fault]:
    canvas: tuple[tuple[str, Sprayhood | Bimini | None], ...] = (("sprayhood", rig.sprayhood), ("bimini", rig.bimini))
    for name, gear in canvas:
        if gear is not None and gear.aft_x_m >= gear.front_x_m:
            yield Fault(
                where,
                f"rig.{name}.aft_x_m",
                f"{gear.aft_x_m:g} m is not aft of front_x_m = {gear.front_x_m:g} m.",
                "x runs forward from the mast, so the after edge has the smaller x; abaft the mast both are below 0.",
            )
    if rig.headsail_tack_height_m >= rig.i_m:
        yield Fault(
            where,
            "rig.headsail_tack_height_m",
            f"{rig.headsail_tack_height_m:g} m is not below the forestay's head, i_m = {rig.i_m:g} m.",
            "Give the tack's height above deck in metres.",
        )


def _polygon_faults(polygon: ShapePolygon, index: int, where: str) -> Iterator[Fault]:
    key = f"rig.polygons[{index}].corners_m"
    corners = np.array(polygon.corners_m)
    ahead = np.roll(corners, -1, axis=0) - corners
    turns = np.cross(ahead, np.roll(ahead, -1, axis=0))
    normal = np.cross(corners[:-1] - corners[0], corners[1:] - corners[0]).sum(axis=0)
    area = np.linalg.norm(normal)
    if area < 1e-6:
        yield Fault(where, key, f"'{polygon.name}' has no area.", "Give corners that do not lie on one line.")
        return
    normal = normal / area
    off = np.abs((corners - corners.mean(axis=0)) @ normal).max()
    if off > FLAT_M:
        yield Fault(
            where,
            key,
            f"'{polygon.name}' is not flat: a corner lies {off:.2f} m off its plane; {FLAT_M:g} m is allowed.",
            "Split it into triangles.",
        )
    if np.any(turns @ normal < -1e-9):
        yield Fault(
            where,
            key,
            f"'{polygon.name}' is not convex, or its corners are out of order.",
            "Go round it once; split a shape with a notch.",
        )


def _tube_faults(tube: ShapeTube, index: int, where: str) -> Iterator[Fault]:
    length = float(np.linalg.norm(np.subtract(tube.to_m, tube.from_m)))
    if length < SMALLEST_TUBE_M:
        yield Fault(
            where,
            f"rig.tubes[{index}].to_m",
            f"'{tube.name}' is {length:g} m long.",
            "from_m and to_m are the two ends of its axis.",
        )


def _panel_faults(panel: Panel, index: int, where: str) -> Iterator[Fault]:
    area = panel.length_m * panel.width_m
    if area < SMALLEST_M2:
        yield Fault(
            where,
            f"panel[{index}].length_m",
            f"'{panel.name}' is {panel.length_m:g} m by {panel.width_m:g} m; at least {SMALLEST_M2:g} m2 is a panel.",
            "Give length and width in metres.",
        )


def _stance_faults(panel: Panel, index: int, where: str) -> Iterator[Fault]:
    names = [stance.name for stance in panel.stances]
    for number, name in enumerate(names):
        if name in names[:number]:
            yield Fault(
                where,
                f"panel[{index}].stances[{number}].name",
                f"'{panel.name}' has two stances '{name}'.",
                "Give each a name of its own.",
            )
    if panel.stance is not None and panel.stance not in names:
        yield Fault(
            where,
            f"panel[{index}].stance",
            f"'{panel.name}' has no stance '{panel.stance}'.",
            suggest(panel.stance, names) or "List it under the panel's stances.",
        )


def _as_it_may_stand(panel: Panel) -> Iterator[tuple[str, Panel]]:
    """Yield the panel as written and in each stance, with the key of each below the panel's."""
    yield "", panel
    for number, stance in enumerate(panel.stances):
        yield f".stances[{number}]", panel_set(panel, stance)


def _spar_faults(rig: Rig, panel: Panel, key: str, where: str) -> Iterator[Fault]:
    masthead = max(rig.i_m, rig.boom_height_m + rig.p_m)
    boom_end = (-rig.e_m, 0.0, rig.boom_height_m)
    spars = (
        ("the mast", (0.0, 0.0, 0.0), (0.0, 0.0, masthead), rig.mast_radius_m),
        ("the boom amidships", (0.0, 0.0, rig.boom_height_m), boom_end, rig.boom_radius_m),
        *((f"tube '{tube.name}'", tube.from_m, tube.to_m, 0.0) for tube in rig.tubes),
        *((f"radome '{dome.name}'", *_axis_of(dome), 0.0) for dome in rig.radomes),
    )
    for name, start, end, radius in spars:
        if _cuts(panel, np.array(start), np.array(end), radius):
            x, y, z = panel.centre_m
            yield Fault(
                where,
                key,
                f"{name} cuts through '{panel.name}', centred at x {x:g}, y {y:g}, z {z:g} m.",
                "x runs forward from the mast, y to port, z up from the deck at the mast foot; check their signs.",
            )


def panels_meet(one: Panel, other: Panel) -> bool:
    """Return whether two panels go through each other, or lie one upon the other; edges may touch."""
    return any(
        _cuts(face, start, end, NEAR_M)
        for face, edged in ((one, other), (other, one))
        for start, end in _lines_across(edged)
    )


def _lines_across(panel: Panel) -> Iterator[tuple[Floats, Floats]]:
    """Yield a panel's edges, drawn in a little, and its diagonals."""
    along, across, _ = axes_of([panel])[0]
    centre = np.array(panel.centre_m)
    half, wide = (max(side / 2.0 - DRAWN_IN_M, side / 4.0) for side in (panel.length_m, panel.width_m))
    corners = [centre + a * half * along + b * wide * across for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
    yield from combinations(corners, 2)


def _axis_of(radome: ShapeRadome) -> tuple[Point, Point]:
    x, y, z = radome.centre_m
    half = radome.height_m / 2.0
    return (x, y, z - half), (x, y, z + half)


def _cuts(panel: Panel, start: Floats, end: Floats, radius: float) -> bool:
    """Return whether a tube comes through a panel: its axis, cut to within a radius of the plane, over the face."""
    axes = axes_of([panel])[0]
    a, b = axes @ (start - panel.centre_m), axes @ (end - panel.centre_m)
    rise = b[2] - a[2]
    if rise == 0.0:
        if abs(a[2]) > radius:
            return False
        near, far = 0.0, 1.0
    else:
        near, far = np.clip(np.sort([(-radius - a[2]) / rise, (radius - a[2]) / rise]), 0.0, 1.0)
        if abs((a + near * (b - a))[2]) > radius + 1e-9:
            return False
    # Liang and Barsky's clip of the stretch against the face grown by the radius
    for axis, half in enumerate((panel.length_m / 2.0 + radius, panel.width_m / 2.0 + radius)):
        step = b[axis] - a[axis]
        if step == 0.0:
            if abs(a[axis]) >= half:
                return False
            continue
        enter, leave = np.sort([(-half - a[axis]) / step, (half - a[axis]) / step])
        near, far = max(near, enter), min(far, leave)
    return bool(near <= far)
