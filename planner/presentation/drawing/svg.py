"""The SVG pieces that drawings are made of; text is escaped by the tree that holds it."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats

Attribute = str | float
PaperPoint = tuple[float, float]
"""across, down [px]."""
MARK_PX = 5.0
SQUARE = frozenset({"second", "amiss"})
"""Styles whose marks differ from the others in shape as well as in colour."""


def picture(width: float, height: float, *, label: str, css: str) -> ET.Element:
    """Return an empty drawing that assistive technology reads as one image with this label."""
    attributes = {
        "class": css,
        "viewBox": f"0 0 {_number(width)} {_number(height)}",
        "role": "img",
        "aria-label": label,
    }
    return ET.Element("svg", attributes)


def add(parent: ET.Element, tag: str, attributes: Mapping[str, Attribute], text: str | None = None) -> ET.Element:
    """Append an element and return it; numbers are written to a tenth of a unit."""
    child = ET.SubElement(
        parent, tag, {name: value if isinstance(value, str) else _number(value) for name, value in attributes.items()}
    )
    child.text = text
    return child


def box(parent: ET.Element, css: str, corner: PaperPoint, opposite: PaperPoint) -> None:
    """Append a rectangle from its upper left corner to its lower right one."""
    (left, top), (right, bottom) = corner, opposite
    add(parent, "rect", {"class": css, "x": left, "y": top, "width": right - left, "height": bottom - top})


def stroke(parent: ET.Element, css: str, start: PaperPoint, end: PaperPoint) -> None:
    """Append a straight line."""
    add(parent, "line", {"class": css, "x1": start[0], "y1": start[1], "x2": end[0], "y2": end[1]})


def path(parent: ET.Element, css: str, course: str) -> None:
    """Append a path, from ``polyline``, ``ribbon`` or ``rings``."""
    add(parent, "path", {"class": css, "d": course})


def dot(parent: ET.Element, css: str, middle: PaperPoint, radius: float) -> None:
    """Append a circle."""
    add(parent, "circle", {"class": css, "cx": middle[0], "cy": middle[1], "r": radius})


def words(parent: ET.Element, css: str, at: PaperPoint, text: str) -> None:
    """Append words on a base line; their style says which end of them stands there."""
    add(parent, "text", {"class": css, "x": at[0], "y": at[1]}, text)


def mark(parent: ET.Element, css: str, at: PaperPoint, size: float = MARK_PX) -> None:
    """Append a mark of this style, round or square."""
    if css in SQUARE:
        box(parent, f"mark {css}", (at[0] - size, at[1] - size), (at[0] + size, at[1] + size))
    else:
        dot(parent, f"mark {css}", at, size)


def whisker(
    parent: ET.Element, css: str, along: tuple[PaperPoint, PaperPoint, PaperPoint], *, cap: PaperPoint = (0.0, 0.0)
) -> None:
    """Append a figure with its doubt: a line with a mark on it.

    Parameters
    ----------
    parent : element
    css : str
    along : three points
        Where the line begins, where the mark stands and where the line ends.
    cap : point
        Half the stroke that closes the line at either end [px].
    """
    low, value, high = along
    stroke(parent, f"whisker {css}", low, high)
    for x, y in (low, high) if any(cap) else ():
        stroke(parent, f"whisker {css}", (x - cap[0], y - cap[1]), (x + cap[0], y + cap[1]))
    mark(parent, css, value, max(cap) or MARK_PX)


def readable(
    root: ET.Element, places: Floats, *, radius: float = 4.0, hair: tuple[float, float] | None = None
) -> None:
    """Let a reader go from place to place, by pointer or by keys, with a cursor that shows where.

    Parameters
    ----------
    root : element
        The drawing.
    places : array (reading, 2)
        Across and down; where down is not finite only the hair line is shown [px].
    radius : float
        Of the cursor's ring [px].
    hair : (float, float), optional
        Top and bottom of a hair line; the pointer then reads by its way across alone [px].
    """
    root.set("data-x", " ".join(map(_number, places[:, 0])))
    root.set("data-y", " ".join(map(_number, places[:, 1])))
    cursor = add(root, "g", {"class": "cursor"})
    if hair is not None:
        add(cursor, "line", {"x1": 0.0, "x2": 0.0, "y1": hair[0], "y2": hair[1]})
    add(cursor, "circle", {"cx": 0.0, "cy": 0.0, "r": radius})


def markup(root: ET.Element) -> Markup:
    """Return the drawing as text for a page of HTML."""
    return Markup(ET.tostring(root, encoding="unicode"))  # noqa: S704  (the tree has escaped it)


def polyline(points: Floats) -> str:
    """Return the path through points (n, 2), lifted off the paper where a coordinate is not finite."""
    parts = []
    pen_down = False
    for point in points:
        good = bool(np.isfinite(point).all())
        if good:
            parts.append(f"{'L' if pen_down else 'M'}{_number(point[0])} {_number(point[1])}")
        pen_down = good
    return "".join(parts)


def ribbon(x: Floats, low: Floats, high: Floats) -> str:
    """Return closed paths between two courses (n,) over the same x, one for each stretch without gaps."""
    good = np.isfinite(x) & np.isfinite(low) & np.isfinite(high)
    there, back = np.column_stack([x, high]), np.column_stack([x, low])
    return rings([np.concatenate([there[part], back[part][::-1]]) for part in stretches(good)])


def stretches(flags: np.ndarray) -> list[slice]:
    """Return where flags (n,) hold without a break."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [slice(first, end) for first, end in edges.reshape(-1, 2)]


def rings(polygons: list[Floats]) -> str:
    """Return one path of closed rings, each (n, 2)."""
    return "".join(polyline(ring) + "Z" for ring in polygons if len(ring) > 2)


def _number(value: float) -> str:
    text = f"{float(value):.1f}"
    return text.removesuffix(".0")
