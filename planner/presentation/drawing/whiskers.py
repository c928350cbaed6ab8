"""A drawing of figures with their doubt: a row each, a whisker from p10 to p90, a dot where the plan stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.results.figures import Spread
from planner.presentation.drawing.charts import NARROW, WIDE
from planner.presentation.drawing.svg import add, markup, picture

ROW_PX = 24.0
TOP_PX = 26.0
BOTTOM_PX = 22.0
NAME_PX = {WIDE.name: 300.0, NARROW.name: 118.0}
NAME_LETTERS = {WIDE.name: 48, NARROW.name: 17}
RIGHT_PX = 14.0
MOST_TICKS = {WIDE.name: 8, NARROW.name: 4}
MARK_PX = 5.0
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"


@dataclass(frozen=True)
class Whisker:
    """One row; ``css`` is 'first' or 'second', which differ in shape as well as in colour.

    ``short`` is the name on narrow paper, where it is another.
    """

    name: str
    value: Spread
    css: str
    short: str = ""


def whiskers(rows: Sequence[Whisker], *, unit: str, label: str) -> tuple[Markup, ...]:
    """Return the drawing on wide and on narrow paper.

    Parameters
    ----------
    rows : sequence of Whisker
        From top to bottom.
    unit : str
        Of the values.
    label : str
        What a reader who does not see it is told.
    """
    return tuple(_draw(rows, unit, label, frame.name, frame.width) for frame in (WIDE, NARROW))


def _draw(rows: Sequence[Whisker], unit: str, label: str, paper: str, width: float) -> Markup:
    height = TOP_PX + ROW_PX * len(rows) + BOTTOM_PX
    left, right = NAME_PX[paper], width - RIGHT_PX
    values = [value for row in rows for value in (row.value.p10, row.value.p90, row.value.planned)]
    ticks = even_ticks(min([0.0, *values]), max([0.0, *values]), MOST_TICKS[paper])
    span = ticks[-1] - ticks[0]

    def x(value: float) -> float:
        return left + (value - ticks[0]) / span * (right - left)

    root = picture(width, height, label=label, css=f"chart {paper}")
    floor = TOP_PX + ROW_PX * len(rows)
    for tick in ticks:
        css = "zero" if abs(tick) < 1e-9 * span else "grid"
        add(root, "line", {"class": css, "x1": x(tick), "x2": x(tick), "y1": TOP_PX, "y2": floor})
        add(root, "text", {"class": "tick", "x": x(tick), "y": floor + 16.0}, f"{tick:g}")
    add(root, "text", {"class": "tick", "x": (left + right) / 2.0, "y": 15.0}, unit)
    for index, row in enumerate(rows):
        middle = TOP_PX + ROW_PX * (index + 0.5)
        _row(root, row, [x(each) for each in (row.value.p10, row.value.planned, row.value.p90)], middle, paper)
    return markup(root)


def _row(root: ET.Element, row: Whisker, across: list[float], y: float, paper: str) -> None:
    low, planned, high = across
    letters = NAME_LETTERS[paper]
    full = row.short if row.short and paper == NARROW.name else row.name
    name = full if len(full) <= letters else full[: letters - 1] + ELLIPSIS
    add(root, "text", {"class": "name", "x": 4.0, "y": y + 4.5}, name)
    add(root, "line", {"class": f"whisker {row.css}", "x1": low, "x2": high, "y1": y, "y2": y})
    for end in (low, high):
        add(root, "line", {"class": f"whisker {row.css}", "x1": end, "x2": end, "y1": y - MARK_PX, "y2": y + MARK_PX})
    if row.css == "first":
        add(root, "circle", {"class": "mark first", "cx": planned, "cy": y, "r": MARK_PX})
    else:
        corner = {"x": planned - MARK_PX, "y": y - MARK_PX, "width": 2.0 * MARK_PX, "height": 2.0 * MARK_PX}
        add(root, "rect", {"class": "mark second", **corner})


def even_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values, evenly spaced, at most so many steps of them, that hold both ends."""
    reach = max(high - low, 1e-6)
    power = 10.0 ** np.floor(np.log10(reach / most))
    step = next(power * size for size in (1.0, 2.0, 5.0, 10.0, 20.0) if reach / (power * size) <= most)
    first, last = int(np.floor(low / step)), int(np.ceil(high / step))
    return [float(round(number * step, 10)) for number in range(first, max(last, first + 1) + 1)]
