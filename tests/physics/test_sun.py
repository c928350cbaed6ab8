"""Sun position and the light above the air: symmetries and dates that a reader can check by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.sun import day_of_year, extraterrestrial_w_m2, sun_position


def times(*texts: str) -> np.ndarray:
    return np.array(texts, dtype="datetime64[ns]")


def test_noon_sun_stands_north_of_a_southern_boat_and_south_of_a_northern_one() -> None:
    azimuth, elevation = sun_position(times("2027-05-09T00:00", "2027-05-09T12:00"), [-35.0, 50.0], [180.0, 0.0])
    assert abs((azimuth[0] + 180.0) % 360.0 - 180.0) < 2.0
    assert azimuth[1] == pytest.approx(180.0, abs=2.0)
    # declination on 9 May is 17.3 N: noon heights 90 - 35 - 17.3 and 90 - 50 + 17.3
    assert elevation == pytest.approx([37.7, 57.3], abs=0.3)


def test_sun_rises_in_the_east_and_sets_in_the_west() -> None:
    azimuth, elevation = sun_position(times("2027-03-20T06:15", "2027-03-20T18:00"), [0.0, 0.0], [0.0, 0.0])
    assert azimuth == pytest.approx([90.0, 270.0], abs=1.0)
    assert np.all(np.abs(elevation) < 3.0)


def test_both_sides_of_the_antimeridian_see_the_same_sun() -> None:
    moment = times("2027-05-12T01:00", "2027-05-12T01:00")
    azimuth, elevation = sun_position(moment, [-28.0, -28.0], [180.0, -180.0])
    assert azimuth[0] == pytest.approx(azimuth[1], abs=1e-9)
    assert elevation[0] == pytest.approx(elevation[1], abs=1e-9)


def test_day_of_year_counts_leap_days() -> None:
    given = times("2027-01-01T00:00", "2027-12-31T23:59", "2028-03-01T12:00", "2028-12-31T00:00")
    assert day_of_year(given).tolist() == [1, 365, 61, 366]


def test_earth_is_nearest_the_sun_in_january() -> None:
    january, july = extraterrestrial_w_m2([3, 185])
    assert january / july == pytest.approx((1.0167 / 0.9833) ** 2, rel=0.003)  # aphelion and perihelion, in au
