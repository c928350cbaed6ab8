"""Currents from a file of their own, on another grid and at other times than the wind."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xarray as xr
from forecast_case import CORRIDOR, LAT, SPAN, START, plain_forecast, write

from planner.readers.forecast.reader import read_forecast


def currents(*, holes: bool = False, depth: bool = False) -> xr.Dataset:
    """An eastward current that grows with latitude and time, every two degrees and twelve hours."""
    time = START + np.arange(0, 49, 12) * np.timedelta64(1, "h")
    lat, lon = np.arange(-40.0, -15.9, 2.0), np.arange(168.0, 192.1, 2.0)
    hours = np.arange(0, 49, 12)
    east = 0.01 * (lat + 40.0)[None, :, None] + 0.002 * hours[:, None, None] + np.zeros((1, 1, lon.size))
    if holes:
        east[:, :, lon > 180.0] = np.nan
    dims = ("time", "latitude", "longitude")
    names = {"uo": ("eastward_sea_water_velocity", east), "vo": ("northward_sea_water_velocity", 0.0 * east - 0.25)}
    data = xr.Dataset(
        {name: (dims, values, {"units": "m s-1", "standard_name": std}) for name, (std, values) in names.items()},
        coords={
            "time": ("time", time, {"standard_name": "time"}),
            "latitude": ("latitude", lat, {"units": "degrees_north"}),
            "longitude": ("longitude", lon, {"units": "degrees_east"}),
        },
    )
    return data.expand_dims(depth=[0.5]) if depth else data


def test_currents_come_onto_the_grid_of_the_wind(tmp_path: Path) -> None:
    files = [write(plain_forecast(), tmp_path / "sky.nc"), write(currents(), tmp_path / "sea.nc")]
    forecast = read_forecast(files, corridor=CORRIDOR, span=SPAN)
    assert forecast["current_east_m_s"].dims == forecast["wind_east_m_s"].dims
    hours = (forecast["time"] - START) / np.timedelta64(1, "h")
    expected = 0.01 * (forecast["lat"] + 40.0) + 0.002 * hours  # linear between nodes, as it was made
    np.testing.assert_allclose(forecast["current_east_m_s"].isel(member=1, lon=2), expected.transpose(), atol=1e-6)
    np.testing.assert_allclose(forecast["current_north_m_s"], -0.25, atol=1e-6)


def test_where_a_file_has_no_current_the_water_stands(tmp_path: Path) -> None:
    files = [write(plain_forecast(), tmp_path / "sky.nc"), write(currents(holes=True), tmp_path / "sea.nc")]
    east = read_forecast(files, corridor=CORRIDOR, span=SPAN)["current_east_m_s"]
    assert (east.sel(lon=184.0) == 0.0).all()
    assert (east.sel(lon=176.0) > 0.0).all()


def test_the_surface_layer_of_an_ocean_file_serves(tmp_path: Path) -> None:
    files = [write(plain_forecast(), tmp_path / "sky.nc"), write(currents(depth=True), tmp_path / "sea.nc")]
    assert "current_east_m_s" in read_forecast(files, corridor=CORRIDOR, span=SPAN)


def test_a_forecast_without_currents_has_none(tmp_path: Path) -> None:
    forecast = read_forecast([write(plain_forecast(), tmp_path / "sky.nc")], corridor=CORRIDOR, span=SPAN)
    assert "current_east_m_s" not in forecast
    assert LAT[0] < float(forecast["lat"][0])
