"""Pictures of the boat as the sun sees her, the shadows on her panels, and the same as a table."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.domain.results.sun_view import DIM, SunShape, SunView
from planner.presentation.drawing.svg import add, markup, path, picture, polyline, rings, words
from planner.presentation.words.content import Column, Table
from planner.presentation.words.wording import clock, date_words, percent

PAPER = (360.0, 250.0)  # px; the same drawing on every width of page
EDGE_PX = 26.0  # px; around the panels
LEAST_ACROSS_M = 5.0  # m; of the boat shown, however small her panels
AHEAD_DEG = 5.0  # degree; nearer to the bow or stern the sun is dead ahead or astern
ABEAM_DEG = 10.0  # degree; nearer to square it is abeam
NUMBER_PX = (13.0, 12.0)  # px; room that a number needs
PLACED = frozenset({"panel", "back"})


@dataclass(frozen=True)
class SunPictures:
    """The section of the report.

    Attributes
    ----------
    day : str
        The ship's date of the pictures.
    pictures : tuple of (Markup, str)
        Inline SVG and the words under it.
    table : Table
        Part of each panel that the beam reaches.
    """

    day: str
    pictures: tuple[tuple[Markup, str], ...]
    table: Table


def sun_pictures(plan: Plan) -> SunPictures | None:
    """Return the pictures of a plan, or None where the passage has no sun.

    Parameters
    ----------
    plan : Plan
        Its ``sun_views`` are drawn; panels carry the numbers of the table.
    """
    if not plan.sun_views:
        return None
    times = [clock(view.time, plan.ship_offset) for view in plan.sun_views]
    captions = [
        f"{time}: sun {view.sun_elevation_deg:.0f}\N{DEGREE SIGN} up, {whereabouts(view.off_bow_deg)}; "
        f"{heeled(view.heel_deg)}"
        for time, view in zip(times, plan.sun_views, strict=True)
    ]
    rows = tuple(
        (f"{number + 1}  {panel.name}", *(_lit(view, number) for view in plan.sun_views))
        for number, panel in enumerate(plan.sun_views[0].panels)
    )
    return SunPictures(
        day=date_words(plan.sun_views[0].time, plan.ship_offset),
        pictures=tuple((draw(view, label), label) for view, label in zip(plan.sun_views, captions, strict=True)),
        table=Table(
            "How much of each panel the beam reaches, and its dim cells",
            (Column("Panel", "left"), *(Column(time) for time in times)),
            rows,
            "Mean over the roll, light through sailcloth counted; then how many cells get less than half of it at "
            "the mean heel, at which the pictures hold the boat. They are struck through there: the dimmest cell "
            "limits its substring.",
        ),
    )


def whereabouts(off_bow_deg: float) -> str:
    """Return where the sun stands off the bow: '35° on the port bow', 'dead astern'."""
    size, side = abs(off_bow_deg), "starboard" if off_bow_deg > 0.0 else "port"
    if size <= AHEAD_DEG:
        return "dead ahead"
    if size >= 180.0 - AHEAD_DEG:
        return "dead astern"
    if abs(size - 90.0) <= ABEAM_DEG:
        return f"abeam to {side}"
    if size < 90.0:
        return f"{size:.0f}\N{DEGREE SIGN} on the {side} bow"
    return f"{180.0 - size:.0f}\N{DEGREE SIGN} on the {side} quarter"


def heeled(heel_deg: float) -> str:
    """Return the heel in words: 'heeled 12° to port', 'upright'."""
    size = round(abs(heel_deg))
    side = "starboard" if heel_deg > 0.0 else "port"
    return f"heeled {size}\N{DEGREE SIGN} to {side}" if size else "upright"


def draw(view: SunView, label: str) -> Markup:
    """Return one view as a drawing whose frame holds all panels and what of the boat stands beside them.

    Parameters
    ----------
    view : SunView
        What to draw.
    label : str
        What assistive technology reads.
    """
    root = picture(*PAPER, label=f"The boat as the sun sees her, {label}", css="sun-view")
    scale, middle = _fit(view.shapes)

    def place(corners: npt.ArrayLike) -> Floats:
        return np.asarray(np.array(PAPER) / 2.0 + (np.asarray(corners) - middle) * (scale, -scale))

    boat = add(root, "g", {"class": "seen"})
    for shape in view.shapes:
        dark = {"fill-opacity": f"{1.0 - shape.passed:.2f}"} if shape.kind == "cell" else {}
        placed = [place(ring) for ring in shape.rings]
        add(boat, "path", {"class": f"seen-{shape.kind}", "d": rings(placed), **dark})
        if shape.kind == "cell" and shape.passed < DIM:  # struck through, for eyes and papers without shades
            path(boat, "seen-dim", "".join(polyline(ring[::2]) for ring in placed))
    _numbers(root, [place(panel.middle_m) for panel in view.panels])
    x, y = 10.0, PAPER[1] - 10.0  # a metre at the lower left
    path(root, "seen-metre", f"M{x} {y - 4}V{y}H{x + scale:.1f}V{y - 4}")
    words(root, "seen-metre-name", (x + scale + 5.0, y + 1.0), "1 m")
    return markup(root)


def _fit(shapes: tuple[SunShape, ...]) -> tuple[float, Floats]:
    """Return the scale [px/m] and the middle of the panels [m]."""
    corners = np.concatenate([ring for shape in shapes if shape.kind in PLACED for ring in shape.rings])
    low, high = corners.min(axis=0), corners.max(axis=0)
    room = np.array(PAPER) - 2.0 * EDGE_PX
    scale = min(float((room / np.maximum(high - low, 1e-9)).min()), room[0] / LEAST_ACROSS_M)
    return scale, (low + high) / 2.0


def _numbers(root: ET.Element, places: list[Floats]) -> None:
    """Write the panels' numbers; where they lie nearly edge on the numbers step aside, left of each other."""
    group = add(root, "g", {"class": "seen-number", "aria-hidden": "true"})
    taken: list[Floats] = []
    for number, place in enumerate(places, start=1):
        at = place
        while any((np.abs(at - other) < NUMBER_PX).all() for other in taken):
            at = at - [NUMBER_PX[0], 0.0]
        taken.append(at)
        add(group, "text", {"x": float(at[0]), "y": float(at[1]) + 4.5}, str(number))


def _lit(view: SunView, number: int) -> str:
    panel = view.panels[number]
    if panel.facing <= 0.0:
        return "turned away"
    return f"{percent(panel.lit)}, {panel.dim_cells} of {panel.cells}" if panel.dim_cells else percent(panel.lit)
