"""The doubt of the light along a track: a single run's outcomes, an ensemble's spread, a stale forecast's age."""

from __future__ import annotations

import numpy as np
import xarray as xr
from sky_case import HOUR, START, forecast_of, track_of

from planner.presentation.words.notes import all_said
from planner.simulation.sky.forecast_calendar import extend, staleness
from planner.simulation.sky.warnings import sky_warnings
from planner.simulation.sky.weather import sky_along


def lone(*, begun: np.datetime64 = START, hours: int = 240) -> xr.Dataset:
    run = forecast_of(hours=hours, members=1)
    return run.assign_attrs(issued=f"{begun.astype('datetime64[s]')}Z")


def daily_wh(sky: xr.Dataset) -> np.ndarray:
    """Energy by outcome and day [Wh/m2]."""
    ghi = sky["ghi_w_m2"].to_numpy()
    return ghi.reshape(ghi.shape[0], -1, 144).sum(axis=2) / 6.0


def test_a_single_run_is_given_outcomes_that_part_with_time() -> None:
    track = track_of(hours=192.0)
    there = track.assign(lat=track["lat"] * 0.0 - 30.0, lon=track["lon"] * 0.0 + 178.0)
    sky = sky_along(there, extend(lone(), START, seed=1, lone_outcomes=200))
    energy = daily_wh(sky)
    assert energy.shape == (200, 8)
    spread = energy.std(axis=0) / energy.mean(axis=0)
    assert 0.03 < spread[0] < spread[-3:].mean() < 0.5


def test_the_middle_outcome_is_the_run_itself() -> None:
    track = track_of(hours=48.0)
    own = sky_along(track, lone())["ghi_w_m2"].to_numpy()[0]
    drawn = sky_along(track, extend(lone(), START, seed=1, lone_outcomes=20))["ghi_w_m2"].to_numpy()
    lit = own > 50.0
    assert np.all((drawn[:, lit] > own[lit]).sum(axis=0) == 10)


def test_one_outcome_asked_for_is_the_run_without_a_doubt() -> None:
    track = track_of(hours=48.0)
    plain, one = (sky_along(track, f)["ghi_w_m2"] for f in (lone(), extend(lone(), START, seed=1)))
    assert np.array_equal(plain, one)


def test_outcomes_are_seeded() -> None:
    track = track_of(hours=24.0)
    one, again, other = (
        sky_along(track, extend(lone(), START, seed=s, lone_outcomes=4))["ghi_w_m2"].to_numpy() for s in (1, 1, 2)
    )
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)


def test_an_older_run_is_in_more_doubt() -> None:
    track = track_of(hours=48.0)
    fresh, stale = (
        daily_wh(sky_along(track, extend(lone(begun=START - age * HOUR), START, seed=1, lone_outcomes=200)))
        for age in (6, 96)
    )
    assert np.all(stale.std(axis=0) > 1.2 * fresh.std(axis=0))


def test_a_stale_ensemble_is_set_wider_and_a_fresh_one_errs_no_more() -> None:
    track = track_of(hours=48.0)
    ensemble = forecast_of(members=30)
    fresh, stale = (
        ensemble.assign_attrs(issued=f"{(START - age * HOUR).astype('datetime64[s]')}Z") for age in (12, 120)
    )
    assert staleness(fresh, START) == np.timedelta64(0)
    assert staleness(stale, START) == 102 * HOUR
    assert not extend(fresh, START, seed=1)["light_error"].to_numpy().any()
    narrow, wide = (daily_wh(sky_along(track, extend(f, START, seed=1))).std(axis=0) for f in (fresh, stale))
    assert np.all(wide > narrow)


def test_warnings_say_from_which_hour_on_the_forecast_ends() -> None:
    forecast = extend(lone(hours=30), START, seed=1)
    told = all_said(sky_warnings(sky_along(track_of(hours=48.0), forecast), forecast))
    assert told == [
        "The forecast ends at 2027-05-10 06:00 UTC, 30 hours after departure: from then on, for 38% of the passage, "
        "the weather is drawn from the forecast's own days. Plan again under way with a fresh forecast."
    ]


def test_warnings_tell_of_a_late_begin_an_edge_and_a_lone_run() -> None:
    late = extend(forecast_of().assign_attrs(notes="x is odd."), START - 6 * HOUR, seed=1)
    track = track_of(hours=30.0, lat=-34.8)
    track = track.assign_coords(time=track["time"] - 6 * HOUR)
    told = all_said(sky_warnings(sky_along(track, late), late))
    assert told[0].startswith("The forecast begins at 2027-05-09 00:00 UTC, 6 hours after departure: until then")
    assert "the boat is outside the forecast's grid" in told[1]
    assert told[2:] == ["Forecast: x is odd."]
    run = extend(lone(), START, seed=1, lone_outcomes=20)
    assert "a single run, without members: the spread shown is that of 20 outcomes" in " ".join(
        all_said(sky_warnings(sky_along(track_of(hours=24.0), run), run))
    )


def test_a_stale_forecast_is_told_with_its_age() -> None:
    forecast = extend(lone(begun=START - 62 * HOUR), START, seed=1)
    told = all_said(sky_warnings(sky_along(track_of(hours=24.0), forecast), forecast))
    assert told[0].startswith(
        "The forecast is stale: it was begun at 2027-05-06 10:00 UTC, 62 hours before departure"
    )


def test_a_fresh_forecast_that_reaches_gives_no_warning() -> None:
    forecast = extend(forecast_of(), START, seed=1)
    assert sky_warnings(sky_along(track_of(hours=24.0), forecast), forecast) == []
