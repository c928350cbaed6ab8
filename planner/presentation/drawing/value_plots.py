"""Plots of single figures: a row each with its doubt, side by side, or by where the sun stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from planner.domain.results.figures import Spread
from planner.presentation.drawing.frame import (
    GAP_PX,
    NARROW,
    WIDE,
    Frame,
    Paper,
    Triple,
    even_ticks,
    named_rows,
    on_both_papers,
)
from planner.presentation.drawing.svg import markup, stroke, words

PLOT_PX = {WIDE.name: 172.0, NARROW.name: 152.0}
NAME_PX = 26.0  # that a name under a figure needs
MARK_PX = 4.0
BOX_PART = 0.31  # of the room between figures, that a box takes on either side
CELL_PX = 26.0
FULL_CIRCLE_DEG = 360.0
AHEAD = {0: "ahead", 90: "starboard", 180: "astern", 270: "port"}


@dataclass(frozen=True)
class Whisker:
    """One row; ``css`` is 'first' or 'second', which differ in shape as well as in colour.

    ``short`` is the name on narrow paper, where it is another.
    """

    name: str
    value: Spread
    css: str
    short: str = ""


def whiskers(rows: Sequence[Whisker], *, unit: str, label: str) -> tuple[Markup, Markup]:
    """Return the drawing on wide and on narrow paper.

    Parameters
    ----------
    rows : sequence of Whisker
        From top to bottom.
    unit : str
        Of the values.
    label : str
        For a reader who does not see it.
    """
    triples = [(row.value.p10, row.value.planned, row.value.p90) for row in rows]
    values = [0.0, *(value for triple in triples for value in triple)]

    def draw(paper: Paper) -> Markup:
        names = [row.short if row.short and paper is NARROW else row.name for row in rows]
        ticks = even_ticks(min(values), max(values), paper.most_ticks)
        frame = named_rows(paper, names, ticks, unit=unit, label=label)
        for number, (row, triple) in enumerate(zip(rows, triples, strict=True)):
            frame.whisker_across(row.css, triple, -number)
        return markup(frame.root)

    return on_both_papers(draw)


@dataclass(frozen=True)
class Beside:
    """What was found beside what was stated.

    Attributes
    ----------
    name : str
        Under it.
    found : tuple of float or None
        Low, value, high of the whisker; None leaves it out.
    stated : tuple of float or None
        Low, value, high of the box; all three the same draw a bar.
    css : str
        Of the whisker: 'found' or 'amiss'.
    """

    name: str
    found: Triple | None
    stated: Triple | None = None
    css: str = "found"


def upright(
    figures: Sequence[Beside],
    ticks: Sequence[float],
    unit: str,
    *,
    label: str,
    level: tuple[float, str] | None = None,
) -> tuple[Markup, Markup]:
    """Return the drawing on wide and on narrow paper, with a cursor figure by figure.

    Parameters
    ----------
    figures : sequence of Beside
        From left to right.
    ticks : sequence of float
        Of the upright scale.
    unit : str
        Of it.
    label : str
        For a reader who does not see it.
    level : (float, str), optional
        A value that matters, and its name.
    """
    middles = np.arange(len(figures)) + 0.5

    def draw(paper: Paper) -> Markup:
        frame = Frame(
            paper,
            plot_px=PLOT_PX[paper.name],
            below_px=24.0,
            label=label,
            across=(0.0, max(len(figures), 1)),
            up=(ticks[0], ticks[-1]),
        )
        frame.ticks_up(ticks, unit)
        if level is not None:
            frame.level("sound", *level)
        every = int(np.ceil(NAME_PX * len(figures) / (frame.right - frame.left)))
        for number, (one, middle) in enumerate(zip(figures, middles, strict=True)):
            if one.stated is not None:
                left, right = middle - BOX_PART, middle + BOX_PART
                low, value, high = one.stated
                if high > low:
                    frame.box("area stated", left, right, (float(frame.y(high)), float(frame.y(low))))
                frame.line("stated", [left, right], [value, value])
            if one.found is not None:
                frame.whisker_up(one.css, middle, one.found, size=MARK_PX)
            if number % every == 0:
                words(frame.root, "tick", (float(frame.x(middle)), frame.floor + 16.0), one.name)
        frame.outline()
        found = [np.nan if one.found is None else one.found[1] for one in figures]
        return frame.readings(frame.at(middles, found), hair_below_px=0.0)

    return on_both_papers(draw)


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
        For a reader who does not see it.
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
