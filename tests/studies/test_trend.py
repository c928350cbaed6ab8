"""Trends against closed forms, and on simulated noise: intervals hold the truth as often as they say."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from history_case import FIRST, MONTH_D, history, judged, scattered

from planner.domain.history_results import JudgedDay
from planner.domain.reconcile_results import LEVEL
from planner.studies.trend import trend, trends

SEEDS = 300
SAMPLING = 3.0 * float(np.sqrt(LEVEL * (1.0 - LEVEL) / SEEDS))  # three standard errors of a part of 300: 0.052


def test_days_on_a_line_give_the_line() -> None:
    days, truth = scattered(0, months=8, days=6, level=lambda year: 1.0 - 0.12 * year, own=1e-9, day=0.0)
    found = trend("arch", days)
    assert found.per_year is not None
    assert found.per_year.value == pytest.approx(-0.12, abs=1e-6)
    assert [one.ratio.value for one in found.months] == pytest.approx(truth, abs=2e-3)  # a month is no point
    assert [one.month for one in found.months] == [f"2027-0{number}" for number in range(1, 9)]
    assert [one.days for one in found.months] == [6] * 8
    assert found.months[0].hours == 30.0


def test_one_day_keeps_its_own_interval() -> None:
    day = judged(FIRST, 0.93, 0.02)
    found = trend("arch", [day])
    assert found.months[0].ratio.low == pytest.approx(day.ratio.low, abs=1e-6)
    assert found.months[0].ratio.high == pytest.approx(day.ratio.high, abs=1e-6)
    assert found.per_year is None
    assert found.months[0].fitted is None


def test_two_months_have_no_line() -> None:
    days, _ = scattered(1, months=2, days=9, level=lambda year: 1.0)
    assert trend("arch", days).per_year is None


def test_equal_days_have_the_interval_of_a_mean() -> None:
    """Nine days of one month with known errors and no scatter beyond: the error falls by the root of their number."""
    rng = np.random.default_rng(4)
    noise = rng.normal(size=9)
    noise *= 0.01 / noise.std(ddof=1)  # less than the days' own errors, so none is added
    days = [judged(FIRST + timedelta(days=each), 1.0 + float(noise[each]), 0.02) for each in range(9)]
    found = trend("arch", days)
    assert found.day_scatter == 0.0
    half = (found.months[0].ratio.high - found.months[0].ratio.low) / 2.0
    assert half == pytest.approx(1.8595 * 0.02 / 3.0 / np.sqrt(0.95), rel=1e-3)  # Student's t, 8 degrees, 95 %


def test_a_few_wild_days_hardly_move_a_month() -> None:
    days, _ = scattered(2, months=1, days=15, level=lambda year: 0.9)
    wild = [*days[:13], judged(days[13].begins, 0.3, 0.02), judged(days[14].begins, 0.35, 0.02)]
    calm, moved = trend("arch", days).months[0].ratio, trend("arch", wild).months[0].ratio
    assert abs(moved.value - calm.value) < 0.03  # the plain mean moves by 0.08
    assert moved.high - moved.low > calm.high - calm.low


CASES = {
    "a year, days scatter": {"months": 12, "days": 8},
    "a year, months scatter too": {"months": 12, "days": 8, "month": 0.02},
    "four short months": {"months": 4, "days": 5, "month": 0.01},
    "long tails": {"months": 12, "days": 8, "month": 0.01, "tails": True},
}


@pytest.mark.parametrize("case", CASES)
def test_intervals_hold_the_truth_as_often_as_they_say(case: str) -> None:
    slopes = months = every = 0
    for seed in range(SEEDS):
        days, truth = scattered(seed, level=lambda year: 1.0 - 0.05 * year, **CASES[case])  # type: ignore[arg-type]
        found = trend("arch", days)
        assert found.per_year is not None
        slopes += found.per_year.low <= -0.05 <= found.per_year.high
        held = [one.ratio.low <= true <= one.ratio.high for one, true in zip(found.months, truth, strict=True)]
        months, every = months + sum(held), every + len(held)
    assert slopes / SEEDS >= LEVEL - SAMPLING
    assert LEVEL - SAMPLING <= months / every <= LEVEL + SAMPLING


def test_a_slope_that_is_there_is_found_and_one_that_is_not_seldom() -> None:
    found = {0.0: 0, -0.1: 0}
    for slope in found:
        for seed in range(SEEDS):
            days, _ = scattered(
                seed, months=12, days=8, month=0.015, level=lambda year, slope=slope: 1.0 + slope * year
            )
            per_year = trend("arch", days).per_year
            assert per_year is not None
            found[slope] += per_year.high < 0.0
    assert found[-0.1] >= 0.95 * SEEDS
    assert found[0.0] <= ((1.0 - LEVEL) / 2.0 + SAMPLING) * SEEDS


def step_down(level: float) -> list[JudgedDay]:
    days, _ = scattered(7, months=10, days=8, level=lambda year: 1.0 if year < 0.415 else level)
    return days


def test_weak_since_the_month_from_which_all_are_low() -> None:
    weak = trend("arch", step_down(0.9)).weak_since
    assert weak == FIRST + timedelta(days=5 * MONTH_D)
    assert trend("arch", step_down(1.0)).weak_since is None


def test_a_low_spell_that_has_passed_is_not_weak() -> None:
    days, _ = scattered(7, months=6, days=8, level=lambda year: 0.85 if year < 0.2 else 1.0)
    assert trend("arch", days).weak_since is None


def test_a_sound_panel_is_seldom_called_weak() -> None:
    called = 0
    for seed in range(SEEDS):
        days, _ = scattered(seed, months=12, days=8, month=0.015, level=lambda year: 1.0)
        called += trend("arch", days).weak_since is not None
    assert called <= 0.03 * SEEDS


def test_months_go_by_the_middle_of_the_day_and_controllers_stay_apart() -> None:
    late = judged(datetime(2027, 1, 31, 22, tzinfo=UTC), 1.0, 0.02)
    other = judged(FIRST, 0.8, 0.02, "bimini")
    arch, bimini = trends(history([late], [other]))
    assert arch.months[0].month == "2027-02"
    assert (arch.controller, bimini.controller) == ("arch", "bimini")
    assert bimini.months[0].ratio.value == pytest.approx(0.8)
    assert trend("none", []).months == ()
