"""Meridians and parallels of a map, with the graduated margin of a chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree as ET

import numpy as np

from planner.domain.arrays import Floats
from planner.presentation.drawing.svg import add
from planner.presentation.words.wording import PRIME

HALF_TURN = 180.0
STEPS_DEG = (
    # distance of the lines, of the margin's graduations [degree]
    (1 / 6, 1 / 30),
    (1 / 2, 1 / 6),
    (1.0, 1 / 4),
    (2.0, 1 / 2),
    (5.0, 1.0),
    (10.0, 2.0),
    (20.0, 5.0),
    (30.0, 10.0),
)
MOST_LINES = 6
GRADUATION_PX = 4.0
Place = Callable[[Floats, Floats], Floats]


@dataclass(frozen=True)
class Graticule:
    """The sheet's box, longitudes unwrapped, and its paper with an equal margin all round [px]."""

    lon: tuple[float, float]
    lat: tuple[float, float]
    size: tuple[float, float]
    inset: float


def longitude_label(degrees: float) -> str:
    """Return a meridian's label: 175°E, 180°, 175°W; degrees may be unwrapped."""
    wrapped = (degrees + HALF_TURN) % (2 * HALF_TURN) - HALF_TURN
    if abs(abs(wrapped) - HALF_TURN) < 1e-9:
        return "180\N{DEGREE SIGN}"
    return _label(wrapped, "E", "W")


def latitude_label(degrees: float) -> str:
    """Return a parallel's label: 30°S, 0°, 30°N."""
    return _label(degrees, "N", "S")


def _label(degrees: float, positive: str, negative: str) -> str:
    minutes = round(abs(degrees) * 60)
    if not minutes:
        return "0\N{DEGREE SIGN}"
    part = f"{minutes % 60:02d}{PRIME}" if minutes % 60 else ""
    return f"{minutes // 60}\N{DEGREE SIGN}{part}{positive if degrees > 0 else negative}"


def line_step(span: float) -> tuple[float, float]:
    """Return the distance of lines and of graduations for a span [degree]."""
    return next((pair for pair in STEPS_DEG if span / pair[0] <= MOST_LINES), STEPS_DEG[-1])


def draw_graticule(root: ET.Element, sheet: Graticule, place: Place) -> None:
    """Append margin, lines and labels."""
    width, height = sheet.size
    inset = sheet.inset
    group = add(root, "g", {"class": "graticule"})
    frame = {"x": inset, "y": inset, "width": width - 2 * inset, "height": height - 2 * inset}
    # what lies outside the neat line is paper
    right, bottom = width - inset, height - inset
    sheet_edge = f"M0 0H{width:.1f}V{height:.1f}H0Z"
    outside = f"{sheet_edge}M{inset:.1f} {inset:.1f}V{bottom:.1f}H{right:.1f}V{inset:.1f}Z"
    add(group, "path", {"class": "paper", "d": outside, "fill-rule": "evenodd"})
    _lines(group, sheet, place, "lon")
    _lines(group, sheet, place, "lat")
    add(group, "rect", {"class": "neat", **frame})
    outer = {
        key: value + sign * GRADUATION_PX for (key, value), sign in zip(frame.items(), (-1, -1, 2, 2), strict=True)
    }
    add(group, "rect", {"class": "neat", **outer})


def _lines(group: ET.Element, sheet: Graticule, place: Place, axis: Literal["lon", "lat"]) -> None:
    low, high = sheet.lon if axis == "lon" else sheet.lat
    step, fine = line_step(high - low)
    width, height = sheet.size
    near, far_x, far_y = sheet.inset, width - sheet.inset, height - sheet.inset

    def on_paper(degrees: float) -> float:
        if axis == "lon":
            return float(place(np.array([degrees]), np.array([sheet.lat[0]]))[0, 0])
        return float(place(np.array([sheet.lon[0]]), np.array([degrees]))[0, 1])

    for number in range(int(np.floor(low / fine)), int(np.ceil(high / fine))):
        if number % 2:
            continue
        start, stop = sorted((on_paper(max(low, number * fine)), on_paper(min(high, (number + 1) * fine))))
        for edge in (near - GRADUATION_PX, far_y if axis == "lon" else far_x):
            box = (start, edge, stop - start, GRADUATION_PX)
            x, y, w, h = box if axis == "lon" else (box[1], box[0], box[3], box[2])
            add(group, "rect", {"class": "graduation", "x": x, "y": y, "width": w, "height": h})
    for number in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1):
        degrees = number * step
        at = on_paper(degrees)
        if axis == "lon":
            css = "line180" if longitude_label(degrees).startswith("180") else "grid"
            add(group, "line", {"class": css, "x1": at, "x2": at, "y1": near, "y2": far_y})
            for y in (near - 9.0, far_y + 18.0):
                add(group, "text", {"class": "meridian", "x": at, "y": y}, longitude_label(degrees))
        else:
            add(group, "line", {"class": "grid", "x1": near, "x2": far_x, "y1": at, "y2": at})
            for x in (near - 9.0, far_x + 17.0):
                turned = f"rotate(-90 {x:.1f} {at:.1f})"
                add(
                    group,
                    "text",
                    {"class": "meridian", "x": x, "y": at, "transform": turned},
                    latitude_label(degrees),
                )
