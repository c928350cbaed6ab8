"""Skies of given clearness: how much light they let through, and how much of it comes straight from the sun."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from sky_case import forecast_of, track_of

from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import extend
from planner.simulation.sky.weather import middles, sky_along
from planner.studies.reconcile.sky.made_sky import MOST_BEAM, made_skies


@pytest.fixture(scope="module")
def track() -> xr.Dataset:
    return track_of(hours=24.0)


@pytest.fixture(scope="module")
def sky(track: xr.Dataset) -> xr.Dataset:
    from sky_case import START

    return sky_along(track, extend(forecast_of(), START.astype("datetime64[us]").item(), seed=1, lone_outcomes=1))


def made(track: xr.Dataset, sky: xr.Dataset, index: list[float], lean: list[float]) -> xr.Dataset:
    return made_skies(track, sky, clear_index=np.array(index), beam_lean=np.array(lean))


def beam_part(skies: xr.Dataset) -> np.ndarray:
    """Return what of the global light comes straight from the sun, by day, (made, step)."""
    height = np.sin(np.radians(np.maximum(skies["sun_elevation_deg"].values, 0.0)))
    by_day = skies["sun_elevation_deg"].values > 15.0
    part: np.ndarray = (skies["dni_w_m2"].values * height)[:, by_day] / skies["ghi_w_m2"].values[:, by_day]
    return part


def test_global_light_is_the_index_times_the_cloudless_skys(track: xr.Dataset, sky: xr.Dataset) -> None:
    clear = clear_sky(*middles(track))[2]
    skies = made(track, sky, [0.3, 1.0], [0.0, 0.0])
    assert skies["ghi_w_m2"].values == pytest.approx(np.stack([0.3 * clear, clear]))


def test_beam_and_diffuse_add_up_to_the_global_light(track: xr.Dataset, sky: xr.Dataset) -> None:
    skies = made(track, sky, [0.2, 0.6, 0.9, 1.1], [-1.0, 0.5, 1.0, 0.0])
    up = skies["sun_elevation_deg"].values > 5.0
    height = np.sin(np.radians(skies["sun_elevation_deg"].values))
    total = skies["dni_w_m2"].values * height + skies["dhi_w_m2"].values
    assert total[:, up] == pytest.approx(skies["ghi_w_m2"].values[:, up], abs=0.1)
    assert (skies["dhi_w_m2"].values >= 0.0).all()


@pytest.mark.parametrize("index", [0.4, 0.7, 0.9])
def test_broken_cloud_has_more_beam_than_usual_and_a_veil_less(
    track: xr.Dataset, sky: xr.Dataset, index: float
) -> None:
    veil, usual, broken = beam_part(made(track, sky, [index] * 3, [-1.0, 0.0, 1.0]))
    assert (veil < usual).all()
    assert (broken > usual).all()
    assert (broken <= MOST_BEAM + 1e-6).all()


def test_half_a_lean_is_half_the_way(track: xr.Dataset, sky: xr.Dataset) -> None:
    usual, half, whole = beam_part(made(track, sky, [0.7] * 3, [0.0, 0.5, 1.0]))
    assert half == pytest.approx(0.5 * (usual + whole), rel=1e-6)


def test_air_and_rain_are_the_mean_of_the_forecasts_outcomes(track: xr.Dataset, sky: xr.Dataset) -> None:
    skies = made(track, sky, [0.5, 1.0], [0.0, 0.0])
    assert skies["air_temp_c"].values == pytest.approx(np.tile(sky["air_temp_c"].mean("member").values, (2, 1)))
    assert skies.sizes["member"] == 2
