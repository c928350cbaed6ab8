"""The few SVG pieces that charts and map are drawn with; text is escaped by the tree that holds it."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats

Attribute = str | float


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


def markup(root: ET.Element) -> Markup:
    """Return the drawing as text for a page of HTML."""
    return Markup(ET.tostring(root, encoding="unicode"))  # noqa: S704  (the tree has escaped it)


def polyline(x: Floats, y: Floats) -> str:
    """Return the path through points (n,), lifted off the paper where a coordinate is not finite."""
    parts = []
    pen_down = False
    for one_x, one_y, good in zip(x, y, np.isfinite(x) & np.isfinite(y), strict=True):
        if good:
            parts.append(f"{'L' if pen_down else 'M'}{_number(one_x)} {_number(one_y)}")
        pen_down = bool(good)
    return "".join(parts)


def ribbon(x: Floats, low: Floats, high: Floats) -> str:
    """Return closed paths between two courses (n,) over the same x, one for each stretch without gaps."""
    good = np.isfinite(x) & np.isfinite(low) & np.isfinite(high)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(np.int8)))
    outlines = []
    for first, end in edges.reshape(-1, 2):
        part = slice(first, end)
        along = np.concatenate([x[part], x[part][::-1]])
        outlines.append(np.column_stack([along, np.concatenate([high[part], low[part][::-1]])]))
    return rings(outlines)


def rings(polygons: list[Floats]) -> str:
    """Return one path of closed rings, each (n, 2)."""
    return "".join(polyline(ring[:, 0], ring[:, 1]) + "Z" for ring in polygons if len(ring) > 2)


def numbers(values: Floats) -> str:
    """Return values (n,) as a list that scripts can split at spaces."""
    return " ".join(_number(value) for value in values)


def _number(value: float) -> str:
    text = f"{float(value):.1f}"
    return text.removesuffix(".0")
