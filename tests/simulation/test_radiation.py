"""A forecast's own sunlight along a track: each span's energy comes out as it went in."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from sky_case import HOUR, START, forecast_of, track_of

from planner.domain.glossary import FORECAST_OPTIONAL
from planner.domain.schema import attributes
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import extend
from planner.simulation.sky.weather import middles, sky_along

LAT, LON = -30.0, 180.0  # a node of the forecast of ``forecast_of``


def anchored(hours: float = 48.0) -> xr.Dataset:
    """A boat that stays on one node, its steps laid on the whole ten minutes."""
    track = track_of(hours=hours)
    still = {"lat": LAT, "lon": -180.0, "speed_over_ground_kn": 0.0}
    return track.assign({name: track[name] * 0.0 + value for name, value in still.items()})


def with_light(forecast: xr.Dataset, every_h: int, *, members: int = 3, seed: int = 1) -> xr.Dataset:
    """Random indices from span to span, the same at all nodes, as mean light over each span at each node."""
    count = int((forecast["time"].to_numpy()[-1] - START) / HOUR) // every_h
    start = START + np.arange(count) * every_h * HOUR
    index = np.random.default_rng(seed).uniform(0.25, 1.05, (members, count))
    lat, lon = np.meshgrid(forecast["lat"], forecast["lon"], indexing="ij")
    moments = (np.arange(every_h * 6) * 600 + 300).astype("timedelta64[s]")
    place = (np.repeat(part.ravel(), moments.size) for part in (lat, (lon + 180.0) % 360.0 - 180.0))
    lats, lons = place
    clear = np.stack(
        [
            clear_sky(np.tile(begin + moments, lat.size), lats, lons)[2].reshape(*lat.shape, -1).mean(axis=-1)
            for begin in start
        ]
    )
    quantity = FORECAST_OPTIONAL["ghi_w_m2"]
    light = (quantity.dims, index[:, :, None, None] * clear, attributes(quantity))
    ends = ("interval", start + every_h * HOUR)
    return forecast.assign(ghi_w_m2=light).assign_coords(interval=start, interval_end=ends)


def alone(forecast: xr.Dataset) -> xr.Dataset:
    """One member: no spread is set apart, so that the light is the forecast's own."""
    return forecast.isel(member=[0])


@pytest.mark.parametrize("every_h", [1, 3, 6, 12])
def test_the_energy_of_every_span_is_kept_at_a_fixed_point(every_h: int) -> None:
    forecast = alone(with_light(forecast_of(), every_h))
    ghi = sky_along(anchored(), forecast)["ghi_w_m2"].to_numpy()[0]
    spans = ghi.reshape(-1, every_h * 6).mean(axis=1)
    given = forecast["ghi_w_m2"].sel(lat=LAT, lon=LON).to_numpy()[0, : spans.size]
    lit = given > 20.0
    assert lit.sum() >= 2
    assert np.allclose(spans[lit], given[lit], rtol=1e-3)
    assert abs(spans.sum() / given.sum() - 1.0) < 1e-3


def test_between_two_nodes_the_energy_of_both_is_shared() -> None:
    forecast = alone(with_light(forecast_of(), 3))
    track = anchored().assign(lat=anchored()["lat"] + 0.5)
    spans = sky_along(track, forecast)["ghi_w_m2"].to_numpy()[0].reshape(-1, 18).mean(axis=1)
    both = forecast["ghi_w_m2"].sel(lon=LON, lat=slice(LAT, LAT + 1.0)).to_numpy()[0].mean(axis=1)[: spans.size]
    assert np.allclose(spans[both > 20.0], both[both > 20.0], rtol=5e-3)


def test_the_index_is_held_overnight_and_the_night_stays_dark() -> None:
    sky = sky_along(anchored(), alone(with_light(forecast_of(), 3)))
    night = sky["sun_elevation_deg"].to_numpy() <= 0.0
    assert float(sky["ghi_w_m2"].to_numpy()[0, night].max()) == 0.0
    assert np.isfinite(sky["cloud_cover"].to_numpy()).all()


def test_light_wins_over_cloud_where_it_is_given_and_cloud_serves_beyond() -> None:
    forecast = with_light(forecast_of(), 3).isel(interval=slice(0, 8))  # the first day's
    bare = forecast_of()
    lit, clouded = (alone(each) for each in (forecast, bare))
    with_both, by_cloud = (sky_along(anchored(), each)["ghi_w_m2"].to_numpy()[0] for each in (lit, clouded))
    assert not np.allclose(with_both[:144], by_cloud[:144])
    assert np.array_equal(with_both[144:], by_cloud[144:])


def test_without_cloud_the_cover_is_that_which_lets_the_light_through() -> None:
    forecast = alone(with_light(forecast_of(), 3).drop_vars("cloud_cover"))
    sky = sky_along(anchored(), forecast)
    cover = sky["cloud_cover"].to_numpy()
    assert 0.0 <= cover.min() < 0.3
    assert 0.9 < cover.max() <= 1.0


def test_moments_of_light_are_met_at_their_times() -> None:
    forecast = with_light(forecast_of(), 1)
    times = forecast["interval_end"].to_numpy()
    lat, lon = np.meshgrid(forecast["lat"], forecast["lon"], indexing="ij")
    west = (lon.ravel() + 180.0) % 360.0 - 180.0
    now = np.stack([0.6 * clear_sky(np.full(lat.size, t), lat.ravel(), west)[2].reshape(lat.shape) for t in times])
    forecast["ghi_w_m2"] = (forecast["ghi_w_m2"] * 0.0 + now).assign_attrs(units="W m-2")
    forecast = alone(forecast.assign_coords(interval=times))
    track = anchored(24.0)
    ghi = sky_along(track, forecast)["ghi_w_m2"].to_numpy()[0]
    assert np.allclose(ghi[6:], 0.6 * clear_sky(*middles(track))[2][6:], rtol=1e-9, atol=1e-9)


def test_drawn_days_bring_their_own_light() -> None:
    forecast = extend(with_light(forecast_of(hours=48), 3), START, START + 72 * HOUR, seed=4)
    late = anchored(24.0).assign_coords(time=anchored(24.0)["time"] + 36 * HOUR)
    sky = sky_along(late, forecast)
    assert sky["beyond_forecast"].to_numpy().any()
    day = sky["sun_elevation_deg"].to_numpy() > 20.0
    assert float(sky["ghi_w_m2"].to_numpy()[:, day].min()) > 20.0


def test_the_direct_part_makes_the_beam() -> None:
    forecast = with_light(forecast_of(), 3)
    direct = (forecast["ghi_w_m2"] * 0.5).assign_attrs(units="W m-2")
    sky = sky_along(anchored(), alone(forecast.assign(direct_w_m2=direct)))
    height = np.sin(np.radians(sky["sun_elevation_deg"].to_numpy()))
    high = height > 0.2
    level = sky["dni_w_m2"].to_numpy()[0, high] * height[high]
    assert np.allclose(level, 0.5 * sky["ghi_w_m2"].to_numpy()[0, high], rtol=1e-9)
    closed = sky["dni_w_m2"] * np.maximum(height, 0.0) + sky["dhi_w_m2"]
    assert np.allclose(closed, sky["ghi_w_m2"], atol=1e-9)
