"""The demo's forecast: small, whole, told as invented, and with weather that changes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from planner.readers.forecast.reader import read_forecast

FILE = Path(__file__).parents[2] / "data" / "demo" / "forecast.nc"


@pytest.fixture(scope="module")
def forecast() -> xr.Dataset:
    return read_forecast([FILE], corridor=None, span=None)


def along_route(forecast: xr.Dataset, name: str) -> np.ndarray:
    """Values (member, day) each noon of a straight run from Opua to Nuku'alofa in seven and a half days."""
    days = np.arange(8)
    lat, lon = -35.3 + days * 14.2 / 7.5, 174.1 + days * 10.7 / 7.5
    noon = np.datetime64("2027-05-09T00:00", "ns") + days * np.timedelta64(24, "h")
    picks = [
        forecast[name].sel(time=t, lat=a, lon=o, method="nearest") for t, a, o in zip(noon, lat, lon, strict=True)
    ]
    return np.stack([p.to_numpy() for p in picks], axis=1)


def test_it_is_small_and_says_that_it_is_invented() -> None:
    assert FILE.stat().st_size < 4_000_000
    with xr.open_dataset(FILE) as data:
        assert "Invented" in data.attrs["comment"]
        assert data.attrs["Conventions"] == "CF-1.11"
        assert all("standard_name" in data[name].attrs for name in data.data_vars)


def test_it_covers_the_passage_and_more(forecast: xr.Dataset) -> None:
    assert forecast.sizes["member"] == 21
    assert forecast["time"].to_numpy()[0] == np.datetime64("2027-05-08T12:00")
    assert forecast["time"].to_numpy()[-1] == np.datetime64("2027-05-18T12:00")
    assert forecast["lat"].to_numpy()[[0, -1]].tolist() == [-37.5, -19.0]
    assert forecast["lon"].to_numpy()[[0, -1]].tolist() == [171.0, 188.0]


def test_total_cover_is_never_less_than_a_layers(forecast: xr.Dataset) -> None:
    for name in ("cloud_low", "cloud_middle", "cloud_high"):
        assert float((forecast["cloud_cover"] - forecast[name]).min()) >= -0.05  # rounded to 5 %


def test_a_front_brings_two_overcast_days_between_brighter_ones(forecast: xr.Dataset) -> None:
    low = along_route(forecast, "cloud_low")[0]
    overcast = low > 0.7
    assert overcast.sum() == 2
    assert not overcast[[0, 1, -1]].any()


def test_the_wind_comes_from_all_sides(forecast: xr.Dataset) -> None:
    east, north = along_route(forecast, "wind_east_m_s")[0], along_route(forecast, "wind_north_m_s")[0]
    source = np.degrees(np.arctan2(-east, -north)) % 360.0
    assert len(set((source // 90).astype(int))) == 4
    assert np.hypot(east, north).max() < 16.0


def test_members_part_with_lead_time(forecast: xr.Dataset) -> None:
    spread = forecast["cloud_cover"].std("member").mean(("lat", "lon")).to_numpy()
    assert spread[0] < 0.02
    assert spread[-1] > 3.0 * max(spread[4], 0.01)


def test_weather_changes_slowly_from_one_time_to_the_next(forecast: xr.Dataset) -> None:
    cover = forecast["cloud_low"].to_numpy()
    near = np.corrcoef(cover[:, 1:].ravel(), cover[:, :-1].ravel())[0, 1]
    far = np.corrcoef(cover[:, 16:].ravel(), cover[:, :-16].ravel())[0, 1]
    assert near > 0.9
    assert far < 0.6
