"""Meridians and parallels of a map, with the graduated margin of a chart."""

from __future__ import annotations

from typing import Literal
from xml.etree import ElementTree as ET

import numpy as np

from planner.presentation.drawing.maps.map_sheet import MapSheet
from planner.presentation.drawing.svg import PaperPoint, add, box, path, stroke
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


def draw_graticule(root: ET.Element, sheet: MapSheet) -> None:
    """Append margin, lines and labels."""
    group = add(root, "g", {"class": "graticule"})
    left, top, right, bottom = sheet.edges
    # what lies outside the neat line is paper
    outside = f"M0 0H{sheet.width:.1f}V{sheet.height:.1f}H0Z"
    path(group, "paper", f"{outside}M{left:.1f} {top:.1f}V{bottom:.1f}H{right:.1f}V{top:.1f}Z")
    _lines(group, sheet, "lon")
    _lines(group, sheet, "lat")
    for off in (0.0, GRADUATION_PX):
        box(group, "neat", (left - off, top - off), (right + off, bottom + off))


def _lines(group: ET.Element, sheet: MapSheet, axis: Literal["lon", "lat"]) -> None:
    """Append the meridians with their graduations, or the parallels: the same with across and down exchanged."""
    lon_low, lon_high, lat_low, lat_high = sheet.box()
    low, high = (lon_low, lon_high) if axis == "lon" else (lat_low, lat_high)
    step, fine = line_step(high - low)
    near = sheet.edges[0]
    far = sheet.edges[3 if axis == "lon" else 2]

    def along(degrees: float) -> float:
        lon, lat = (degrees, lat_low) if axis == "lon" else (lon_low, degrees)
        return float(sheet.place(np.array([lon]), np.array([lat]))[0, 0 if axis == "lon" else 1])

    def at(way: float, beside: float) -> PaperPoint:
        return (way, beside) if axis == "lon" else (beside, way)

    first = int(np.floor(low / fine))
    for number in range(first + first % 2, int(np.ceil(high / fine)), 2):
        start, stop = sorted(along(float(np.clip(each * fine, low, high))) for each in (number, number + 1))
        for edge in (near - GRADUATION_PX, far):
            box(group, "graduation", at(start, edge), at(stop, edge + GRADUATION_PX))
    for number in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1):
        way = along(number * step)
        name = (longitude_label if axis == "lon" else latitude_label)(number * step)
        stroke(group, "line180" if name.startswith("180") else "grid", at(way, near), at(way, far))
        for beside in (near - 9.0, far + 17.5):
            x, y = at(way, beside)
            turned = 0 if axis == "lon" else -90
            turn = f"rotate({turned} {x:.1f} {y:.1f})"
            add(group, "text", {"class": "meridian", "x": x, "y": y, "transform": turn}, name)
