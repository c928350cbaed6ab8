"""A drawing of figures side by side: a whisker for what was found, a box or a bar for what was told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from planner.presentation.drawing.frame import WIDE, Frame, Paper, Triple, on_both_papers
from planner.presentation.drawing.svg import words

PLOT_PX = {True: 172.0, False: 152.0}  # on wide paper or not
NAME_PX = 26.0  # that a name under a figure needs
MARK_PX = 4.0
BOX_PART = 0.31  # of the room between figures, that a box takes on either side


@dataclass(frozen=True)
class Beside:
    """What was found beside what was told.

    Attributes
    ----------
    name : str
        Under it.
    found : tuple of float or None
        Low, value, high of the whisker; None leaves it out.
    told : tuple of float or None
        Low, value, high of the box; all three the same draw a bar.
    css : str
        Of the whisker: 'found' or 'amiss'.
    """

    name: str
    found: Triple | None
    told: Triple | None = None
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
        What a reader who does not see it is told.
    level : (float, str), optional
        A value that matters, and its name.
    """
    middles = np.arange(len(figures)) + 0.5

    def draw(paper: Paper) -> Markup:
        frame = Frame(
            paper,
            plot_px=PLOT_PX[paper is WIDE],
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
            if one.told is not None:
                left, right = middle - BOX_PART, middle + BOX_PART
                low, value, high = one.told
                if high > low:
                    frame.box("area told", left, right, (float(frame.y(high)), float(frame.y(low))))
                frame.line("told", [left, right], [value, value])
            if one.found is not None:
                frame.whisker_up(one.css, middle, one.found, size=MARK_PX)
            if number % every == 0:
                words(frame.root, "tick", (float(frame.x(middle)), frame.floor + 16.0), one.name)
        frame.outline()
        found = [np.nan if one.found is None else one.found[1] for one in figures]
        return frame.readings(frame.at(middles, found), hair_below_px=0.0)

    return on_both_papers(draw)
