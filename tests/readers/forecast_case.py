"""A forecast file to write in many dialects."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xarray as xr

START = np.datetime64("2027-05-08T12:00", "ns")
TIME = START + np.arange(0, 49, 6) * np.timedelta64(1, "h")
LAT = np.arange(-38.0, -17.9, 1.0)
LON = np.arange(170.0, 190.1, 1.0)
MEMBERS = 3
CORRIDOR = (-34.0, -22.0, 174.0, 186.0)
SPAN = (START + np.timedelta64(7, "h"), START + np.timedelta64(29, "h"))


def plain_forecast() -> xr.Dataset:
    """CF names and SI units, members first, latitudes rising, longitudes across the antimeridian."""
    rng = np.random.default_rng(11)
    shape = (MEMBERS, TIME.size, LAT.size, LON.size)
    dims = ("member", "time", "lat", "lon")

    def field(low: float, high: float, units: str, standard_name: str) -> xr.Variable:
        return xr.Variable(dims, rng.uniform(low, high, shape), {"units": units, "standard_name": standard_name})

    return xr.Dataset(
        {
            "clt": field(0.2, 0.9, "1", "cloud_area_fraction"),
            "cll": field(0.0, 0.9, "1", "low_type_cloud_area_fraction"),
            "clm": field(0.0, 0.9, "1", "medium_type_cloud_area_fraction"),
            "clh": field(0.0, 0.9, "1", "high_type_cloud_area_fraction"),
            "ua": field(-12.0, 12.0, "m s-1", "eastward_wind"),
            "va": field(-12.0, 12.0, "m s-1", "northward_wind"),
            "ta": field(285.0, 300.0, "K", "air_temperature"),
        },
        coords={
            "member": ("member", np.arange(MEMBERS)),
            "time": ("time", TIME, {"standard_name": "time"}),
            "lat": ("lat", LAT, {"standard_name": "latitude", "units": "degrees_north"}),
            "lon": ("lon", LON, {"standard_name": "longitude", "units": "degrees_east"}),
        },
    )


def write(forecast: xr.Dataset, path: Path) -> Path:
    """Write a dataset and return its path."""
    forecast.to_netcdf(path, encoding={"time": {"units": "hours since 2027-05-08 12:00:00", "dtype": "int32"}})
    return path


def change(forecast: xr.Dataset, name: str, *, factor: float = 1.0, offset: float = 0.0, units: str) -> xr.Dataset:
    """Give a variable in other units."""
    variable = forecast[name] * factor + offset
    return forecast.assign({name: variable.assign_attrs({**forecast[name].attrs, "units": units})})
