"""Barbs: where the staff points, on which side feathers stand, and how many."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from planner.domain.units import M_S_PER_KN
from planner.presentation.drawing.maps.wind_barbs import STAFF_PX, draw_barbs

AT = (100.0, 100.0)


def drawn(speed_kn: float, from_deg: float, lat: float) -> ET.Element:
    """Return a barb at (100, 100) of a wind from a bearing."""
    toward = np.radians(from_deg + 180.0)
    speed = speed_kn * M_S_PER_KN
    root = ET.Element("svg")
    east, north = (np.array([speed * part]) for part in (np.sin(toward), np.cos(toward)))
    draw_barbs(root, np.array([AT]), east, north, np.array([lat]))
    return root


def strokes(root: ET.Element) -> list[list[tuple[float, float]]]:
    path = next(each for each in root.iter("path") if each.attrib["class"] == "barb")
    lines = re.findall(r"M([^M]+)", path.attrib["d"])
    return [[tuple(map(float, pair.split())) for pair in line.split("L")] for line in lines]  # type: ignore[misc]


@pytest.mark.parametrize(("from_deg", "tip"), [(0, (0, -1)), (90, (1, 0)), (180, (0, 1)), (270, (-1, 0))])
def test_the_staff_points_to_where_the_wind_comes_from(from_deg: float, tip: tuple[int, int]) -> None:
    staff = strokes(drawn(10.0, from_deg, 40.0))[0]
    assert staff[0] == AT
    assert staff[1] == pytest.approx((AT[0] + STAFF_PX * tip[0], AT[1] + STAFF_PX * tip[1]), abs=0.1)


@pytest.mark.external(
    source="WMO-No. 485, Manual on the GDPFS, appendix II-4, wind on charts", kind="standard", recalled=True
)
@pytest.mark.parametrize(("lat", "side"), [(40.0, 1), (-40.0, -1)])
def test_feathers_stand_on_the_side_of_the_lower_pressure(lat: float, side: int) -> None:
    # a northerly, seen from where it comes: it blows south, its left is east, the right of the paper
    feather = strokes(drawn(10.0, 0.0, lat))[1]
    assert np.sign(feather[1][0] - feather[0][0]) == side


@pytest.mark.external(
    source="WMO-No. 485, Manual on the GDPFS, appendix II-4, wind on charts", kind="standard", recalled=True
)
@pytest.mark.parametrize(
    ("speed_kn", "fifties", "tens", "fives"),
    [(5, 0, 0, 1), (7.4, 0, 0, 1), (10, 0, 1, 0), (25, 0, 2, 1), (48, 1, 0, 0), (65, 1, 1, 1), (105, 2, 0, 1)],
)
def test_feathers_add_up_to_the_speed(speed_kn: float, fifties: int, tens: int, fives: int) -> None:
    root = drawn(speed_kn, 30.0, -30.0)
    lengths = [np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in strokes(root)[1:]]
    longest = 9.66  # px, a whole feather
    assert sum(abs(length - longest) < 0.3 for length in lengths) == tens
    assert sum(abs(length - longest / 2.0) < 0.3 for length in lengths) == fives
    filled = "".join(each.attrib["d"] for each in root.iter("path") if each.attrib["class"] == "barb fifty")
    assert filled.count("Z") == fifties


def test_a_calm_is_a_ring_and_an_unknown_wind_nothing() -> None:
    assert [each.tag for each in drawn(1.0, 0.0, 0.0).iter("circle")] == ["circle"]
    unknown = drawn(np.nan, 0.0, 0.0)
    assert not list(unknown.iter("circle"))
    assert all(not each.attrib["d"] for each in unknown.iter("path"))
