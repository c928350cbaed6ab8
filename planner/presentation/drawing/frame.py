"""The frame of every plot: wide and narrow paper, two scales with round ticks, the lines, bands and marks within."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.presentation.drawing.labels import breadth, shortened
from planner.presentation.drawing.svg import (
    MARK_PX,
    add,
    box,
    markup,
    path,
    picture,
    polyline,
    readable,
    ribbon,
    stroke,
    whisker,
    words,
)
from planner.presentation.words.wording import MINUS, whole

TOP_PX = 24.0
NAMES_PART = 0.37  # of the paper's breadth, that names at the left of rows may take
ROW_PX = 24.0
GAP_PX = 6.0  # between words and what they name
Triple = tuple[float, float, float]
"""low, value, high."""


@dataclass(frozen=True)
class Paper:
    """What a plot is drawn on.

    Attributes
    ----------
    name : str
        Style class.
    width, left, right : float
        Of the paper, and of the margins on either side of the plot [px].
    most_ticks : int
        For which an axis across has room.
    """

    name: str
    width: float
    left: float
    right: float
    most_ticks: int


WIDE = Paper("wide", width=960.0, left=48.0, right=10.0, most_ticks=8)
NARROW = Paper("narrow", width=360.0, left=44.0, right=6.0, most_ticks=4)


def on_both_papers(draw: Callable[[Paper], Markup]) -> tuple[Markup, Markup]:
    """Return a drawing on wide and on narrow paper."""
    return draw(WIDE), draw(NARROW)


def even_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values, evenly spaced, at most so many steps of them, that hold both ends."""
    reach = max(high - low, 1e-6)
    power = 10.0 ** np.floor(np.log10(reach / most))
    step = next(power * size for size in (1.0, 2.0, 5.0, 10.0, 20.0) if reach / (power * size) <= most)
    first, last = int(np.floor(low / step)), int(np.ceil(high / step))
    return [float(round(number * step, 10)) for number in range(first, max(last, first + 1) + 1)]


def tick_words(value: float) -> str:
    """Return a tick's value: whole where it is, a minus typeset."""
    return whole(value) if value == round(value) else f"{value:g}".replace("-", MINUS)


class Frame:
    """A plot on its paper; values beyond its ends are held at its edges.

    Parameters
    ----------
    paper : Paper
    plot_px : float
        Height of the plot [px].
    below_px : float
        Height of what stands below it [px].
    label : str
        For a reader who does not see it.
    across, up : (float, float)
        Values at the left and right edge, and at the lower and upper one.
    left, right : float, optional
        Margins, where they are not those of the paper [px].
    """

    def __init__(
        self,
        paper: Paper,
        *,
        plot_px: float,
        below_px: float,
        label: str,
        across: tuple[float, float],
        up: tuple[float, float],
        left: float | None = None,
        right: float | None = None,
    ) -> None:
        self.paper, self.across, self.up = paper, across, up
        self.left = paper.left if left is None else left
        self.right = paper.width - (paper.right if right is None else right)
        self.top, self.floor = TOP_PX, TOP_PX + plot_px
        self.root = picture(paper.width, self.floor + below_px, label=label, css=f"chart {paper.name}")

    def x(self, value: npt.ArrayLike) -> Floats:
        """Return where values across fall [px]."""
        return np.asarray(np.interp(np.asarray(value, dtype=np.float64), self.across, (self.left, self.right)))

    def y(self, value: npt.ArrayLike) -> Floats:
        """Return where values upward fall [px]."""
        return np.asarray(np.interp(np.asarray(value, dtype=np.float64), self.up, (self.floor, self.top)))

    def at(self, across: npt.ArrayLike, up: npt.ArrayLike) -> Floats:
        """Return where points (n, 2) fall [px]."""
        return np.column_stack([self.x(across), self.y(up)])

    def ticks_up(self, ticks: Iterable[float], unit: str) -> None:
        """Draw the upright scale: a line for each tick, its value at the left, the unit over them."""
        axis = add(self.root, "g", {"class": "axis"})
        words(axis, "unit", (2.0, self.top - 10.0), unit)
        for tick in ticks:
            y = float(self.y(tick))
            stroke(axis, "grid", (self.left, y), (self.right, y))
            words(axis, "value", (self.left - GAP_PX, y + 4.0), tick_words(tick))

    def ticks_across(self, ticks: Sequence[float], unit: str) -> None:
        """Draw the scale across: a line for each tick, its value below, the unit over them."""
        words(self.root, "tick", ((self.left + self.right) / 2.0, self.top - 10.0), unit)
        for tick in ticks:
            x = float(self.x(tick))
            stroke(self.root, "grid" if tick else "zero", (x, self.top), (x, self.floor))
            words(self.root, "tick", (x, self.floor + 16.0), tick_words(tick))

    def columns(self, css: str, spans: Iterable[tuple[float, float]]) -> None:
        """Draw spans across from top to bottom."""
        for start, stop in spans:
            self.box(css, start, stop, (self.top, self.floor))

    def box(self, css: str, start: float, stop: float, sides: tuple[float, float], *, least_px: float = 0.0) -> None:
        """Draw a span across between two heights on the paper [px], as broad as can be seen."""
        first, last = float(self.x(start)), float(self.x(stop))
        box(self.root, css, (first, sides[0]), (max(last, first + least_px), sides[1]))

    def line(self, css: str, across: npt.ArrayLike, up: npt.ArrayLike) -> None:
        """Draw a course through points."""
        path(self.root, f"line {css}", polyline(self.at(across, up)))

    def band(self, css: str, across: npt.ArrayLike, low: npt.ArrayLike, high: npt.ArrayLike) -> None:
        """Draw the span between two courses."""
        path(self.root, f"area {css}", ribbon(self.x(across), self.y(low), self.y(high)))

    def level(self, css: str, value: float, name: str) -> None:
        """Draw a value that holds throughout, named at the right."""
        y = float(self.y(value))
        stroke(self.root, f"line {css}", (self.left, y), (self.right, y))
        words(self.root, f"note {css}", (self.right - 4.0, y + 14.0), name)

    def whisker_up(self, css: str, across: float, triple: Triple, *, size: float = MARK_PX) -> None:
        """Draw a figure with its doubt, upright."""
        low, value, high = ((float(self.x(across)), float(self.y(each))) for each in triple)
        whisker(self.root, css, (low, value, high), cap=(size, 0.0))

    def whisker_across(self, css: str, triple: Triple, up: float) -> None:
        """Draw a figure with its doubt, lying."""
        low, value, high = ((float(self.x(each)), float(self.y(up))) for each in triple)
        whisker(self.root, css, (low, value, high), cap=(0.0, MARK_PX))

    def outline(self) -> None:
        """Draw the plot's edge."""
        box(self.root, "plot-frame", (self.left, self.top), (self.right, self.floor))

    def readings(self, places: Floats, *, radius: float = 4.0, hair_below_px: float | None = None) -> Markup:
        """Let a reader go from place to place (reading, 2) on the paper, and return the drawing.

        Parameters
        ----------
        places, radius
            As for ``readable``.
        hair_below_px : float, optional
            How far below the plot a hair line goes; none where None [px].
        """
        hair = None if hair_below_px is None else (self.top, self.floor + hair_below_px)
        readable(self.root, places, radius=radius, hair=hair)
        return markup(self.root)


def named_rows(
    paper: Paper,
    names: Sequence[str],
    ticks: Sequence[float],
    *,
    unit: str,
    label: str,
    figures: Sequence[str] = (),
) -> Frame:
    """Return a frame with a row for each name, under a scale across; row ``n`` lies at ``-n`` upward.

    Parameters
    ----------
    paper : Paper
    names : sequence of str
        From top to bottom; what is too long for the paper is shortened.
    ticks : sequence of float
        Of the scale across.
    unit, label
        Of the scale, and as for ``Frame``.
    figures : sequence of str
        At the right of each row; none where empty.
    """
    room = min(max(map(breadth, names)) + 2.0 * GAP_PX, NAMES_PART * paper.width)
    frame = Frame(
        paper,
        plot_px=ROW_PX * len(names),
        below_px=22.0,
        label=label,
        across=(ticks[0], ticks[-1]),
        up=(0.5 - len(names), 0.5),
        left=room,
        right=14.0 + max(map(breadth, figures), default=0.0),
    )
    frame.ticks_across(ticks, unit)
    for number, name in enumerate(names):
        base = float(frame.y(-number)) + 4.5
        words(frame.root, "name", (4.0, base), shortened(name, room - 2.0 * GAP_PX))
        for figure in figures[number : number + 1]:
            words(frame.root, "value", (paper.width - GAP_PX, base), figure)
    return frame
