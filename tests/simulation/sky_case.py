"""A small forecast and a short track for tests of the sky."""

from __future__ import annotations

import numpy as np
import xarray as xr

from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.schema import to_dataset

START = np.datetime64("2027-05-09T00:00", "ns")
HOUR = np.timedelta64(1, "h")


def forecast_of(
    *,
    hours: int = 72,
    members: int = 3,
    lon: tuple[float, float] = (176.0, 184.0),
    layers: bool = False,
    seed: int = 5,
) -> xr.Dataset:
    """A 3-hourly forecast of random weather that differs from member to member and day to day."""
    rng = np.random.default_rng(seed)
    time = START + np.arange(0, hours + 1, 3) * HOUR
    lat, lons = np.arange(-34.0, -25.9, 1.0), np.arange(lon[0], lon[1] + 0.1, 1.0)
    shape = (members, time.size, lat.size, lons.size)
    quantities = {**FORECAST, "cloud_cover": FORECAST_OPTIONAL["cloud_cover"]}
    if layers:
        quantities |= {name: quantity for name, quantity in FORECAST_OPTIONAL.items() if name.startswith("cloud_")}
    arrays = {name: rng.random(shape) for name in quantities}
    coords = {"member": np.arange(members), "time": time, "lat": lat, "lon": lons}
    forecast = to_dataset(arrays, quantities, coords=coords, door="forecast")
    forecast.attrs["source"] = "invented.nc"
    return forecast


def track_of(*, hours: float = 48.0, step_min: int = 10, lat: float = -32.0, lon: float = 178.0) -> xr.Dataset:
    """A track that runs north-east at 6 knots from a place near the antimeridian."""
    steps = int(hours * 60 / step_min)
    run_nm = 6.0 * step_min / 60.0 * np.arange(steps)
    lats = lat + run_nm * np.cos(np.radians(40.0)) / 60.0
    lons = lon + run_nm * np.sin(np.radians(40.0)) / 60.0 / np.cos(np.radians(lat))
    time = START + np.arange(steps) * np.timedelta64(step_min, "m")
    return xr.Dataset(
        {
            "lat": ("time", lats),
            "lon": ("time", (lons + 180.0) % 360.0 - 180.0),
            "course_deg": ("time", np.full(steps, 40.0)),
            "speed_over_ground_kn": ("time", np.full(steps, 6.0)),
        },
        coords={"time": time},
        attrs={"step_s": step_min * 60.0},
    )
