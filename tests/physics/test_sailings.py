"""Great circles and rhumb lines: closed forms, inverses of each other, dateline and poles."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sailing.sailings import (
    RECTIFYING_M,
    great_circle,
    great_circle_point,
    rectifying_latitude,
    rhumb_line,
    rhumb_line_point,
)

STARTS = np.array([[-35.3, 174.1], [0.0, 0.0], [60.0, -179.9], [-85.0, 20.0], [41.0, 179.99]])
BEARINGS = np.array([32.0, 90.0, 271.0, 155.0, 90.0])
DISTANCES = np.array([2.0e6, 5.0e6, 3.0e5, 4.0e5, 1.0e4])


def test_a_degree_along_the_equator() -> None:
    distance, bearing = great_circle(0.0, 179.5, 0.0, -179.5)
    assert float(distance) == pytest.approx(6378137.0 * np.pi / 180.0, abs=1e-6)
    assert float(bearing) == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("inverse", "direct"), [(great_circle, great_circle_point), (rhumb_line, rhumb_line_point)], ids=["gc", "rhumb"]
)
def test_the_point_found_lies_at_the_distance_and_bearing_asked(inverse, direct) -> None:
    lat, lon, _ = direct(STARTS[:, 0], STARTS[:, 1], BEARINGS, DISTANCES)
    distance, bearing = inverse(STARTS[:, 0], STARTS[:, 1], lat, lon)
    np.testing.assert_allclose(distance, DISTANCES, atol=1e-3)
    np.testing.assert_allclose(bearing, BEARINGS, atol=1e-6)
    assert np.all((lon >= -180.0) & (lon < 180.0))


@pytest.mark.parametrize("direct", [great_circle_point, rhumb_line_point])
def test_one_number_and_an_array_of_it_give_the_same(direct) -> None:
    one = direct(-35.3, 174.1, 32.0, 2.0e6)
    many = direct(np.full(3, -35.3), np.full(3, 174.1), np.full(3, 32.0), np.full(3, 2.0e6))
    for number, array in zip(one, many, strict=True):
        np.testing.assert_allclose(array, np.full(3, number), rtol=1e-15)


def test_backwards_along_a_great_circle_returns_to_the_start() -> None:
    lat, lon, bearing = great_circle_point(STARTS[:, 0], STARTS[:, 1], BEARINGS, DISTANCES)
    back_lat, back_lon, back_bearing = great_circle_point(lat, lon, bearing, -DISTANCES)
    np.testing.assert_allclose(back_lat, STARTS[:, 0], atol=1e-9)
    np.testing.assert_allclose((back_lon - STARTS[:, 1] + 180.0) % 360.0 - 180.0, 0.0, atol=1e-8)
    np.testing.assert_allclose(back_bearing, BEARINGS, atol=1e-8)


def test_a_great_circle_over_the_pole_comes_down_the_other_side() -> None:
    lat, lon, bearing = great_circle_point(89.0, 10.0, 0.0, 2.0 * float(great_circle(89.0, 10.0, 90.0, 10.0)[0]))
    assert lat == pytest.approx(89.0, abs=1e-9)
    assert abs(lon) == pytest.approx(170.0, abs=1e-6)
    assert bearing == pytest.approx(180.0, abs=1e-6)


def test_a_rhumb_line_on_a_parallel_is_its_radius_times_the_longitude() -> None:
    phi = np.radians(50.0)
    radius = 6378137.0 * np.cos(phi) / np.sqrt(1.0 - 0.0066943799901413165 * np.sin(phi) ** 2)  # e2 of WGS84
    distance, bearing = rhumb_line(50.0, 170.0, 50.0, -170.0)
    assert float(distance) == pytest.approx(radius * np.radians(20.0), rel=1e-11)
    assert float(bearing) == pytest.approx(90.0)


def test_near_a_parallel_the_two_ways_of_stretching_meet() -> None:
    apart = np.degrees(1e-5) * np.array([0.999, 1.001])  # each side of the switch
    distance, _ = rhumb_line(-40.0, 0.0, -40.0 + apart, 8.0)
    assert abs(distance[1] - distance[0]) < 1.0


def test_a_rhumb_line_along_a_meridian_is_the_great_circle() -> None:
    there, _ = rhumb_line(-10.0, 30.0, 55.0, 30.0)
    assert float(there) == pytest.approx(float(great_circle(-10.0, 30.0, 55.0, 30.0)[0]), abs=1e-5)


def test_the_rectifying_latitude_spans_the_quarter_meridian() -> None:
    assert RECTIFYING_M * rectifying_latitude(np.pi / 2) == pytest.approx(
        float(great_circle(0, 0, 90, 0)[0]), abs=1e-5
    )


def test_the_great_circle_is_never_longer_than_the_rhumb_line() -> None:
    random = np.random.default_rng(3)
    lat1, lat2 = random.uniform(-70, 70, (2, 200))
    lon1, lon2 = random.uniform(-180, 180, (2, 200))
    assert np.all(great_circle(lat1, lon1, lat2, lon2)[0] <= rhumb_line(lat1, lon1, lat2, lon2)[0] + 1e-3)
