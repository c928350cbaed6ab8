"""The energy balance of readings, its weighted sums and their doubts: each reckoned by hand on a few steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.studies.reconcile.loads.balance import (
    BANK_GAIN,
    BLOCKS_A_DAY,
    CONTROLLER_GAIN,
    SHUNT_ZERO_A,
    Balance,
    Contrast,
    by_hour,
    contrast,
    day_scatter,
    scatter,
)

START = np.datetime64("2027-05-09T12:00", "ns")
HOURS_A_DAY = 24


def balance_of_hours(days: int, excess_w: np.ndarray, **more: np.ndarray) -> Balance:
    """Steps of an hour from midnight by ship's time; a lamp of 60 W by list and a pump that may be put off."""
    hour = np.arange(days * HOURS_A_DAY)
    item_w = np.stack([np.full(hour.size, 60.0), np.full(hour.size, 40.0)], axis=1)
    fields = {
        "time": START + hour * np.timedelta64(1, "h"),
        "read_w": 100.0 + excess_w,
        "listed_w": item_w.sum(axis=1),
        "item_w": item_w,
        "solar_w": np.zeros(hour.size),
        "bank_w": np.full(hour.size, -100.0),
        "volts": np.full(hour.size, 12.5),
        "hour": hour % HOURS_A_DAY,
        "block": hour // 4,
        "stretch": 2 * (hour // 4) + 1,
        "names": ("lamp", "pump"),
        "item_doubt": np.array([0.15, 0.15]),
        "deferrable": np.array([False, True]),
        "may_run": np.ones((2, HOURS_A_DAY), dtype=bool),
        "step_h": 1.0,
    }
    return Balance(**(fields | more))


def test_what_is_drawn_beyond_the_list_is_positive():
    assert balance_of_hours(1, np.full(24, 25.0)).excess_w == pytest.approx(np.full(24, 25.0))


def test_steps_hang_together_in_blocks_until_there_are_days_enough():
    few, many = (balance_of_hours(days, np.zeros(24 * days)) for days in (4, 5))
    assert np.array_equal(few.cluster, few.stretch)
    assert np.array_equal(many.cluster, many.block // BLOCKS_A_DAY)


def test_what_is_left_since_a_moment_is_the_same_steps():
    whole = balance_of_hours(2, np.arange(48.0))
    late = whole.since(START + np.timedelta64(30, "h"))
    assert late.excess_w == pytest.approx(np.arange(30.0, 48.0))
    assert late.names == whole.names
    assert late.hour.tolist() == whole.hour[30:].tolist()


def test_every_hour_of_the_day_has_the_same_say_however_often_it_was_read():
    hour = np.array([0, 0, 0, 7, 7, 12])
    assert by_hour(hour) == pytest.approx(np.array([1, 1, 1, 1.5, 1.5, 3.0]) / 9.0)
    chosen = np.array([True, True, False, True, False, False])
    assert by_hour(hour, chosen) == pytest.approx([0.25, 0.25, 0.0, 0.5, 0.0, 0.0])


def test_a_contrast_is_the_weighted_sum_with_the_sandwich_of_its_clusters():
    """Two blocks of 4 hours stray by +6 W and -6 W throughout: their sums are +3 and -3 W, and two blocks are few."""
    balance = replace(balance_of_hours(1, np.repeat([6.0, -6.0], 12)), stretch=np.repeat([0, 1], 12))
    weight = np.full(24, 1.0 / 24.0)
    told = contrast(balance, weight, balance.excess_w)
    assert told.value == pytest.approx(0.0)
    assert told.freedom == 1.0
    assert told.noise_sd == pytest.approx(np.sqrt((3.0**2 + 3.0**2) * 2.0 / 1.0))


def test_meters_err_by_their_gains_and_the_shunts_zero():
    balance = balance_of_hours(1, np.zeros(24), solar_w=np.full(24, 300.0), bank_w=np.full(24, 200.0))
    told = contrast(balance, np.full(24, 1.0 / 24.0), np.zeros(24))
    parts = 300.0 * CONTROLLER_GAIN, 200.0 * BANK_GAIN, 12.5 * SHUNT_ZERO_A
    assert told.meter_sd == pytest.approx(np.sqrt(sum(part**2 for part in parts)))


def test_a_lists_doubt_adds_up_over_its_loads():
    told = contrast(balance_of_hours(1, np.zeros(24)), np.full(24, 1.0 / 24.0), np.zeros(24))
    assert told.list_sd == pytest.approx(0.15 * np.hypot(60.0, 40.0))


def test_day_less_night_is_in_doubt_by_what_may_run_at_another_time():
    """The lamp, the same day and night, leaves a difference at once; the pump may have a habit of its own."""
    weight = np.where(np.arange(24) < 12, 1.0 / 12.0, -1.0 / 12.0)
    told = contrast(balance_of_hours(1, np.zeros(24)), weight, np.zeros(24))
    # 40 W all day, all run in one hour: 960 Wh times that hour's weight, plus or minus 1/12
    assert told.list_sd == pytest.approx(960.0 / 12.0)


def test_an_interval_leaves_out_the_lists_doubt_and_a_score_counts_it():
    told = Contrast(value=30.0, noise_sd=3.0, meter_sd=4.0, list_sd=12.0, freedom=1e9)
    interval = told.interval()
    assert (interval.low, interval.high) == pytest.approx((30.0 - 1.645 * 5.0, 30.0 + 1.645 * 5.0), abs=0.01)
    assert told.score == pytest.approx(30.0 / 13.0, rel=1e-6)


def test_few_blocks_widen_by_students_t():
    few = Contrast(value=30.0, noise_sd=3.0, meter_sd=0.0, list_sd=0.0, freedom=2.0)
    assert few.interval().high - 30.0 == pytest.approx(2.920 * 3.0, rel=1e-3)  # t table, 5 % on each side, 2 degrees
    assert few.score == pytest.approx(30.0 / (3.0 * 4.303 / 1.960), rel=1e-3)  # 2.5 %


def test_scatter_is_about_the_hours_own_mean_where_days_repeat():
    """Two days that differ by 2 W in every hour: 1 W off its mean either way, widened for two figures by root 2."""
    by_day = np.concatenate([np.arange(24.0), np.arange(24.0) + 2.0])
    strays = scatter(balance_of_hours(2, by_day))
    assert strays[:24] == pytest.approx(np.full(24, -np.sqrt(2.0)))
    assert strays[24:] == pytest.approx(np.full(24, np.sqrt(2.0)))
    assert scatter(balance_of_hours(1, np.arange(24.0))) == pytest.approx(np.arange(24.0) - 11.5)


def test_day_to_day_scatter_is_by_successive_differences():
    means = np.array([0.0, 2.0, 0.0, 4.0])
    balance = balance_of_hours(4, np.repeat(means, 24))
    deviation, freedom = day_scatter(balance, balance.excess_w, but_at=0)
    assert deviation == pytest.approx(np.sqrt((4.0 + 4.0 + 16.0) / 3.0 / 2.0))
    assert freedom == pytest.approx(2.0)
    # what begins with the third day leaves out the difference across its start
    deviation, _ = day_scatter(balance, balance.excess_w, but_at=2 * BLOCKS_A_DAY)
    assert deviation == pytest.approx(np.sqrt((4.0 + 16.0) / 2.0 / 2.0))
    assert day_scatter(balance_of_hours(2, np.zeros(48)), np.zeros(48), but_at=0)[0] == np.inf
