"""The map: whole across the 180th meridian, labelled, with its land where land is."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from plan_fixture import make_plan, with_inputs, with_voyage

from planner.domain.results.plan import Plan
from planner.presentation.drawing.maps.coastline import land_within
from planner.presentation.drawing.maps.graticule import latitude_label, line_step, longitude_label
from planner.presentation.drawing.maps.track_map import track_map


def moved(plan: Plan, east_deg: float) -> Plan:
    """Return the plan sailed elsewhere, so many degrees further east."""

    def wrap(lon: object) -> object:
        return (lon + east_deg + 180.0) % 360.0 - 180.0  # type: ignore[operator]

    route = tuple(point.model_copy(update={"lon": wrap(point.lon)}) for point in plan.route)
    return with_voyage(with_inputs(plan, route=route), track=plan.track.assign(lon=wrap(plan.track["lon"])))


def drawn(plan: Plan) -> ET.Element:
    return ET.fromstring(str(track_map(plan).drawings[0]))


def track_points(root: ET.Element) -> np.ndarray:
    path = root.find(".//path[@class='line track']").get("d")
    assert path.count("M") == 1
    return np.array([[float(x), float(y)] for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path)])


def test_the_track_is_unbroken_across_180_degrees() -> None:
    jumps = np.hypot(*np.diff(track_points(drawn(make_plan())), axis=0).T)
    assert jumps.max() < 5.0


@pytest.mark.parametrize("east_deg", [-180.0, -5.0, 40.0])
def test_no_meridian_is_special(east_deg: float) -> None:
    here, there = track_points(drawn(make_plan())), track_points(drawn(moved(make_plan(), east_deg)))
    np.testing.assert_allclose(here, there, atol=0.15)  # the paper's coordinates are written to 0.1


def test_meridians_are_labelled_on_both_sides_of_180() -> None:
    labels = {text.text for text in drawn(make_plan()).iter("text")}
    assert {"175\N{DEGREE SIGN}E", "180\N{DEGREE SIGN}", "175\N{DEGREE SIGN}W"} <= labels


def test_meridian_labels_stand_at_their_longitudes() -> None:
    root = drawn(make_plan())
    at = {text.text: float(text.get("x")) for text in root.iter("text") if text.get("class") == "meridian"}
    spacing = at["180\N{DEGREE SIGN}"] - at["175\N{DEGREE SIGN}E"]
    assert at["175\N{DEGREE SIGN}W"] - at["180\N{DEGREE SIGN}"] == pytest.approx(spacing, abs=0.2)
    start = track_points(root)[0, 0]
    assert start == pytest.approx(at["175\N{DEGREE SIGN}E"] - spacing * (175.0 - 174.12) / 5.0, abs=0.3)


@pytest.mark.parametrize(
    ("degrees", "label"),
    [
        (175.0, "175°E"),
        (180.0, "180°"),
        (-180.0, "180°"),
        (185.0, "175°W"),
        (0.0, "0°"),
        (360.0, "0°"),
        (174.5, "174°30m E"),
    ],
)
def test_longitude_labels(degrees: float, label: str) -> None:
    assert longitude_label(degrees).replace("\N{PRIME}", "m ") == label


def test_latitude_labels() -> None:
    assert [latitude_label(value) for value in (-30.0, 0.0, 12.5)] == ["30°S", "0°", "12°30\N{PRIME}N"]


@pytest.mark.parametrize("span", [0.3, 1.0, 4.0, 11.0, 17.0, 60.0, 170.0])
def test_a_sheet_has_from_two_to_six_lines(span: float) -> None:
    step, fine = line_step(span)
    assert 1 <= span / step <= 6
    assert step / fine == pytest.approx(round(step / fine))


def test_every_day_and_every_waypoint_is_marked() -> None:
    root = drawn(make_plan())
    assert len(root.findall(".//circle[@class='day-mark']")) == 7
    names = {text.text for text in root.iter("text") if text.get("class") == "waypoint-name"}
    assert names == {"Opua", "Off Minerva", "Nuku'alofa"}


def test_no_word_lies_over_another() -> None:
    plan = make_plan()
    near = plan.route[-1].model_copy(update={"name": "the pass", "lat": plan.route[-1].lat + 0.02})
    crowded = with_inputs(plan, route=(plan.route[0], *[near] * 8, plan.route[-1]))
    for drawing in track_map(crowded).drawings:
        boxes = []
        for text in ET.fromstring(str(drawing)).findall(".//g[@class='marks']/text"):
            x, y, room = float(text.get("x")), float(text.get("y")), 6.5 * len(text.text)
            left = x - room if text.get("text-anchor") == "end" else x
            boxes.append(shapely.box(left, y - 10.0, left + room, y + 3.0))
        assert len(boxes) >= 8
        assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


def test_words_stay_on_the_sheet() -> None:
    for drawing in track_map(make_plan()).drawings:
        root = ET.fromstring(str(drawing))
        width = float(root.get("viewBox").split()[2])
        for text in root.findall(".//g[@class='marks']/text"):
            room = 6.5 * len(text.text or "")
            left = float(text.get("x")) - (room if text.get("text-anchor") == "end" else 0.0)
            assert left > 0.0
            assert left + room < width + 1.0


def test_engine_runs_lie_on_the_track() -> None:
    root = drawn(make_plan())
    track = track_points(root)
    runs = root.findall(".//path[@class='line charges']") + root.findall(".//path[@class='line drives']")
    assert len(runs) == len(make_plan().windows)
    for run in runs:
        for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", run.get("d")):
            assert np.hypot(track[:, 0] - float(x), track[:, 1] - float(y)).min() < 0.2


def test_more_cloud_makes_a_broader_ribbon() -> None:
    plan = make_plan()

    def area(cloud: float) -> float:
        sky = plan.harvest.assign(cloud_cover=0.0 * plan.harvest["cloud_cover"] + cloud)
        path = drawn(with_voyage(plan, harvest=sky)).find(".//path[@class='area cloud']").get("d")
        return shapely.Polygon([(float(x), float(y)) for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path)]).area

    assert area(1.0) > 3.0 * area(0.2)


def test_a_short_hop_and_a_track_due_north_have_a_map() -> None:
    plan = make_plan()
    track = plan.track.assign(lon=0.0 * plan.track["lon"] + 179.99, lat=-20.0 + 0.0 * plan.track["lat"])
    still = with_voyage(plan, track=track)
    root = drawn(still)
    assert np.isfinite(track_points(root)).all()
    due_north = plan.track.assign(lon=0.0 * plan.track["lon"] - 30.0)
    assert np.isfinite(track_points(drawn(with_voyage(plan, track=due_north)))).all()


def test_a_map_is_small() -> None:
    assert sum(len(str(drawing)) for drawing in track_map(make_plan()).drawings) < 300_000


@pytest.mark.parametrize(
    ("box", "inside", "west", "east"),
    [
        ((178.0, 182.0, -18.0, -16.0), (180.05, -16.84), 179.95, 180.1),  # Taveuni, Fiji
        ((176.0, 184.0, 70.0, 72.0), (180.69, 71.2), 179.0, 182.0),  # Wrangel Island
    ],
)
def test_an_island_on_180_degrees_is_whole(
    box: tuple[float, float, float, float], inside: tuple[float, float], west: float, east: float
) -> None:
    (island,) = [piece for piece in shapely.get_parts(land_within(*box)) if piece.contains(shapely.Point(inside))]
    assert island.bounds[0] < west
    assert island.bounds[2] > east


@pytest.mark.parametrize("turn", [-360.0, 0.0])
def test_land_is_the_same_however_the_box_counts_longitude(turn: float) -> None:
    here = land_within(170.0 + turn, 190.0 + turn, -48.0, -34.0)
    assert here.area == pytest.approx(land_within(170.0, 190.0, -48.0, -34.0).area, rel=1e-9)


def test_mid_ocean_is_empty() -> None:
    assert land_within(-160.0, -150.0, -40.0, -35.0).is_empty


def test_an_empty_box_is_refused() -> None:
    with pytest.raises(ValueError, match="no box of longitudes 10"):
        land_within(10.0, 5.0, 0.0, 1.0)
