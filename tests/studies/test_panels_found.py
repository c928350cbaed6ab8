"""What becomes of controllers' panels where the truth is known: sound, weak, weak from a day on, shaded."""

from __future__ import annotations

import re

import numpy as np
import pytest
from plain_sun import (
    BOAT,
    NAMES,
    START,
    STEPS_A_DAY,
    bearing_deg,
    elevation_deg,
    harvest_of,
    held_days,
    hour_of,
    index_of,
    states_of,
)

from planner.presentation.words.notes import said
from planner.studies.reconcile.hours import clear_light, forecast_log_index
from planner.studies.reconcile.panels_found import Held, judge_controllers
from planner.studies.reconcile.sky.sky_states import Dark
from planner.studies.reconcile.sky_found import find_sky

DAYS = 6


@pytest.fixture(scope="module")
def sound() -> Held:
    return held_days(DAYS, np.ones(3))


def from_day_four(part: float) -> np.ndarray:
    factor = np.ones((DAYS * STEPS_A_DAY, 3))
    factor[3 * STEPS_A_DAY :, 1] = part
    return factor


@pytest.fixture(scope="module")
def weak_from_day_four() -> Held:
    return held_days(DAYS, from_day_four(0.8))


def test_sound_controllers_are_as_expected_and_their_intervals_hold_one(sound: Held) -> None:
    assert sound.found == ()
    for finding in judge_controllers(sound, boat=BOAT):
        assert finding.verdict == "as expected"
        assert finding.since is None
        assert finding.change is None
        assert finding.ratio is not None
        assert finding.ratio.low < 1.0 < finding.ratio.high
        assert finding.ratio.value == pytest.approx(1.0, abs=0.04)
        assert finding.causes[0].name == "none"
        assert sum(cause.share for cause in finding.causes) == pytest.approx(1.0)


def test_days_add_up_to_the_hours_that_were_judged(sound: Held) -> None:
    finding = judge_controllers(sound, boat=BOAT)[0]
    assert [day.day for day in finding.days] == list(range(1, DAYS + 1))
    assert sum(day.hours for day in finding.days) == pytest.approx(finding.judged_h)
    assert sum(part.hours for part in finding.by_sun) == pytest.approx(finding.judged_h)
    for day in finding.days:
        assert day.read_wh == pytest.approx(day.expected_wh, rel=0.05)
        assert day.ratio.low < 1.0 < day.ratio.high


def test_one_that_is_weak_throughout_is_told_with_its_part() -> None:
    weak = judge_controllers(held_days(DAYS, np.array([1.0, 0.7, 1.0])), boat=BOAT)
    assert [finding.verdict for finding in weak] == ["as expected", "weak", "as expected"]
    assert weak[1].since is None  # from the first reading on
    assert weak[1].change is None
    assert weak[1].ratio is not None
    assert weak[1].ratio.low < 0.7 < weak[1].ratio.high


def test_a_change_is_dated_and_measured_against_the_time_before(weak_from_day_four: Held) -> None:
    findings = judge_controllers(weak_from_day_four, boat=BOAT)
    assert [finding.verdict for finding in findings] == ["as expected", "weak", "as expected"]
    since, change = findings[1].since, findings[1].change
    assert since is not None
    late = np.datetime64(since.replace(tzinfo=None)) - (START + 3 * np.timedelta64(24, "h"))
    assert abs(late / np.timedelta64(1, "h")) <= 9.0  # the first light after midnight of the fourth day
    assert change is not None
    assert change.low < 0.8 < change.high
    assert change.high - change.low < 0.04
    before, after = findings[1].days[1].ratio, findings[1].days[4].ratio
    assert after.value / before.value == pytest.approx(0.8, abs=0.02)


def test_of_two_controllers_the_ratio_is_told_closely_and_each_ones_level_as_far_as_the_sky_is() -> None:
    read = np.ones((DAYS * STEPS_A_DAY, 3), dtype=bool)
    read[:, 2] = False
    findings = judge_controllers(held_days(DAYS, from_day_four(0.8), read=read), boat=BOAT)
    one = findings[1]
    assert one.verdict == "weak"
    assert one.change is not None
    assert one.ratio is not None
    assert one.change.low < 0.8 < one.change.high
    assert one.change.high - one.change.low < 0.5 * (one.ratio.high - one.ratio.low)
    assert "One of the two controllers changed" in said(one.evidence)
    assert findings[0].verdict == "as expected"
    assert findings[2].verdict == "cannot tell"


def test_a_loss_of_the_size_of_a_dark_substring_is_called_one() -> None:
    third, other = (np.full(DAYS * STEPS_A_DAY, np.log(part)) for part in (0.8, 0.5))

    def told(log_ratio: np.ndarray) -> str:
        darks = {**dict.fromkeys(NAMES, ()), "bimini": (Dark("bimini panel", "substring", log_ratio),)}
        finding = judge_controllers(held_days(DAYS, from_day_four(0.8), darks=darks), boat=BOAT)[1]
        assert ("one dark substring of bimini panel" in said(finding.evidence)) == (
            finding.verdict == "substring out"
        )
        return finding.verdict

    assert told(third) == "substring out"
    assert told(other) == "weak"


@pytest.mark.parametrize(("full", "verdict"), [(True, "full bank"), (False, "cannot tell")])
def test_too_few_hours_carry_no_verdict_but_what_they_were_set_aside_for(full: bool, verdict: str) -> None:
    short = np.repeat(((np.abs(hour_of(2) - 12.0) < 1.0) & (np.arange(288) < 144))[:, None], 3, axis=1)
    soc = np.where(short[:, 0], 0.6, 1.0)
    held = held_days(2, np.ones(3), soc=soc) if full else held_days(2, np.ones(3), read=short)
    finding = judge_controllers(held, boat=BOAT)[0]
    assert finding.judged_h < 3.0
    assert finding.verdict == verdict
    assert ("with the bank full" in said(finding.evidence)) == full


def test_a_single_controller_is_held_against_the_brightest_steady_hours() -> None:
    read = np.zeros((DAYS * STEPS_A_DAY, 3), dtype=bool)
    read[:, 0] = True
    alone = judge_controllers(held_days(DAYS, np.ones(3), read=read), boat=BOAT)
    assert alone[0].ratio is not None
    assert alone[0].ratio.low < 1.0 < alone[0].ratio.high
    assert "against the cloudless sky alone" in said(alone[0].evidence)
    assert alone[1].ratio is None


def test_a_shadow_is_told_by_where_the_sun_stands() -> None:
    """Something stands to starboard of the third controller's panel: in the morning it gives what is not beam."""
    factor = np.ones((DAYS * STEPS_A_DAY, 3))
    bearing, sun = bearing_deg(DAYS), elevation_deg(DAYS)
    factor[(bearing > 40.0) & (bearing < 80.0) & (sun < 60.0), 2] = 0.25
    finding = judge_controllers(held_days(DAYS, factor), boat=BOAT)[2]
    assert finding.verdict == "shaded"
    told = re.search(r"Short with the sun bearing (\d+) to (\d+) degrees", said(finding.evidence))
    assert told is not None
    assert (int(told[1]), int(told[2])) == pytest.approx((40, 80), abs=10)  # sectors are tried every ten degrees
    assert finding.ratio is not None
    assert finding.ratio.value == pytest.approx(1.0, abs=0.05)  # with the sun elsewhere
    dark = [part.ratio.value for part in finding.by_sun if 30.0 < part.relative_bearing_deg < 60.0]
    assert min(dark) < 0.4


def test_one_odd_hour_is_no_change() -> None:
    factor = np.ones((DAYS * STEPS_A_DAY, 3))
    factor[4 * STEPS_A_DAY + 66 : 4 * STEPS_A_DAY + 72, 1] = 0.5
    assert held_days(DAYS, factor).found == ()


# --- the sky -------------------------------------------------------------------------------------------------------


def test_the_light_found_is_the_light_that_was(sound: Held) -> None:
    finding = find_sky(sound, states_of(DAYS), harvest_of(DAYS, of_clear=0.5))
    up = elevation_deg(DAYS) > 5.0
    clear = clear_light(states_of(DAYS))
    true = float((index_of(DAYS) * clear)[up].sum()) / 6.0
    told = sum(day.found_wh_m2.value for day in finding.days)
    assert told == pytest.approx(true, rel=0.04)
    assert finding.of_forecast.value == pytest.approx(told / (0.5 * float(clear[up].sum()) / 6.0), rel=1e-6)
    assert finding.of_forecast.low < finding.of_forecast.value < finding.of_forecast.high
    assert len(finding.days) == DAYS


def test_each_day_stands_beside_its_forecasts_spread(sound: Held) -> None:
    finding = find_sky(sound, states_of(DAYS), harvest_of(DAYS, of_clear=0.3))  # darker than any day was
    for day in finding.days:
        low, middle, high = day.forecast_wh_m2
        assert (low / middle, high / middle) == pytest.approx((0.92, 1.08))  # a tenth and nine of five outcomes
        assert day.found_wh_m2.value > high
    assert f"0 darker and {DAYS} brighter" in said(finding.evidence)


def test_without_a_reading_by_day_the_sky_is_not_told() -> None:
    held = held_days(2, np.ones(3), read=np.zeros((2 * STEPS_A_DAY, 3), dtype=bool))
    finding = find_sky(held, states_of(2), harvest_of(2, of_clear=0.5))
    assert finding.days == ()
    assert finding.of_forecast.high == np.inf
    assert all(one.ratio is None for one in judge_controllers(held, boat=BOAT))


def test_a_forecasts_index_is_its_mean_light_over_the_cloudless_and_held_by_night() -> None:
    index = np.exp(forecast_log_index(states_of(1), harvest_of(1, of_clear=0.5)))
    by_day = elevation_deg(1) > 1.0
    assert index[by_day] == pytest.approx(np.full(int(by_day.sum()), 0.5))
    assert index[elevation_deg(1) < 0.0] == pytest.approx(np.full(72, 0.7))
    assert np.exp(forecast_log_index(states_of(1), harvest_of(1, of_clear=2.0))).max() == pytest.approx(1.1)
