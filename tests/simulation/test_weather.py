"""The sky over a track, and the days drawn where the forecast ends."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from sky_case import HOUR, START, forecast_of, track_of

from planner.domain.errors import InputError
from planner.domain.glossary import SKY
from planner.domain.schema import check_dataset
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import extend
from planner.simulation.sky.weather import middles, sky_along


def even(forecast: xr.Dataset, **values: float) -> xr.Dataset:
    """The forecast with some quantities the same everywhere."""
    return forecast.assign({name: forecast[name] * 0.0 + value for name, value in values.items()}).map(
        lambda variable: variable.assign_attrs(forecast[variable.name].attrs)
    )


def test_sky_keeps_the_glossary_and_is_dark_at_night() -> None:
    sky = check_dataset(sky_along(track_of(), forecast_of()), SKY, door="sky")
    night = sky["sun_elevation_deg"].to_numpy() <= 0.0
    assert 0.4 < night.mean() < 0.7
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
        assert np.array_equal(sky[name].to_numpy()[:, night], np.zeros((3, night.sum())))
        assert sky[name].to_numpy()[:, ~night].min() > 0.0


def test_beam_and_diffuse_close_on_global() -> None:
    sky = sky_along(track_of(), forecast_of(layers=True))
    height = np.sin(np.radians(np.maximum(sky["sun_elevation_deg"], 0.0)))
    rebuilt = sky["dni_w_m2"] * height + sky["dhi_w_m2"]
    assert float(np.abs(rebuilt - sky["ghi_w_m2"]).max()) < 1e-9


def test_cloudless_members_get_the_clear_sky_at_mid_step() -> None:
    track = track_of()
    sky = sky_along(track, even(forecast_of(), cloud_cover=0.0))
    _, _, clear, _ = clear_sky(*middles(track))
    assert np.allclose(sky["ghi_w_m2"], clear[None, :], rtol=1e-12, atol=0.0)


def test_layers_win_over_total_cover() -> None:
    forecast = even(forecast_of(layers=True), cloud_cover=1.0, cloud_low=0.0, cloud_middle=0.0, cloud_high=0.0)
    _, _, clear, _ = clear_sky(*middles(track_of()))
    assert np.allclose(sky_along(track_of(), forecast)["ghi_w_m2"], clear[None, :])
    without = forecast.drop_vars(["cloud_low", "cloud_middle", "cloud_high"])
    assert float(sky_along(track_of(), without)["ghi_w_m2"].sum()) < 0.7 * clear.sum() * 3


def test_a_brighter_member_gets_no_less_light_at_any_step() -> None:
    forecast = forecast_of(layers=True)
    brighter = forecast.assign({name: forecast[name] * 0.5 for name in forecast if str(name).startswith("cloud")})
    brighter = brighter.map(lambda variable: variable.assign_attrs(forecast[variable.name].attrs))
    for member in range(3):  # by itself: an ensemble's members are also set apart from their mean
        more, less = (sky_along(track_of(), f.isel(member=[member]))["ghi_w_m2"] for f in (brighter, forecast))
        assert bool((more >= less).all())


def test_mid_step_is_half_the_run_on() -> None:
    time, lat, lon = middles(track_of(step_min=60))
    assert time[0] == START + np.timedelta64(30, "m")
    assert lat[0] == pytest.approx(-32.0 + 3.0 * np.cos(np.radians(40.0)) / 60.0)
    assert lon[0] == pytest.approx(178.0 + 3.0 * np.sin(np.radians(40.0)) / 60.0 / np.cos(np.radians(lat[0])))


@pytest.mark.parametrize("lon", [(176.0, 184.0), (-184.0, -176.0)])
def test_either_side_of_the_antimeridian_is_met_on_the_grid(lon: tuple[float, float]) -> None:
    forecast = forecast_of(lon=lon)
    place = forecast["lon"] if lon[0] > 0 else forecast["lon"] + 360.0
    forecast = even(forecast, air_temp_c=0.0)
    forecast["air_temp_c"] = (forecast["air_temp_c"] + place).assign_attrs(units="degree_Celsius")
    sky = sky_along(track_of(), forecast)
    _, _, east = middles(track_of())
    assert np.allclose(sky["air_temp_c"].to_numpy(), (east % 360.0)[None, :], atol=1e-9)
    assert not sky["beyond_forecast"].any()


def test_a_gap_at_the_end_is_filled_flagged_and_told() -> None:
    track = track_of(hours=48.0)
    forecast = extend(forecast_of(hours=30), START, seed=1)
    sky = sky_along(track, forecast)
    late = middles(track)[0] > START + 30 * HOUR
    assert np.array_equal(sky["beyond_forecast"].to_numpy() == 1, late)
    assert np.isfinite(sky["ghi_w_m2"]).all()
    assert late.sum() == 18 * 6  # of the 48 hours in steps of ten minutes, those after the thirtieth


def test_less_than_half_covered_is_refused() -> None:
    with pytest.raises(InputError, match=r"invented\.nc: 5\d% of the passage.*at most 50%.*longer forecast"):
        sky_along(track_of(hours=48.0), extend(forecast_of(hours=21), START, START + 72 * HOUR, seed=1))


def test_a_route_off_the_grid_is_refused_with_the_likely_cause() -> None:
    with pytest.raises(InputError, match=r"100% of the passage lies outside the forecast's grid.*swapped"):
        sky_along(track_of(lat=10.0), forecast_of())


def test_a_short_way_off_the_grid_the_edge_is_held_and_flagged() -> None:
    sky = sky_along(track_of(hours=24.0, lat=-34.5), forecast_of())
    flagged = sky["beyond_forecast"].to_numpy() == 1
    assert 0.1 < flagged.mean() < 0.5
    assert np.isfinite(sky["ghi_w_m2"]).all()
