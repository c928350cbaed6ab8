"""Dirt and salt, rain and washes."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.array.soiling import soiled_fraction

DAY = 144  # steps of 10 minutes


def soiled(rain: np.ndarray, *, start: float = 0.03, wash_every_days: float = np.inf) -> np.ndarray:
    """Return the course of one member and one panel that gains half a percent a day, to five."""
    return soiled_fraction(
        [start],
        rain[None],
        step_h=1.0 / 6.0,
        per_day=0.005,
        at_most=0.05,
        rain_cleans_mm=5.0,
        left_after=0.01,
        wash_every_days=wash_every_days,
    )[0, :, 0]


def test_it_grows_by_the_day_and_stops_at_its_limit():
    course = soiled(np.zeros(6 * DAY))
    assert course[0] == 0.03
    assert course[2 * DAY] == pytest.approx(0.04)
    assert course[-1] == pytest.approx(0.05)


def test_a_panel_dirtier_than_the_limit_grows_no_dirtier():
    assert np.all(soiled(np.zeros(DAY), start=0.2) == 0.2)


def test_rain_counts_over_a_day():
    drizzle = np.zeros(3 * DAY)
    drizzle[DAY : DAY + 60] = 0.6  # 6 mm in ten hours: clean after 5 mm
    course = soiled(drizzle)
    assert course[DAY + 49] > 0.03
    assert course[DAY + 51] == pytest.approx(0.01)
    thin = np.full(3 * DAY, 0.15)  # 3.6 mm a day never adds up
    assert np.all(np.diff(soiled(thin, start=0.0)) >= 0.0)


def test_rain_does_not_soil_a_cleaner_panel():
    rain = np.zeros(DAY)
    rain[0] = 60.0
    assert soiled(rain, start=0.002)[1] < 0.01


def test_the_crew_washes_every_so_many_days():
    course = soiled(np.zeros(5 * DAY), wash_every_days=2.0)
    assert course[2 * DAY - 1] > 0.039
    assert course[2 * DAY] == pytest.approx(0.01)
    assert course[4 * DAY] == pytest.approx(0.01)
    assert course[4 * DAY - 1] > 0.019


def test_members_have_their_own_rain():
    rain = np.zeros((2, DAY))
    rain[1, 10] = 60.0
    figures = {"per_day": 0.0, "at_most": 0.05, "rain_cleans_mm": 5.0, "left_after": 0.0, "wash_every_days": np.inf}
    course = soiled_fraction([0.03, 0.02], rain, step_h=1.0 / 6.0, **figures)
    assert course.shape == (2, DAY, 2)
    assert np.all(course[0, -1] == [0.03, 0.02])
    assert np.all(course[1, -1] == 0.0)
