"""Light under cloud typed by hand: its own relation, its own doubt for every outcome, and what the plan must say."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from sky_case import HOUR, START, forecast_of, track_of

from planner.domain.inputs.hand_weather import WeatherRow
from planner.physics.sky.doubt import hand_trust
from planner.presentation.words.notes import all_said
from planner.readers.hand_weather import carried_by_hand, forecast_by_hand
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.climate import clearness_at
from planner.simulation.sky.forecast_calendar import extend
from planner.simulation.sky.warnings import sky_warnings
from planner.simulation.sky.weather import middles, sky_along

ALL_CLOUD = ["cloud_cover"]
SINGLE = 1e-5  # W/m2 or C: a file is brought to new times in single precision


def rows_of(*oktas: float, hours: int = 24, begins: int = 0, **said: Any) -> list[WeatherRow]:
    """Rows of so many hours each, one after the other."""
    wind = {"wind_from": "SE", "wind_kn": 15.0, "air_temp_c": 20.0} | said
    begin = [f"{START + (begins + n * hours) * HOUR}Z" for n in range(len(oktas) + 1)]
    rows = [{"from": begin[n], "oktas": eighths} | wind for n, eighths in enumerate(oktas)]
    rows[-1]["until"] = begin[-1]
    return [WeatherRow.model_validate(row) for row in rows]


def ghi(sky: xr.Dataset) -> np.ndarray:
    return np.asarray(sky["ghi_w_m2"].to_numpy())


def clear(track: xr.Dataset) -> np.ndarray:
    return clear_sky(*middles(track))[2]


def daily_spread(sky: xr.Dataset) -> np.ndarray:
    """Standard deviation of each day's light over its mean."""
    sums = ghi(sky).reshape(sky.sizes["member"], -1, 144).sum(axis=2)
    return np.asarray(sums.std(axis=0) / sums.mean(axis=0))


def test_light_is_the_clear_skys_by_an_observers_relation_row_by_row() -> None:
    track = track_of(hours=48.0)
    sky = sky_along(track, forecast_by_hand(rows_of(6, 8), where="p"))
    cover = np.repeat([0.75, 1.0], 144)
    assert ghi(sky)[0] == pytest.approx(clear(track) * (1.0 - 0.357 * cover) * (1.0 - 0.154 * cover**8), abs=1e-9)
    assert sky["cloud_cover"].to_numpy()[0] == pytest.approx(cover, abs=1e-12)
    assert not sky["beyond_forecast"].any()


def test_a_wind_only_file_gets_the_same_light_for_all_its_members() -> None:
    track = track_of(hours=48.0)
    file = forecast_of(members=3).drop_vars(ALL_CLOUD)
    sky = sky_along(track, carried_by_hand(file, rows_of(3, 5, 8), where="p"))
    alone = sky_along(track, forecast_by_hand(rows_of(3, 5, 8), where="p"))
    assert ghi(sky) == pytest.approx(np.repeat(ghi(alone), 3, axis=0), abs=1e-9)
    own_air = sky_along(track, forecast_of(members=3))["air_temp_c"].to_numpy()
    assert sky["air_temp_c"].to_numpy() == pytest.approx(own_air, abs=SINGLE)


@pytest.mark.parametrize("layers", [False, True])
def test_beyond_a_file_the_relation_changes_with_the_kind_of_cloud(layers: bool) -> None:
    track = track_of(hours=48.0)
    file = forecast_of(members=1, hours=24, layers=layers)
    sky = sky_along(track, carried_by_hand(file, rows_of(8, begins=24), where="p"))
    own = ghi(sky_along(track_of(hours=24.0), file))
    assert ghi(sky)[:, :144] == pytest.approx(own, abs=SINGLE)
    assert ghi(sky)[0, 144:] == pytest.approx(clear(track)[144:] * 0.643 * 0.846, abs=1e-6)


def test_a_file_with_sunlight_alone_is_carried_on_too() -> None:
    file = forecast_of(members=2, hours=24).drop_vars(ALL_CLOUD)
    moments = file["time"].to_numpy()
    lat, lon = np.meshgrid(file["lat"].to_numpy(), (file["lon"].to_numpy() + 180.0) % 360.0 - 180.0, indexing="ij")
    light = np.stack(
        [clear_sky(np.full(lat.size, t), lat.ravel(), lon.ravel())[2].reshape(lat.shape) for t in moments]
    )
    sunny = file.assign(ghi_w_m2=(("member", "interval", "lat", "lon"), np.stack([0.5 * light] * 2)))
    sunny = sunny.assign_coords(interval=moments, interval_end=("interval", moments))
    joined = carried_by_hand(sunny, rows_of(0, begins=24), where="p")
    track = track_of(hours=48.0)
    index = ghi(sky_along(track, joined)) / np.maximum(clear(track), 1.0)
    lit = clear(track) > 100.0
    assert index[:, lit & (np.arange(lit.size) < 144)] == pytest.approx(0.5, abs=0.01)
    assert index[:, lit & (np.arange(lit.size) >= 144)] == pytest.approx(1.0, abs=1e-9)


def test_typed_cloud_is_in_more_doubt_than_a_run_and_the_more_the_later() -> None:
    track = track_of(hours=192.0)
    still = track.assign(lat=track["lat"] * 0.0 - 30.0, lon=track["lon"] * 0.0 + 178.0)
    rows = rows_of(*[3.6] * 8)  # 0.839 of a cloudless sky, as a model's three quarters
    typed = extend(forecast_by_hand(rows, where="p"), START, seed=1, lone_outcomes=200)
    spread = daily_spread(sky_along(still, typed))
    # a day that is told in the right word errs by 13 to 20 % at two stations, brightness and scatter together
    assert 0.13 < spread[0] < 0.20
    assert spread[0] < spread[1] < spread[4]
    assert spread[-1] > 1.2 * spread[0]
    model = forecast_by_hand(rows, where="p").drop_vars(["seen_cover", "cloud_by_hand", "wind_by_hand"])
    cover = xr.full_like(model["air_temp_c"], 0.75)
    run = extend(model.assign(cloud_cover=cover), START, seed=1, lone_outcomes=200)
    assert np.all(daily_spread(sky_along(still, run))[:4] < spread[:4])


def test_each_member_of_a_wind_only_ensemble_gets_its_own_outcome_of_the_doubt() -> None:
    track = track_of(hours=24.0)
    joined = carried_by_hand(forecast_of(members=10).drop_vars(ALL_CLOUD), rows_of(4, 4, 4), where="p")
    sky = sky_along(track, extend(joined, START, seed=1))
    noon = ghi(sky)[:, int(np.argmax(clear(track)))]
    assert sky.sizes["member"] == 10
    assert np.unique(noon).size == 10
    assert 0.05 < noon.std() / noon.mean() < 0.3


def test_an_ensembles_own_hours_err_no_more_for_what_is_typed_beyond() -> None:
    track = track_of(hours=48.0)
    file = forecast_of(members=4, hours=24)
    joined = extend(carried_by_hand(file, rows_of(6, begins=24), where="p"), START, seed=1)
    own = sky_along(track_of(hours=24.0), extend(file, START, seed=1))
    both = sky_along(track, joined)
    assert ghi(both)[:, :144] == pytest.approx(ghi(own), abs=SINGLE)
    noon = 144 + int(np.argmax(clear(track)[144:]))
    assert np.unique(ghi(both)[:, noon]).size == 4


def test_typed_cloud_ages_from_when_it_can_have_been_heard() -> None:
    alone = forecast_by_hand(rows_of(6, 6, 6, 6), where="p")
    later = carried_by_hand(forecast_of(members=1, hours=48), rows_of(6, 6, begins=48), where="p")
    stale = carried_by_hand(
        forecast_of(members=1, hours=96).drop_vars(ALL_CLOUD).assign_attrs(issued=f"{START - 200 * HOUR}Z"),
        rows_of(6, 6, 6, 6),
        where="p",
    )
    # rows that begin where a file ends were heard by departure, not when they begin; an old file ages no bulletin
    for typed, begins in ((alone, 0), (later, 51), (stale, 0)):
        extended = extend(typed, START, seed=1, lone_outcomes=4)
        hours = (extended["calendar"].to_numpy() - START) / HOUR
        under_rows = (hours >= begins) & (hours <= 96.0)
        assert under_rows.sum() > 10
        assert extended["light_trust"].to_numpy()[:, under_rows] == pytest.approx(
            np.tile(hand_trust(hours[under_rows]), (4, 1)), abs=1e-12
        )
        assert extended["light_error"].to_numpy()[:, under_rows].all()


def test_a_plan_beyond_the_rows_draws_from_their_days_and_errs_as_they_do() -> None:
    track = track_of(hours=48.0)
    short = extend(forecast_by_hand(rows_of(8), where="p"), START, seed=1, lone_outcomes=200)
    sky = sky_along(track, short)
    assert sky["beyond_forecast"].to_numpy().mean() == pytest.approx(0.5)
    middle = np.median(ghi(sky)[:, 144:].sum(axis=1)) / clear(track)[144:].sum()
    assert 0.552 < middle < clearness_at(START[None], np.array([-32.0]))[0]  # on the way from the word to the usual
    assert daily_spread(sky)[1] > daily_spread(sky)[0]


def test_the_warning_tells_hours_and_doubt() -> None:
    forecast = extend(forecast_by_hand(rows_of(6, 6), where="p"), START, seed=1, lone_outcomes=20)
    sky = sky_along(track_of(hours=48.0), forecast)
    (told,) = all_said(sky_warnings(sky, forecast))
    assert told.startswith(
        "Typed by hand: the cloud and the wind of 100% of the passage, 2027-05-09 00:00 UTC to 2027-05-10 23:50 UTC, "
        "as rows of [[weather]] have it."
    )
    spread = daily_spread(sky)
    assert f"errs by {spread.min():.0%} to {spread.max():.0%} (standard deviation over 20 outcomes)" in told


def test_the_warning_tells_typed_cloud_and_a_files_wind_apart() -> None:
    instead = [row.model_copy(update={"instead": True}) for row in rows_of(6, wind_from=None, wind_kn=None)]
    rows = [*instead[:-1], instead[-1].model_copy(update={"until": None}), *rows_of(6, begins=24)]
    forecast = carried_by_hand(forecast_of(members=4, hours=24), rows, where="p")
    told = " ".join(
        all_said(sky_warnings(sky_along(track_of(hours=48.0), extend(forecast, START, seed=1)), forecast))
    )
    assert (
        "the cloud of 100% of the passage, 2027-05-09 00:00 UTC to 2027-05-10 23:50 UTC, and the wind of 50%" in told
    )
    cloud = carried_by_hand(forecast_of(members=4).drop_vars(ALL_CLOUD), rows_of(6, 6, 6), where="p")
    told = " ".join(all_said(sky_warnings(sky_along(track_of(hours=48.0), extend(cloud, START, seed=1)), cloud)))
    assert "2027-05-10 23:50 UTC, as rows of [[weather]] have it." in told
    assert "the wind of" not in told


def test_a_lone_run_beside_typed_cloud_is_told_as_well() -> None:
    forecast = carried_by_hand(forecast_of(members=1, hours=24), rows_of(6, begins=24), where="p")
    extended = extend(forecast, START, seed=1, lone_outcomes=4)
    told = all_said(sky_warnings(sky_along(track_of(hours=48.0), extended), extended))
    assert [words.split(":")[0] for words in told] == [
        "Typed by hand",
        "The forecast is a single run, without members",
    ]


def test_one_outcome_asked_for_leaves_typed_weather_without_a_doubt() -> None:
    forecast = extend(forecast_by_hand(rows_of(6, 6), where="p"), START, seed=1)
    sky = sky_along(track_of(hours=48.0), forecast)
    assert sky.sizes["member"] == 1
    assert "given no doubt, as model.lone_outcomes = 1 asks" in all_said(sky_warnings(sky, forecast))[0]


def test_rows_over_less_than_half_of_the_passage_are_refused() -> None:
    from planner.domain.errors import InputError

    forecast = extend(forecast_by_hand(rows_of(6), where="passage.toml"), START, seed=1)
    with pytest.raises(InputError, match=r"passage\.toml, \[\[weather\]\]: 67% of the passage.*type the weather on"):
        sky_along(track_of(hours=72.0), forecast)
