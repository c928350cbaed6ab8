"""What becomes of controllers' panels where the truth is known: sound, weak, weak from a day on, shaded."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from plain_sun import (
    START,
    STEPS_A_DAY,
    bearing_deg,
    day_of,
    elevation_deg,
    held_days,
    hour_of,
    index_of,
    judged_days,
    states_of_days,
    time_of,
)

from planner.domain.results.reconcile.findings import ControllerFinding
from planner.presentation.words.notes import said
from planner.studies.reconcile.panels.found import Held, clear_light, forecast_log_index, judge_controllers
from planner.studies.reconcile.panels.levels import panel_levels
from planner.studies.reconcile.panels.sun_bins import BEARING_DEG, ELEVATION_DEG, shadow_of, sun_bins, where_of
from planner.studies.reconcile.sky_found import find_sky

DAYS = 6
NAMES = ("arch", "bimini", "hatch")
BOAT = SimpleNamespace(
    controller=[SimpleNamespace(name=name, strings=((f"{name} panel",),)) for name in NAMES],
    panel=[SimpleNamespace(name=f"{name} panel", max_power_w=100.0, measured_fraction=1.0) for name in NAMES],
)


def judged(held: Held, ratios: dict | None = None) -> tuple[ControllerFinding, ...]:
    return judge_controllers(held, ratios or dict.fromkeys(NAMES, ()), boat=BOAT)


@pytest.fixture(scope="module")
def sound() -> Held:
    return held_days(DAYS, np.ones(3))


@pytest.fixture(scope="module")
def weak_from_day_four() -> Held:
    factor = np.ones((DAYS * STEPS_A_DAY, 3))
    factor[3 * STEPS_A_DAY :, 1] = 0.8
    return held_days(DAYS, factor)


@pytest.fixture(scope="module")
def shaded() -> Held:
    """Something stands to starboard of the third controller's panel: in the morning it gives half."""
    factor = np.ones((DAYS * STEPS_A_DAY, 3))
    bearing, sun = bearing_deg(DAYS), elevation_deg(DAYS)
    factor[(bearing > 60.0) & (bearing < 90.0) & (sun < 30.0), 2] = 0.5
    return held_days(DAYS, factor)


def test_sound_controllers_are_as_expected_and_their_intervals_hold_one(sound: Held) -> None:
    for finding in judged(sound):
        assert finding.verdict == "as expected"
        assert finding.since is None
        assert finding.ratio is not None
        assert finding.ratio.low < 1.0 < finding.ratio.high
        assert finding.ratio.value == pytest.approx(1.0, abs=0.04)


def test_days_add_up_to_the_hours_that_were_judged(sound: Held) -> None:
    finding = judged(sound)[0]
    assert [day.day for day in finding.days] == list(range(1, DAYS + 1))
    assert sum(day.hours for day in finding.days) == pytest.approx(finding.judged_h)
    for day in finding.days:
        assert day.read_wh == pytest.approx(day.expected_wh, rel=0.03)
        assert day.ratio.low < 1.0 < day.ratio.high


def test_one_that_is_weak_throughout_is_told_with_its_part(sound: Held) -> None:
    weak = judged(held_days(DAYS, np.array([1.0, 0.7, 1.0])))
    assert [finding.verdict for finding in weak] == ["as expected", "weak", "as expected"]
    assert weak[1].since is None  # from the first reading on
    assert weak[1].ratio is not None
    assert weak[1].ratio.low < 0.7 < weak[1].ratio.high


def test_a_change_is_dated_and_measured_against_the_time_before(weak_from_day_four: Held) -> None:
    finding = judged(weak_from_day_four)[1]
    assert finding.verdict == "weak"
    assert finding.since is not None
    late = np.datetime64(finding.since.replace(tzinfo=None)) - (START + 3 * np.timedelta64(24, "h"))
    assert abs(late / np.timedelta64(1, "h")) <= 9.0  # the first light after midnight of the fourth day
    assert finding.ratio is not None
    assert finding.ratio.value == pytest.approx(0.8, abs=0.02)


def test_levels_stand_on_either_side_of_the_change_and_none_is_granted_to_the_others(
    weak_from_day_four: Held,
) -> None:
    levels = weak_from_day_four.levels
    assert [level.granted for level in levels.of] == [False, True, False]
    assert levels.of[1].after - levels.of[1].before == pytest.approx(np.log(0.8), abs=0.01)


def test_a_loss_that_a_dark_substring_explains_is_called_one(weak_from_day_four: Held) -> None:
    third = np.full(DAYS * STEPS_A_DAY, 0.8)
    other = np.full(DAYS * STEPS_A_DAY, 0.5)
    told = judged(weak_from_day_four, {**dict.fromkeys(NAMES, ()), "bimini": (("bimini panel", third),)})[1]
    assert told.verdict == "substring out"
    assert "One dark substring of bimini panel would leave 80%" in said(told.evidence)
    not_told = judged(weak_from_day_four, {**dict.fromkeys(NAMES, ()), "bimini": (("bimini panel", other),)})[1]
    assert not_told.verdict == "weak"


@pytest.mark.parametrize(("full", "verdict"), [(True, "full bank"), (False, "cannot tell")])
def test_too_few_hours_carry_no_verdict_but_what_they_were_set_aside_for(full: bool, verdict: str) -> None:
    usable = np.zeros((2 * STEPS_A_DAY, 3), dtype=bool)
    usable[:STEPS_A_DAY] = (np.abs(hour_of(1) - 12.0) < 1.0)[:, None]
    held = held_days(2, np.ones(3), usable=usable)
    held.judged.full[:] = (elevation_deg(2) > 20.0)[:, None] & ~usable & full
    finding = judged(held)[0]
    assert finding.judged_h < 3.0
    assert finding.verdict == verdict


def test_a_single_controller_is_held_against_the_brightest_steady_hours() -> None:
    usable = np.zeros((DAYS * STEPS_A_DAY, 3), dtype=bool)
    usable[:, 0] = True
    alone = panel_levels(
        states_of_days(DAYS),
        held_days(DAYS, np.ones(3), usable=usable, clear_every=1).judged,
        time_of(DAYS),
        day_of(DAYS),
        np.log(index_of(DAYS)),
    )
    assert alone.of[0].after == pytest.approx(0.0, abs=0.03)  # every noon is clear
    assert alone.of[1].series.value.size == 0


# --- the sun's place -----------------------------------------------------------------------------------------------


def test_a_shadow_is_told_by_where_the_sun_stands(shaded: Held) -> None:
    finding = judged(shaded)[2]
    assert finding.verdict == "shaded"
    assert "60 to 90 degrees to starboard" in said(finding.evidence)
    assert finding.ratio is not None
    assert finding.ratio.value == pytest.approx(1.0, abs=0.05)  # with the sun elsewhere


def test_bins_hold_every_judged_step_once_at_its_place(shaded: Held) -> None:
    bins = sun_bins(shaded.levels, shaded.judged, shaded.day, 2)
    inside = np.flatnonzero(bins.of_step >= 0)
    assert bins.hours.sum() == pytest.approx(inside.size / 6.0)
    of_bin = bins.of_step[inside]
    assert (np.abs(bins.bearing_deg[of_bin] - shaded.judged.bearing_deg[inside]) <= BEARING_DEG / 2.0).all()
    assert (np.abs(bins.elevation_deg[of_bin] - shaded.judged.elevation_deg[inside]) <= ELEVATION_DEG / 2.0).all()
    assert bins.value[bins.deep] == pytest.approx(np.full(int(bins.deep.sum()), np.log(0.5)), abs=0.1)
    assert (bins.bearing_deg[bins.deep] == 75.0).all()


def test_only_what_is_shaded_has_a_shadow(shaded: Held, sound: Held) -> None:
    assert shadow_of(shaded.levels, shaded.judged, shaded.day, 2, began=None) is not None
    assert shadow_of(sound.levels, sound.judged, sound.day, 2, began=None) is None
    weak = held_days(DAYS, np.array([1.0, 0.7, 1.0]))
    assert shadow_of(weak.levels, weak.judged, weak.day, 1, began=None) is None


@pytest.mark.parametrize(
    ("bearings", "elevations", "words"),
    [
        ([75.0, 105.0], [22.5, 37.5], "with the sun 60 to 120 degrees to starboard, 15 to 45 degrees high"),
        ([285.0], [7.5], "with the sun 60 to 90 degrees to port, under 15 degrees high"),
        ([345.0, 15.0], [22.5, 22.5],
         "with the sun from 30 degrees to port across the bow to 30 to starboard, 15 to 30 degrees high"),
        ([165.0, 195.0], [22.5, 22.5],
         "with the sun from 150 degrees to starboard across the stern to 150 to port, 15 to 30 degrees high"),
        ([15.0, 105.0], [22.5, 22.5],
         "with the sun 0 to 30 degrees to starboard or 90 to 120 degrees to starboard, 15 to 30 degrees high"),
    ],
)  # fmt: skip
def test_a_shadows_place_is_said_by_the_side(bearings: list[float], elevations: list[float], words: str) -> None:
    bins = SimpleNamespace(
        bearing_deg=np.array(bearings), elevation_deg=np.array(elevations), deep=np.ones(len(bearings), dtype=bool)
    )
    assert said(where_of(bins)) == words


# --- the sky -------------------------------------------------------------------------------------------------------


def skies(days: int, *, forecast: float) -> tuple[xr.Dataset, xr.Dataset]:
    """The states' cloudless light, 900 W/m2 at the zenith, and a forecast of so much of it in five outcomes."""
    clear = 900.0 * np.maximum(np.sin(np.radians(elevation_deg(days))), 0.0)
    states = xr.Dataset(
        {"ghi_w_m2": (("member", "time"), np.stack([0.5 * clear, clear]))},
        coords={"clear_index": ("member", [0.5, 1.0])},
    )
    spread = np.linspace(0.9, 1.1, 5)
    harvest = xr.Dataset({"ghi_w_m2": (("member", "time"), forecast * spread[:, None] * clear)})
    return states, harvest


def test_the_light_found_is_the_light_that_was(sound: Held) -> None:
    states, harvest = skies(DAYS, forecast=0.5)
    finding = find_sky(sound, states, harvest)
    up = elevation_deg(DAYS) > 5.0
    clear = clear_light(states)
    true = float((index_of(DAYS) * clear)[up].sum()) / 6.0
    told = sum(day.found_wh_m2.value for day in finding.days)
    assert told == pytest.approx(true, rel=0.04)
    assert finding.of_forecast.value == pytest.approx(told / (0.5 * float(clear[up].sum()) / 6.0), rel=1e-6)
    assert finding.of_forecast.low < told / (0.5 * float(clear[up].sum()) / 6.0) < finding.of_forecast.high
    assert len(finding.days) == DAYS


def test_each_day_stands_beside_its_forecasts_spread(sound: Held) -> None:
    states, harvest = skies(DAYS, forecast=0.3)  # darker than any day was
    finding = find_sky(sound, states, harvest)
    for day in finding.days:
        low, middle, high = day.forecast_wh_m2
        assert (low / middle, high / middle) == pytest.approx((0.92, 1.08))  # a tenth and nine of five outcomes
        assert day.found_wh_m2.value > high
    assert f"0 darker and {DAYS} brighter" in said(finding.evidence)


def test_without_a_reading_by_day_the_sky_is_not_told() -> None:
    held = held_days(2, np.ones(3), usable=np.zeros((2 * STEPS_A_DAY, 3), dtype=bool))
    finding = find_sky(held, *skies(2, forecast=0.5))
    assert finding.days == ()
    assert finding.of_forecast.high == np.inf


def test_a_forecasts_index_is_its_mean_light_over_the_cloudless_and_held_by_night() -> None:
    states, harvest = skies(1, forecast=0.5)
    index = np.exp(forecast_log_index(states, harvest))
    by_day = elevation_deg(1) > 1.0
    assert index[by_day] == pytest.approx(np.full(int(by_day.sum()), 0.5))
    assert index[elevation_deg(1) < 0.0] == pytest.approx(np.full(72, 0.7))
    assert np.exp(forecast_log_index(*skies(1, forecast=2.0))).max() == pytest.approx(1.1)


def test_readings_of_a_plain_sun_are_what_the_tests_say() -> None:
    """The made readings themselves: noon's power is watts times index, and the mornings lie to starboard."""
    noon = int(np.argmax(elevation_deg(1)))
    read = np.exp(judged_days(1, np.ones(3)).log_w[noon])
    assert read == pytest.approx(np.array([200.0, 150.0, 100.0]) * np.sin(np.radians(70.0)), rel=0.1)
    assert bearing_deg(1)[40] == pytest.approx(90.0, abs=15.0)
