"""A drawing of figures side by side, a place each: a whisker for what was found, a box or a bar for what was told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.presentation.drawing.charts import NARROW, WIDE, Frame
from planner.presentation.drawing.svg import add, markup, numbers, picture

HEIGHT_PX = {WIDE.name: 220.0, NARROW.name: 200.0}
BOTTOM_PX = 24.0
NAME_PX = 26.0  # that a name under a place needs
MARK_PX = 4.0
BOX_PART = 0.62  # of a place's breadth, that its box takes
Triple = tuple[float, float, float]
"""low, value, high."""


@dataclass(frozen=True)
class Place:
    """What is drawn at one place along the axis.

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


@dataclass(frozen=True)
class Axis:
    """The upright axis: unit over it, ends and distance of ticks, and a level with its name, if one matters."""

    unit: str
    low: float
    high: float
    step: float
    level: float | None = None
    level_name: str = ""


def upright(places: Sequence[Place], axis: Axis, *, label: str) -> tuple[Markup, ...]:
    """Return the drawing on wide and on narrow paper, with a cursor place by place.

    Parameters
    ----------
    places : sequence of Place
        From left to right.
    axis : Axis
    label : str
        What a reader who does not see it is told.
    """
    return tuple(_draw(places, axis, label, frame) for frame in (WIDE, NARROW))


def _draw(places: Sequence[Place], axis: Axis, label: str, frame: Frame) -> Markup:
    height = HEIGHT_PX[frame.name]
    floor, right = height - BOTTOM_PX, frame.width - frame.right
    breadth = (right - frame.left) / max(len(places), 1)
    middles = np.asarray(frame.left + breadth * (np.arange(len(places)) + 0.5), dtype=np.float64)

    def y(value: float) -> float:
        inside = min(max(value, axis.low), axis.high)
        return floor - (inside - axis.low) / (axis.high - axis.low) * (floor - frame.top)

    values = np.array([y(place.found[1]) if place.found else np.nan for place in places])
    root = picture(frame.width, height, label=label, css=f"chart {frame.name}")
    root.set("data-x", numbers(middles))
    root.set("data-y", numbers(values))
    group = add(root, "g", {"class": "axis"})
    add(group, "text", {"x": 2.0, "y": frame.top - 10.0}, axis.unit)
    for value in np.arange(axis.low, axis.high + axis.step / 2.0, axis.step):
        across = {"x1": frame.left, "x2": right, "y1": y(value), "y2": y(value)}
        add(group, "line", {"class": "grid", **across})
        add(group, "text", {"class": "value", "x": frame.left - 6.0, "y": y(value) + 4.0}, f"{value:.0f}")
    if axis.level is not None:
        across = {"x1": frame.left, "x2": right, "y1": y(axis.level), "y2": y(axis.level)}
        add(root, "line", {"class": "line sound", **across})
        add(root, "text", {"class": "note", "x": right - 4.0, "y": y(axis.level) + 14.0}, axis.level_name)
    every = int(np.ceil(NAME_PX / breadth))
    for number, (place, x) in enumerate(zip(places, middles, strict=True)):
        if place.told is not None:
            _box(root, float(x), breadth * BOX_PART, _down(place.told, y))
        if place.found is not None:
            _whisker(root, place.css, float(x), _down(place.found, y))
        if number % every == 0:
            add(root, "text", {"class": "tick", "x": float(x), "y": floor + 16.0}, place.name)
    add(
        root,
        "rect",
        {
            "class": "plot-frame",
            "x": frame.left,
            "y": frame.top,
            "width": right - frame.left,
            "height": floor - frame.top,
        },
    )
    cursor = add(root, "g", {"class": "cursor"})
    add(cursor, "line", {"x1": 0.0, "x2": 0.0, "y1": frame.top, "y2": floor})
    add(cursor, "circle", {"cx": 0.0, "cy": 0.0, "r": MARK_PX})
    return markup(root)


def _down(triple: Triple, y: Callable[[float], float]) -> Triple:
    low, value, high = triple
    return y(low), y(value), y(high)


def _box(root: ET.Element, x: float, breadth: float, heights: Triple) -> None:
    low, value, high = heights
    left = x - breadth / 2.0
    if low > high:
        add(root, "rect", {"class": "area told", "x": left, "y": high, "width": breadth, "height": low - high})
    add(root, "line", {"class": "line told", "x1": left, "x2": left + breadth, "y1": value, "y2": value})


def _whisker(root: ET.Element, css: str, x: float, heights: Triple) -> None:
    low, value, high = heights
    add(root, "line", {"class": f"whisker {css}", "x1": x, "x2": x, "y1": low, "y2": high})
    for end in (low, high):
        add(root, "line", {"class": f"whisker {css}", "x1": x - MARK_PX, "x2": x + MARK_PX, "y1": end, "y2": end})
    if css == "amiss":
        corner = {"x": x - MARK_PX, "y": value - MARK_PX, "width": 2.0 * MARK_PX, "height": 2.0 * MARK_PX}
        add(root, "rect", {"class": "mark amiss", **corner})
    else:
        add(root, "circle", {"class": f"mark {css}", "cx": x, "cy": value, "r": MARK_PX})
