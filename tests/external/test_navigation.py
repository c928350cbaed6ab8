"""Sailings, variation, apparent wind and routes against outside sources."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from planner.physics.sailing.boards import course_made_good, course_to_steer
from planner.physics.sailing.magnetism import field_at
from planner.physics.sailing.sailings import great_circle, great_circle_point, rhumb_line, rhumb_line_point
from planner.physics.sailing.wind import apparent_wind
from planner.readers.route import read_route

M_PER_NM = 1852.0


def degrees(whole: float, minutes: float, seconds: float = 0.0) -> float:
    return whole + minutes / 60.0 + seconds / 3600.0


def apart(a, b):
    return np.abs((np.asarray(a) - np.asarray(b) + 180.0) % 360.0 - 180.0)


@pytest.fixture(scope="module")
def geodesics(open_data: Path) -> np.ndarray:
    return np.loadtxt(open_data / "nav" / "GeodTest-100.dat")


@pytest.mark.external(source="GeodTest-100, GeographicLib's test geodesics for WGS84", kind="dataset")
def test_inverse_great_circle(geodesics: np.ndarray) -> None:
    lat1, lon1, azimuth, lat2, lon2, _, length = geodesics.T[:7]
    distance, bearing = great_circle(lat1, lon1, lat2, lon2)
    np.testing.assert_allclose(distance, length, atol=1e-6)  # the data's own figures end at 0.1 um
    assert apart(bearing, azimuth).max() < 1e-3  # what is asked of a bearing; most agree to 1e-9


@pytest.mark.external(source="GeodTest-100, GeographicLib's test geodesics for WGS84", kind="dataset")
def test_direct_great_circle(geodesics: np.ndarray) -> None:
    lat1, lon1, azimuth, lat2, lon2, azimuth2, length = geodesics.T[:7]
    lat, lon, bearing = great_circle_point(lat1, lon1, azimuth, length)
    miss, _ = great_circle(lat, lon, lat2, lon2)
    assert miss.max() < 1e-3  # Vincenty's series is good to half a millimetre, half way round the world
    away_from_poles = np.abs(lat2) < 89.0
    assert apart(bearing, azimuth2)[away_from_poles].max() < 1e-3


@pytest.mark.external(source="pyproj (PROJ) geodesics", kind="library")
def test_legs_of_a_passage_agree_to_a_millimetre() -> None:
    from pyproj import Geod

    random = np.random.default_rng(7)
    lat, lon = random.uniform(-80, 80, 500), random.uniform(-180, 180, 500)
    bearing, distance = random.uniform(0, 360, 500), random.uniform(0, 5.0e6, 500)
    ours = great_circle_point(lat, lon, bearing, distance)
    lon2, lat2, _ = Geod(ellps="WGS84").fwd(lon, lat, bearing, distance)
    miss, _ = great_circle(ours[0], ours[1], lat2, lon2)
    assert miss.max() < 1e-3


@pytest.mark.external(source="geographiclib, geodesics laid end to end", kind="library")
def test_a_rhumb_line_keeps_its_bearing_and_its_length() -> None:
    from geographiclib.geodesic import Geodesic

    # Laid end to end, 1600 short geodesics along the line are as long as the line (each cuts its corner by 0.2 um)
    # and run on its bearing.
    distance, bearing = (float(value) for value in rhumb_line(-35.3, 174.1, -21.1, -175.2))
    along = np.linspace(0.0, distance, 1601)
    lat, lon, _ = rhumb_line_point(np.full(1601, -35.3), np.full(1601, 174.1), np.full(1601, bearing), along)
    pieces = [Geodesic.WGS84.Inverse(*ends) for ends in zip(lat[:-1], lon[:-1], lat[1:], lon[1:], strict=True)]
    assert sum(piece["s12"] for piece in pieces) == pytest.approx(distance, rel=1e-9)
    middle = [(piece["azi1"] + piece["azi2"]) / 2.0 for piece in pieces]
    np.testing.assert_allclose(middle, bearing, atol=1e-4)
    assert (lat[-1], lon[-1]) == pytest.approx((-21.1, -175.2), abs=1e-9)


@pytest.mark.external(
    source="Bowditch, American Practical Navigator (2024), art. 910, example 1, by quotation", kind="handbook"
)
def test_mercator_sailing_course_and_distance() -> None:
    distance, bearing = rhumb_line(degrees(32, 14.7), -degrees(66, 28.9), degrees(36, 58.7), -degrees(75, 42.2))
    assert float(bearing) == pytest.approx(301.8, abs=0.1)  # printed to a tenth
    # The book divides the minutes of latitude by the cosine of a course rounded to a tenth, which moves it by 0.5 nm.
    assert 284.0 / np.cos(np.radians(float(bearing))) == pytest.approx(538.7, abs=0.8)
    # And it counts a minute of latitude as a mile; at 34.6 degrees it is 0.17 % short of one.
    assert float(distance) / M_PER_NM == pytest.approx(538.7, rel=3e-3)


@pytest.mark.external(
    source="Bowditch, American Practical Navigator (2024), art. 910, example 2, by quotation", kind="handbook"
)
def test_mercator_sailing_from_course_and_distance() -> None:
    lat, lon, _ = rhumb_line_point(degrees(75, 31.7), -degrees(79, 8.7), 155.0, 263.5 * M_PER_NM)
    # The minute of latitude is 0.45 % over a mile at 73.5 N: 1.1' of latitude, 1.8' of longitude on this course.
    assert float(lat) == pytest.approx(degrees(71, 32.9), abs=1.3 / 60.0)
    assert float(lon) == pytest.approx(-degrees(72, 34.1), abs=2.0 / 60.0)


@pytest.mark.external(
    source="Shufeldt and Newcomer, The Calculator Afloat (1980), rhumb line example, as corrected in a forum thread",
    kind="handbook",
)
def test_rhumb_line_by_calculator() -> None:
    distance, bearing = rhumb_line(
        degrees(43, 21, 16), -degrees(102, 54, 16), degrees(42, 4, 30), -degrees(106, 3, 8)
    )
    assert float(bearing) == pytest.approx(241.14, abs=0.02)  # printed to a hundredth, on another ellipsoid
    # A minute of latitude is counted as a mile; at 42.7 degrees it is 0.04 % short of one.
    assert float(distance) / M_PER_NM == pytest.approx(159.03, abs=0.1)


WMM_AT_SEA_LEVEL = [  # year, latitude, longitude, declination; the tables' rows at 0 km height
    (2020.0, 80.0, 0.0, -1.28),
    (2020.0, 0.0, 120.0, 0.16),
    (2020.0, -80.0, 240.0, 69.36),
    (2022.5, 80.0, 0.0, 0.01),
    (2022.5, 0.0, 120.0, -0.06),
    (2022.5, -80.0, 240.0, 69.13),
    (2025.0, 80.0, 0.0, 1.28),
    (2025.0, 0.0, 120.0, -0.16),
    (2025.0, -80.0, 240.0, 68.78),
    (2027.5, 80.0, 0.0, 2.59),
    (2027.5, 0.0, 120.0, -0.24),
    (2027.5, -80.0, 240.0, 68.49),
]


@pytest.mark.external(
    source="NCEI and BGS, World Magnetic Model 2020 and 2025: published test values, by quotation", kind="standard"
)
@pytest.mark.parametrize(("year", "lat", "lon", "declination"), WMM_AT_SEA_LEVEL)
def test_variation(year: float, lat: float, lon: float, declination: float) -> None:
    assert float(field_at(lat, lon, year)[0]) == pytest.approx(declination, abs=0.0051)  # printed to a hundredth


@pytest.mark.external(source="scipy, root of the vector equation", kind="library")
def test_course_to_steer_by_root_finding() -> None:
    from scipy.optimize import brentq

    def across(heading: float) -> float:
        course, _ = course_made_good(heading, 5.5, 75.0, 1.8)
        return float((course - 10.0 + 180.0) % 360.0 - 180.0)

    assert course_to_steer(10.0, 5.5, 75.0, 1.8)[0] == pytest.approx(brentq(across, -60.0, 60.0), abs=1e-9)


@pytest.mark.external(kind="common practice")
def test_apparent_wind_of_thumb() -> None:
    # Close-hauled the wind felt is the true wind and most of the boat's speed; running, the difference of the two.
    close, _ = apparent_wind(12.0, 45.0, 6.0, 0.0)
    astern, angle = apparent_wind(12.0, 180.0, 6.0, 0.0)
    assert 12.0 + 0.6 * 6.0 < close < 12.0 + 6.0
    assert astern == pytest.approx(6.0)
    assert abs(angle) == pytest.approx(180.0)


@pytest.mark.external(source="GPX files of GDAL's and gpxpy's test suites", kind="dataset")
def test_routes_from_other_hands(open_data: Path) -> None:
    short = read_route(open_data / "nav" / "gdal_rte_gpx11.gpx")  # GPX 1.1, with waypoints and a track beside
    assert [(point.lat, point.lon) for point in short] == [(5.0, 6.0), (8.0, 9.0), (11.0, 12.0)]
    long = read_route(open_data / "nav" / "trek_rte_120pts.gpx")  # GPX 1.0
    assert len(long) == 120
