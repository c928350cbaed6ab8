"""A drawing of figures by where the sun stands: bearings from the bow across, heights upward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from planner.presentation.drawing.charts import NARROW, WIDE, Frame
from planner.presentation.drawing.svg import add, markup, numbers, picture

CELL_PX = 26.0
TOP_PX = 8.0
BOTTOM_PX = 40.0
FULL_CIRCLE_DEG = 360.0
AHEAD = {0: "ahead", 90: "starboard", 180: "astern", 270: "port"}


@dataclass(frozen=True)
class Cell:
    """One part of the sky: where, what is written there, and whether it stands out."""

    relative_bearing_deg: float
    elevation_deg: float
    words: str
    amiss: bool


def sun_grid(cells: Sequence[Cell], *, label: str) -> tuple[Markup, ...]:
    """Return the drawing on wide and on narrow paper, with a cursor cell by cell.

    Parameters
    ----------
    cells : sequence of Cell
        One at least.
    label : str
        What a reader who does not see it is told.
    """
    return tuple(_draw(cells, label, frame) for frame in (WIDE, NARROW))


def _draw(cells: Sequence[Cell], label: str, frame: Frame) -> Markup:
    heights = sorted({cell.elevation_deg for cell in cells}, reverse=True)
    bearings = sorted({cell.relative_bearing_deg for cell in cells})
    gaps = np.diff([*bearings, bearings[0] + FULL_CIRCLE_DEG])
    breadth_deg = float(gaps.min())
    right = frame.width - frame.right

    def x(degrees: float) -> float:
        return frame.left + degrees / FULL_CIRCLE_DEG * (right - frame.left)

    tall = TOP_PX + CELL_PX * len(heights)
    root = picture(frame.width, tall + BOTTOM_PX, label=label, css=f"sun-grid {frame.name}")
    middles = [
        (x(cell.relative_bearing_deg), TOP_PX + CELL_PX * (heights.index(cell.elevation_deg) + 0.5)) for cell in cells
    ]
    root.set("data-x", numbers(np.array([across for across, _ in middles])))
    root.set("data-y", numbers(np.array([down for _, down in middles])))
    for number, height in enumerate(heights):
        place = {"x": frame.left - 6.0, "y": TOP_PX + CELL_PX * (number + 0.5) + 4.5}
        add(root, "text", {"class": "value", **place}, f"{height:.0f}\N{DEGREE SIGN}")
    wide = (right - frame.left) * breadth_deg / FULL_CIRCLE_DEG
    for cell, (across, down) in zip(cells, middles, strict=True):
        css = "cell amiss" if cell.amiss else "cell"
        box = {"x": across - wide / 2.0, "y": down - CELL_PX / 2.0, "width": wide, "height": CELL_PX}
        add(root, "rect", {"class": css, **box})
        add(root, "text", {"class": f"tick {css}", "x": across, "y": down + 4.5}, cell.words)
    add(
        root,
        "rect",
        {"class": "plot-frame", "x": frame.left, "y": TOP_PX, "width": right - frame.left, "height": tall - TOP_PX},
    )
    for degrees in range(0, 360, 45):
        at = {"x1": x(degrees), "x2": x(degrees), "y1": tall, "y2": tall + 5.0}
        add(root, "line", {"class": "day-start", **at})
        anchor = "start" if degrees == 0 else "middle"
        where: dict[str, str | float] = {"x": x(degrees), "y": tall + 18.0, "text-anchor": anchor}
        add(root, "text", where, f"{degrees:03d}\N{DEGREE SIGN}" if frame is WIDE or degrees % 90 == 0 else "")
        if degrees in AHEAD:
            add(root, "text", where | {"y": tall + 34.0}, AHEAD[degrees])
    cursor = add(root, "g", {"class": "cursor"})
    add(cursor, "circle", {"cx": 0.0, "cy": 0.0, "r": CELL_PX / 2.0 - 1.0})
    return markup(root)
