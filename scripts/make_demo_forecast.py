#!/usr/bin/env python3
"""Write the demo's ensemble forecast: ten invented days of autumn weather between New Zealand and Tonga.

Usage: ``python scripts/make_demo_forecast.py [data/demo/forecast.nc]``

A pressure field of a few moving features (a departing trough, a ridge, a front, a new high behind it, the trades'
gradient) gives the wind by geostrophic balance turned and slowed by friction; cloud follows the features and a noise
that is smooth in space and time. The members share the noise at first and part with lead time, as do the timing and
strength of the features. Nothing here was observed or forecast by anybody.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.ndimage import gaussian_filter

Floats = npt.NDArray[np.float64]

SEED = 20270508
MEMBERS = 21
START = np.datetime64("2027-05-08T12:00", "ns")
HOURS = np.arange(0, 241, 3)
LAT_DEG = np.arange(-37.5, -18.9, 0.5)
LON_DEG = np.arange(171.0, 188.1, 0.5)

METRE_PER_DEGREE = 111_195.0  # of a great circle on a sphere of 6371 km
AIR_DENSITY = 1.2  # kg m-3, near the surface
EARTH_RATE = 7.292e-5  # rad s-1
FRICTION_SLOWS = 0.78  # surface wind over geostrophic wind at sea
FRICTION_TURNS_DEG = 17.0  # toward the low: clockwise on the southern hemisphere

SPREAD_AFTER_DAYS = 6.0  # lead time at which members share nothing of the noise
OUTPUT = Path(__file__).resolve().parents[1] / "data" / "demo" / "forecast.nc"


@dataclass(frozen=True)
class Wobble:
    """How one member differs: standard normal draws, zero in the control."""

    front_timing: float
    front_depth: float
    front_width: float
    high_place: float
    trade_strength: float
    cloud_amount: float


@dataclass(frozen=True)
class Grid:
    """Coordinates that broadcast to (time, lat, lon)."""

    day: Floats
    lat: Floats
    lon: Floats


def bump(distance: Floats, width: float | Floats) -> Floats:
    """Return a bell of height 1."""
    return np.exp(-((distance / width) ** 2))


def front_longitude(grid: Grid, wobble: Wobble) -> Floats:
    """Return the front's longitude at each latitude and time; it trails to the north-west."""
    lead_error = wobble.front_timing * (0.3 + 0.22 * grid.day)
    return 181.0 + 6.5 * (grid.day - 4.5) + lead_error - 0.5 * (grid.lat + 30.0)


def pressure_pa(grid: Grid, wobble: Wobble) -> Floats:
    """Return sea-level pressure less a constant, of one member."""
    grown = np.minimum(grid.day / 6.0, 1.0)
    ridge = 180.0 * bump(grid.lat + 34.0, 9.0)
    tropics = -620.0 * (1.0 + 0.22 * wobble.trade_strength * grown) * bump(grid.lat + 10.0, 10.5)
    trough = -1350.0 * bump(grid.lon - (179.5 + 7.0 * grid.day), 7.5) * bump(grid.lat + 44.0, 12.0)
    first_high = (
        500.0
        * bump(grid.lon - (177.6 + 0.8 * wobble.high_place * grown + 5.5 * (grid.day - 2.6)), 9.0)
        * bump(grid.lat + 30.0, 7.0)
    )
    behind_front = grid.lon - front_longitude(grid, wobble)
    depth = 850.0 * (1.0 + 0.25 * wobble.front_depth * grown)
    tropics = tropics * (1.0 - 0.6 * bump(behind_front, 7.0))  # the trades give way around the front
    front = -depth * bump(behind_front, 6.5) * bump(grid.lat + 45.0, 15.0)
    westerlies = 85.0 * (grid.lat + 27.0) * bump(behind_front + 1.0, 6.0)
    second_high = (
        1000.0
        * bump(grid.lon - (163.0 + wobble.high_place * grown + 8.0 * (grid.day - 4.5)), 11.0)
        * bump(grid.lat + 34.0, 9.5)
        * np.clip((grid.day - 2.5) / 2.0, 0.0, 1.0)
    )
    return ridge + tropics + trough + first_high + front + westerlies + second_high


def surface_wind(pressure: Floats, lat_deg: Floats) -> tuple[Floats, Floats]:
    """Return eastward and northward 10 m wind [m/s] of a pressure field (time, lat, lon) [Pa]."""
    coriolis = 2.0 * EARTH_RATE * np.sin(np.radians(lat_deg))[:, None]
    step_deg = LAT_DEG[1] - LAT_DEG[0]
    north = np.gradient(pressure, step_deg * METRE_PER_DEGREE, axis=1)
    east = np.gradient(pressure, step_deg, axis=2) / (METRE_PER_DEGREE * np.cos(np.radians(lat_deg))[:, None])
    u, v = -north / (AIR_DENSITY * coriolis), east / (AIR_DENSITY * coriolis)
    turn = np.radians(FRICTION_TURNS_DEG)
    return (
        FRICTION_SLOWS * (u * np.cos(turn) + v * np.sin(turn)),
        FRICTION_SLOWS * (v * np.cos(turn) - u * np.sin(turn)),
    )


def smooth_noise(rng: np.random.Generator, *, hours: float, degrees: float) -> Floats:
    """Return noise (time, lat, lon) of unit variance, smooth over so many hours and degrees."""
    sigma = (hours / 3.0, degrees / 0.5, degrees / 0.5)
    pad = [int(3 * s) for s in sigma]
    shape = (HOURS.size + 2 * pad[0], LAT_DEG.size + 2 * pad[1], LON_DEG.size + 2 * pad[2])
    field = gaussian_filter(rng.standard_normal(shape), sigma, mode="wrap")
    inner = tuple(slice(p, -p) for p in pad)
    return np.asarray((field / field.std())[inner])


def cover_of(mean: Floats, noise: Floats) -> Floats:
    """Return cover 0..1 around a mean cover: the mean's log-odds moved by the noise."""
    held = np.clip(mean, 0.01, 0.985)
    return 1.0 / (1.0 + np.exp(-(np.log(held / (1.0 - held)) + noise)))


def clouds(grid: Grid, wobble: Wobble, noise: dict[str, Floats]) -> dict[str, Floats]:
    """Return low, middle, high and total cover of one member."""
    ahead = grid.lon - front_longitude(grid, wobble)
    width = 3.6 * (1.0 + 0.15 * wobble.front_width)
    band = np.exp(-((np.abs(ahead - 1.2) / width) ** 4)) * bump(grid.lat + 30.0, 11.0)
    old_trough = bump(grid.lon - (179.0 + 7.0 * grid.day), 8.0) * bump(grid.lat + 40.0, 12.0)
    trades = 1.0 / (1.0 + np.exp(-(grid.lat + 26.5) / 1.2))
    ship_hour = grid.day * 24.0  # local time is near UTC + 12 h and the series starts at noon UTC
    dawn_more = 0.05 * np.cos(2.0 * np.pi * (ship_hour - 5.0) / 24.0)
    more = 0.3 * wobble.cloud_amount * np.minimum(grid.day / 5.0, 1.0)
    low = 0.22 + 0.12 * trades + dawn_more * trades + 0.3 * old_trough + 0.72 * band
    middle = 0.04 + 0.2 * old_trough + 0.85 * band
    high = 0.1 + 0.08 * trades + 0.15 * old_trough + 0.8 * np.exp(-((np.abs(ahead - 3.0) / (width + 0.6)) ** 4))
    cover = {
        "low": cover_of(low, 0.75 * noise["low"] + more),
        "middle": cover_of(middle, 1.0 * noise["middle"] + more),
        "high": cover_of(high, 1.1 * noise["high"] + more),
    }
    cover["total"] = 1.0 - (1.0 - cover["low"]) * (1.0 - cover["middle"]) * (1.0 - cover["high"])
    return cover


def temperature_c(grid: Grid, wobble: Wobble, noise: Floats) -> Floats:
    """Return 2 m air temperature over the sea of one member."""
    behind = 1.0 / (1.0 + np.exp((grid.lon - front_longitude(grid, wobble)) / 1.5))
    recovering = np.clip(1.0 - (grid.day - 5.0) / 4.0, 0.0, 1.0)
    afternoon = 0.5 * np.cos(2.0 * np.pi * (grid.day * 24.0 - 14.0) / 24.0)
    return (
        17.0 + 0.55 * (grid.lat + 36.0) - 1.8 * behind * recovering * bump(grid.lat + 36.0, 12.0) + afternoon + noise
    )


def mixed_noise(common: Floats, own: Floats, day: Floats) -> Floats:
    """Return noise that is the members' common one at first and the member's own later."""
    parted = np.clip(day / SPREAD_AFTER_DAYS, 0.0, 1.0)
    return np.sqrt(1.0 - parted) * common + np.sqrt(parted) * own


TEXTURE = {"low": (9.0, 1.3), "middle": (15.0, 2.2), "high": (18.0, 2.8), "wind": (24.0, 3.5), "warmth": (24.0, 3.5)}


def member_fields(grid: Grid, wobble: Wobble, noise: dict[str, Floats]) -> dict[str, Floats]:
    """Return every variable of one member on (time, lat, lon)."""
    gusty = 110.0 * noise["wind"] * (0.4 + 0.6 * np.clip(grid.day / SPREAD_AFTER_DAYS, 0.0, 1.0))
    u, v = surface_wind(pressure_pa(grid, wobble) + gusty, LAT_DEG)
    cover = clouds(grid, wobble, noise)
    return {
        "clt": 100.0 * cover["total"],
        "cll": 100.0 * cover["low"],
        "clm": 100.0 * cover["middle"],
        "clh": 100.0 * cover["high"],
        "u10": u,
        "v10": v,
        "t2m": temperature_c(grid, wobble, 0.4 * noise["warmth"]) + 273.15,
    }


PACKING: dict[str, dict[str, Any]] = {
    "clt": {"step": 5.0, "offset": 0.0, "units": "%", "standard_name": "cloud_area_fraction"},
    "cll": {"step": 5.0, "offset": 0.0, "units": "%", "standard_name": "low_type_cloud_area_fraction"},
    "clm": {"step": 5.0, "offset": 0.0, "units": "%", "standard_name": "medium_type_cloud_area_fraction"},
    "clh": {"step": 5.0, "offset": 0.0, "units": "%", "standard_name": "high_type_cloud_area_fraction"},
    "u10": {"step": 0.5, "offset": 0.0, "units": "m s-1", "standard_name": "eastward_wind"},
    "v10": {"step": 0.5, "offset": 0.0, "units": "m s-1", "standard_name": "northward_wind"},
    "t2m": {"step": 0.5, "offset": 293.15, "units": "K", "standard_name": "air_temperature"},
}
LONG_NAME = {
    "clt": "total cloud cover",
    "cll": "low cloud cover",
    "clm": "middle cloud cover",
    "clh": "high cloud cover",
    "u10": "10 m wind toward east",
    "v10": "10 m wind toward north",
    "t2m": "2 m air temperature",
}


def ensemble(rng: np.random.Generator) -> dict[str, Floats]:
    """Return every variable on (member, time, lat, lon), the control first."""
    grid = Grid(day=HOURS[:, None, None] / 24.0, lat=LAT_DEG[None, :, None], lon=LON_DEG[None, None, :])
    common = {name: smooth_noise(rng, hours=h, degrees=d) for name, (h, d) in TEXTURE.items()}
    fields: dict[str, list[Floats]] = {name: [] for name in PACKING}
    for member in range(MEMBERS):
        draws = rng.standard_normal(6) if member else np.zeros(6)
        noise = {
            name: mixed_noise(common[name], smooth_noise(rng, hours=h, degrees=d), grid.day)
            for name, (h, d) in TEXTURE.items()
        }
        for name, values in member_fields(grid, Wobble(*draws), noise).items():
            fields[name].append(values)
    return {name: np.stack(values) for name, values in fields.items()}


def to_file(fields: dict[str, Floats], path: Path) -> None:
    """Write the ensemble as CF NetCDF, each variable rounded to its packing step in one byte."""
    dims = ("member", "time", "lat", "lon")
    variables = {}
    encoding: dict[str, dict[str, Any]] = {}
    for name, values in fields.items():
        packing = PACKING[name]
        attrs = {key: packing[key] for key in ("units", "standard_name")} | {"long_name": LONG_NAME[name]}
        attrs["cell_methods"] = "time: point"
        rounded = np.round((values - packing["offset"]) / packing["step"]) * packing["step"] + packing["offset"]
        variables[name] = xr.Variable(dims, rounded, attrs)
        encoding[name] = {
            "dtype": "int8",
            "scale_factor": packing["step"],
            "add_offset": packing["offset"],
            "_FillValue": np.int8(-128),
            "zlib": True,
            "complevel": 9,
            "shuffle": False,
            "chunksizes": (1, HOURS.size, LAT_DEG.size, LON_DEG.size),
        }
    dataset = xr.Dataset(
        variables,
        coords={
            "member": ("member", np.arange(MEMBERS, dtype=np.int32), {"standard_name": "realization", "units": "1"}),
            "time": ("time", START + HOURS * np.timedelta64(1, "h"), {"standard_name": "time", "axis": "T"}),
            "lat": ("lat", LAT_DEG, {"standard_name": "latitude", "units": "degrees_north", "axis": "Y"}),
            "lon": ("lon", LON_DEG, {"standard_name": "longitude", "units": "degrees_east", "axis": "X"}),
            "forecast_reference_time": ((), START, {"standard_name": "forecast_reference_time"}),
        },
        attrs={
            "Conventions": "CF-1.11",
            "title": "Invented ensemble forecast for a demonstration passage",
            "comment": "Invented weather: not observed and not forecast by anybody. Not for navigation.",
            "source": "scripts/make_demo_forecast.py",
            "history": f"made with seed {SEED}",
        },
    )
    for name in ("time", "forecast_reference_time"):
        encoding[name] = {"units": "hours since 2027-05-08 12:00:00", "dtype": "int32"}
    for name in ("lat", "lon"):
        encoding[name] = {"dtype": "float32", "_FillValue": None}
    path.parent.mkdir(parents=True, exist_ok=True)
    dataset.to_netcdf(path, format="NETCDF4", encoding=encoding)


def main() -> None:
    """Write the file and say how large it is."""
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else OUTPUT
    to_file(ensemble(np.random.default_rng(SEED)), path)
    print(f"{path}: {path.stat().st_size / 1e6:.2f} MB, {MEMBERS} members, {HOURS.size} times")


if __name__ == "__main__":
    main()
