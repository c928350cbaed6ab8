"""One change in a series of hourly figures: sizes and doubts in closed form, and what must not count as a change."""

from __future__ import annotations

import numpy as np
import pytest

from planner.studies.reconcile.panels.change_found import Errors, Series, find_change, find_level

HOURS_A_DAY = 5
START = np.datetime64("2027-05-09T22:00", "ns")


def series_of(value: np.ndarray, *, sd: float = 0.01, hours_a_day: int = HOURS_A_DAY) -> Series:
    """Return hours that follow one another, so many of them on each day."""
    hours = np.arange(value.size)
    day = hours // hours_a_day
    time = START + day * np.timedelta64(24, "h") + (hours % hours_a_day) * np.timedelta64(1, "h")
    return Series(time, value.astype(float), np.full(value.size, sd), day)


def stepped(before: float, after: float, *, at: int = 20, many: int = 40) -> np.ndarray:
    return np.where(np.arange(many) < at, before, after)


def test_hours_of_one_day_share_the_days_error_and_have_their_own():
    covariance = Errors(hour=2.0, day=0.05).covariance(series_of(np.zeros(3), sd=0.1, hours_a_day=2))
    own, shared = (2.0 * 0.1) ** 2, 0.05**2
    assert covariance == pytest.approx(
        np.array([[own + shared, shared, 0.0], [shared, own + shared, 0.0], [0.0, 0.0, own + shared]])
    )


@pytest.mark.parametrize("size", [-0.2, 0.1])
def test_a_step_is_found_where_it_is_with_its_sign_and_size(size: float):
    change = find_change(series_of(stepped(0.03, 0.03 + size)))
    assert change is not None
    assert change.at == 20
    assert change.size == pytest.approx(size)
    assert (change.before, change.after) == pytest.approx((0.03, 0.03 + size))
    assert change.slope_better_by < 0.0


def test_the_doubt_on_either_side_of_a_step_is_that_of_a_mean():
    # an hour a day, so hours err apart: each mean's variance is that of an hour over their count
    change = find_change(series_of(stepped(0.0, -0.3, at=10, many=40), hours_a_day=1))
    assert change is not None
    variance = (change.errors.hour * 0.01) ** 2 + change.errors.day**2
    assert change.before_sd == pytest.approx(np.sqrt(variance / 10))
    assert change.after_sd == pytest.approx(np.sqrt(variance / 30))


def test_hours_share_their_days_error_in_a_levels_doubt():
    """Two days of twelve hours: the hours' own variance is divided by 24, the days' by 2 alone."""
    days = np.repeat([0.03, -0.03, 0.03, -0.03], 12)
    change = find_change(series_of(stepped(0.0, -0.5, at=24, many=48) + days, sd=0.005, hours_a_day=12))
    assert change is not None
    assert change.at == 24
    own, shared = (change.errors.hour * 0.005) ** 2, change.errors.day**2
    assert change.before_sd == pytest.approx(np.sqrt(own / 24 + shared / 2))


def test_one_odd_hour_is_no_change():
    odd = np.zeros(40)
    odd[17] = -0.5
    change = find_change(series_of(odd))
    assert change is not None
    assert abs(change.z) < 2.0


def test_a_steady_slope_is_told_from_a_step():
    change = find_change(series_of(-0.005 * np.arange(40.0)))
    assert change is not None
    assert change.slope_better_by > 0.0


def test_fewer_than_three_hours_on_either_side_make_no_change():
    assert find_change(series_of(stepped(0.0, -1.0, at=3, many=5))) is None
    assert find_change(series_of(stepped(0.0, -1.0, at=3, many=6))) is not None


def test_the_level_of_hours_that_err_apart_is_their_weighted_mean():
    value = np.array([0.00, 0.01, 0.02, 0.00, 0.01, 0.02])
    level, deviation = find_level(series_of(value, sd=0.02, hours_a_day=1))
    assert level == pytest.approx(value.mean())
    assert 0.0 < deviation < 0.02


def test_a_day_with_many_hours_counts_little_more_than_a_day_with_one():
    value = np.concatenate([np.zeros(20), np.full(1, 0.1)])
    hours = Series(
        START + np.arange(21) * np.timedelta64(1, "h"), value, np.full(21, 0.001), np.repeat([0, 1], [20, 1])
    )
    assert find_level(hours)[0] == pytest.approx(0.05, abs=0.01)  # by hours it would be 0.005


def test_an_outlying_hour_hardly_moves_the_level():
    value = np.zeros(20)
    value[7] = 1.0
    assert abs(find_level(series_of(value, hours_a_day=1))[0]) < 0.3 * value.mean()
