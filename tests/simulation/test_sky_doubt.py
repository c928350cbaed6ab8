"""The doubt of the light along a track: a single run's outcomes, an ensemble's spread, a stale forecast's age."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest
import xarray as xr
from sky_case import HOUR, START, forecast_of, track_of

from planner.domain.inputs.given import SeenSky
from planner.physics.sky.doubt import BRIGHTEST, MEMORY_H, WIND_MEMORY_H
from planner.presentation.words.notes import all_said
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.climate import clearness_at
from planner.simulation.sky.forecast_calendar import cloud_is_typed, extend, has_one_wind, staleness, wind_of
from planner.simulation.sky.warnings import sky_warnings
from planner.simulation.sky.weather import middles, sky_along


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


def test_what_the_panels_showed_moves_all_outcomes_and_is_forgotten() -> None:
    seen = SeenSky(datetime.fromisoformat(f"{START.astype('datetime64[s]')}+00:00"), -0.5)
    for run in (lone(), forecast_of(hours=240, members=3)):
        drawn, moved = (extend(run, START, seed=1, lone_outcomes=4, seen=each) for each in (None, seen))
        apart = (moved["light_error"] - drawn["light_error"]).to_numpy()
        hours = (moved["calendar"].to_numpy() - START) / HOUR
        assert apart == pytest.approx(np.broadcast_to(-0.5 * np.exp(-hours / MEMORY_H), apart.shape))
        assert np.array_equal(moved["light_trust"], drawn["light_trust"])


def test_typed_cloud_goes_before_what_the_panels_showed() -> None:
    run = forecast_of(hours=48, members=3)
    typed = run.assign(
        cloud_by_hand=("time", np.ones(run.sizes["time"])), seen_cover=("time", np.full(run.sizes["time"], 0.5))
    )
    seen = SeenSky(datetime.fromisoformat(f"{START.astype('datetime64[s]')}+00:00"), -0.5)
    drawn, moved = (extend(typed, START, seed=1, seen=each) for each in (None, seen))
    assert np.array_equal(moved["light_error"], drawn["light_error"])
    assert cloud_is_typed(typed, seen.at)
    assert not cloud_is_typed(run, seen.at)


def in_steady_weather(cover: float) -> tuple[np.ndarray, np.ndarray]:
    """Energy of 200 outcomes and of the run by day, in parts of a cloudless day, under one cover for eight days."""
    track = track_of(hours=192.0)
    still = track.assign(lat=track["lat"] * 0.0 - 30.0, lon=track["lon"] * 0.0 + 178.0)
    run = lone().assign(cloud_cover=lone()["cloud_cover"] * 0.0 + cover)
    clear = clear_sky(*middles(still))[2].reshape(-1, 144).sum(axis=1) / 6.0
    drawn, own = (daily_wh(sky_along(still, each)) for each in (extend(run, START, seed=1, lone_outcomes=200), run))
    return drawn / clear, own[0] / clear


def test_outcomes_of_an_overcast_run_come_back_towards_the_seasons_days() -> None:
    drawn, own = in_steady_weather(1.0)
    usual = clearness_at(START[None], np.array([-30.0]))[0]
    back = (drawn.mean(axis=0) - own) / (usual - own)
    assert 0.0 < back[0] < 0.2
    assert np.all(np.diff(back) > 0.0)
    assert 0.2 < back[-1] < 0.5  # eight days of one weather speak for the place, too


def test_no_outcome_is_brighter_by_the_day_than_the_clear_sky_allows() -> None:
    drawn, own = in_steady_weather(0.0)
    assert own == pytest.approx(1.0)
    assert drawn.max() <= BRIGHTEST
    assert (drawn > 1.05).mean() < 0.01  # TAO's days at 0 N 140 W: under 1 %
    assert drawn[:, 0].std() < 0.06  # a clear run is in little doubt


def test_one_wind_error_of_each_outcome_is_in_what_it_sails_and_the_control_has_none() -> None:
    run = extend(lone(), START, seed=1, lone_outcomes=400)
    assert not has_one_wind(run)
    control = wind_of(run)
    for name in ("east", "north"):
        error = run[f"wind_{name}_error_m_s"].to_numpy()
        stated = lone()[f"wind_{name}_m_s"].to_numpy()[0]
        within = slice(0, len(stated))  # past its end each outcome has days of its own
        assert np.array_equal(control[f"wind_{name}_m_s"][0, within], stated)
        own = wind_of(run, member=7)[f"wind_{name}_m_s"].to_numpy()[0, within]
        assert np.allclose(own - stated, error[7, within, None, None])
        assert error.std(axis=0)[[0, -1]] == pytest.approx([1.0, 4.5], rel=0.15)
        later = [np.corrcoef(error[:, i], error[:, i + 10])[0, 1] for i in range(0, 71, 5)]
        assert np.mean(later) == pytest.approx(np.exp(-30.0 / WIND_MEMORY_H), abs=0.05)


def test_members_that_tell_the_winds_doubt_get_none_beside_but_for_age() -> None:
    ensemble = forecast_of(members=5).assign_attrs(issued=f"{START.astype('datetime64[s]')}Z")
    fresh, stale = (extend(ensemble, START + age * HOUR, seed=1) for age in (0, 60))
    assert not fresh["wind_east_error_m_s"].to_numpy().any()
    assert stale["wind_east_error_m_s"].to_numpy().any()
    one_wind = ensemble.assign({name: ensemble[name] * 0.0 + 5.0 for name in ("wind_east_m_s", "wind_north_m_s")})
    assert has_one_wind(one_wind)
    assert not has_one_wind(extend(one_wind, START, seed=1))


def test_one_outcome_asked_for_is_the_run_without_a_doubt() -> None:
    track = track_of(hours=48.0)
    plain, one = (sky_along(track, f)["ghi_w_m2"] for f in (lone(), extend(lone(), START, seed=1)))
    assert np.array_equal(plain, one)


def test_a_wind_file_without_cloud_has_the_seasons_light_and_its_doubt() -> None:
    windy = lone().drop_vars("cloud_cover")
    track = track_of(hours=192.0)
    still = track.assign(lat=track["lat"] * 0.0 - 30.0, lon=track["lon"] * 0.0 + 178.0)
    sky = sky_along(still, extend(windy, START, seed=1, lone_outcomes=200))
    clear = clear_sky(*middles(still))[2].reshape(-1, 144).sum(axis=1) / 6.0
    index = daily_wh(sky) / clear
    assert index.mean() == pytest.approx(clearness_at(START[None], np.array([-30.0]))[0], abs=0.02)
    assert 0.13 < index.std() < 0.25  # MERRA-2's days of May scatter so at 32 places near 30 S
    told = all_said(sky_warnings(sky, extend(windy, START, seed=1, lone_outcomes=200)))
    assert any("neither cloud nor sunlight: its light is what the season usually gives" in words for words in told)
    assert len(index) == 200


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
