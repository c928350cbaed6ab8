"""A drawing of figures by where the sun stands: bearings from the bow across, heights upward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from planner.presentation.drawing.frame import GAP_PX, WIDE, Frame, Paper, on_both_papers
from planner.presentation.drawing.svg import stroke, words

CELL_PX = 26.0
FULL_CIRCLE_DEG = 360.0
AHEAD = {0: "ahead", 90: "starboard", 180: "astern", 270: "port"}


@dataclass(frozen=True)
class SunCell:
    """One part of the sky: where, what is written there, and whether it stands out."""

    relative_bearing_deg: float
    elevation_deg: float
    words: str
    amiss: bool


def sun_grid(cells: Sequence[SunCell], *, label: str) -> tuple[Markup, Markup]:
    """Return the drawing on wide and on narrow paper, with a cursor cell by cell.

    Parameters
    ----------
    cells : sequence of SunCell
        One at least.
    label : str
        What a reader who does not see it is told.
    """
    heights = sorted({cell.elevation_deg for cell in cells})
    bearings = sorted({cell.relative_bearing_deg for cell in cells})
    half_deg = float(np.diff([*bearings, bearings[0] + FULL_CIRCLE_DEG]).min()) / 2.0
    rows = [heights.index(cell.elevation_deg) for cell in cells]

    def draw(paper: Paper) -> Markup:
        frame = Frame(
            paper,
            plot_px=CELL_PX * len(heights),
            below_px=40.0,
            label=label,
            across=(0.0, FULL_CIRCLE_DEG),
            up=(-0.5, len(heights) - 0.5),
        )
        for row, height in enumerate(heights):
            place = (frame.left - GAP_PX, float(frame.y(row)) + 4.5)
            words(frame.root, "value", place, f"{height:.0f}\N{DEGREE SIGN}")
        for cell, row in zip(cells, rows, strict=True):
            css = "cell amiss" if cell.amiss else "cell"
            at = cell.relative_bearing_deg
            frame.box(css, at - half_deg, at + half_deg, (float(frame.y(row + 0.5)), float(frame.y(row - 0.5))))
            words(frame.root, f"tick {css}", (float(frame.x(at)), float(frame.y(row)) + 4.5), cell.words)
        frame.outline()
        for degrees in range(0, 360, 45):
            x = float(frame.x(degrees))
            css = "tick" if degrees else "first-tick"
            stroke(frame.root, "day-start", (x, frame.floor), (x, frame.floor + 5.0))
            if paper is WIDE or degrees in AHEAD:
                words(frame.root, css, (x, frame.floor + 18.0), f"{degrees:03d}\N{DEGREE SIGN}")
            words(frame.root, css, (x, frame.floor + 34.0), AHEAD.get(degrees, ""))
        places = frame.at([cell.relative_bearing_deg for cell in cells], rows)
        return frame.readings(places, radius=CELL_PX / 2.0 - 1.0)

    return on_both_papers(draw)
