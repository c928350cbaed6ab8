"""The track file: cut at the antimeridian, nothing lost, plain JSON."""

from __future__ import annotations

import json
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_fixture import make_plan

from planner.presentation.files.track_geojson import split_at_antimeridian, to_geojson


def test_a_line_that_does_not_cross_stays_whole() -> None:
    assert split_at_antimeridian([170.0, 179.0], [-30.0, -31.0]) == [[[170.0, -30.0], [179.0, -31.0]]]


def test_an_eastward_crossing_is_cut_on_the_antimeridian() -> None:
    assert split_at_antimeridian([179.0, 181.0], [-30.0, -32.0]) == [
        [[179.0, -30.0], [180.0, -31.0]],
        [[-180.0, -31.0], [-179.0, -32.0]],
    ]


def test_a_westward_crossing_is_cut_on_the_antimeridian() -> None:
    assert split_at_antimeridian([-179.0, -181.0], [10.0, 12.0]) == [
        [[-179.0, 10.0], [-180.0, 11.0]],
        [[180.0, 11.0], [179.0, 12.0]],
    ]


def test_a_point_on_the_antimeridian_belongs_to_both_sides() -> None:
    assert split_at_antimeridian([179.0, 180.0, 181.0], [0.0, 1.0, 2.0]) == [
        [[179.0, 0.0], [180.0, 1.0]],
        [[-180.0, 1.0], [-179.0, 2.0]],
    ]


def test_a_line_that_ends_on_the_antimeridian_is_not_cut() -> None:
    assert split_at_antimeridian([179.0, 180.0], [0.0, 1.0]) == [[[179.0, 0.0], [180.0, 1.0]]]


def test_a_line_that_begins_on_the_antimeridian_going_west_keeps_to_its_side() -> None:
    assert split_at_antimeridian([-180.0, -181.0], [0.0, 1.0]) == [[[180.0, 0.0], [179.0, 1.0]]]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-5.0, 5.0), min_size=2, max_size=30), st.floats(-400.0, 400.0))
def test_parts_hold_the_whole_course_within_range(strides: list[float], begin: float) -> None:
    lon = [begin]
    for stride in strides:
        lon.append(lon[-1] + stride)
    parts = split_at_antimeridian(lon, [0.0] * len(lon))
    assert all(-180.0 <= x <= 180.0 for part in parts for x, _ in part)
    assert all(abs(b[0] - a[0]) < 180.0 for part in parts for a, b in pairwise(part))
    gone = sum(abs(b[0] - a[0]) for part in parts for a, b in pairwise(part))
    assert gone == pytest.approx(sum(abs(stride) for stride in strides), abs=1e-3)  # positions are rounded


def test_windows_watches_and_waypoints_are_all_there() -> None:
    plan = make_plan()
    kinds = [feature["properties"]["kind"] for feature in to_geojson(plan)["features"]]
    assert kinds.count("track") == 1
    assert kinds.count("engine") == len(plan.windows)
    assert kinds.count("watch") == len(plan.watches)
    assert kinds.count("waypoint") == len(plan.route)


def test_it_is_plain_json_without_nan() -> None:
    assert json.loads(json.dumps(to_geojson(make_plan()), allow_nan=False))["type"] == "FeatureCollection"


def test_the_track_runs_from_departure_to_destination() -> None:
    plan = make_plan()
    track = to_geojson(plan)["features"][0]["geometry"]["coordinates"]
    assert track[0][0] == [pytest.approx(plan.route[0].lon, abs=1e-4), pytest.approx(plan.route[0].lat, abs=1e-4)]
    assert track[-1][-1] == [plan.route[-1].lon, plan.route[-1].lat]


def test_a_watch_stands_where_the_track_is_at_its_start() -> None:
    plan = make_plan()
    feature = next(f for f in to_geojson(plan)["features"] if f["properties"]["kind"] == "watch")
    assert feature["geometry"]["coordinates"] == [
        pytest.approx(float(plan.track["lon"][0]), abs=1e-4),
        pytest.approx(float(plan.track["lat"][0]), abs=1e-4),
    ]
