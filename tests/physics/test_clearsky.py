"""The cloudless sky: night, monotony, and the calendar of the turbidity."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.clearsky import clear_sky_ghi, turbidity_on_day

MONTHLY = np.arange(1.0, 13.0)[None, :]


def turbidity(day: int, *, leap: bool = False) -> float:
    return float(turbidity_on_day(MONTHLY, np.array([day]), np.array([leap]))[0])


def test_night_is_exactly_dark() -> None:
    elevation = np.array([-60.0, -5.0, -1e-9, 0.0])
    assert np.array_equal(clear_sky_ghi(elevation, np.full(4, 3.0), np.full(4, 1361.0)), np.zeros(4))


def test_light_comes_without_a_step_at_sunrise() -> None:
    elevation = np.array([1e-6, 0.1, 1.0])
    ghi = clear_sky_ghi(elevation, np.full(3, 3.0), np.full(3, 1361.0))
    assert np.all(np.diff(ghi) > 0.0)
    assert ghi[0] < 1e-3
    assert ghi[2] < 15.0


def test_higher_sun_gives_more_light_and_haze_takes_it() -> None:
    elevation = np.linspace(1.0, 90.0, 90)
    clean, hazy = (clear_sky_ghi(elevation, np.full(90, t), np.full(90, 1361.0)) for t in (2.5, 5.0))
    assert np.all(np.diff(clean) > 0.0)
    assert np.all(hazy < clean)


def test_overhead_sun_by_hand() -> None:
    # sea level: 0.868 * E * exp(-0.0387 * m * (1 + TL - 1)), m = 1 / (1 + 0.50572 * 96.07995^-1.6364)
    mass = 1.0 / (1.0 + 0.50572 * 96.07995**-1.6364)
    expected = 0.868 * 1361.0 * np.exp(-0.0387 * mass * 3.0)
    ghi = clear_sky_ghi(np.array([90.0]), np.array([3.0]), np.array([1361.0]))
    assert ghi[0] == pytest.approx(expected, rel=1e-12)


def test_turbidity_holds_at_the_middle_of_each_month() -> None:
    # the middle of February is day 45 of any year; of March, day 74.5 or 75.5
    assert turbidity(45) == pytest.approx(2.0)
    assert 0.5 * (turbidity(74) + turbidity(75)) == pytest.approx(3.0, abs=1e-3)
    assert 0.5 * (turbidity(75, leap=True) + turbidity(76, leap=True)) == pytest.approx(3.0, abs=1e-3)


def test_turbidity_runs_on_over_new_year() -> None:
    # from December (12) at day 349.5 to January (1) at day 380.5
    assert turbidity(365) == pytest.approx(12.0 - 11.0 * (365.0 - 349.5) / 31.0)
    assert turbidity(1) == pytest.approx(12.0 - 11.0 * (1.0 + 15.5) / 31.0)
