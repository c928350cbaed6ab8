"""A boat, a passage and a wind made for the track's tests: the demo's boat in weather of one's own."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, Waypoint
from planner.simulation.track.sail import sail

DEMO = Path(__file__).parents[2] / "data" / "demo"
DEPARTURE = np.datetime64("2027-05-08T22:00", "ns")
M_S_PER_KN = 1852.0 / 3600.0

Wind = Callable[[float], tuple[float, float]]
"""Hours since departure to speed [kn] and the direction it comes from [degree]."""


def boat(**sailing: Any) -> Boat:
    document = tomllib.loads((DEMO / "boat.toml").read_text(encoding="utf-8"))
    document["sailing"] |= sailing
    return Boat.model_validate(document)


def passage(**changes: Any) -> Passage:
    document = tomllib.loads((DEMO / "passage.toml").read_text(encoding="utf-8"))
    return Passage.model_validate(document | changes)


def route(*positions: tuple[float, float]) -> Route:
    return tuple(Waypoint(name=f"W{n}", lat=lat, lon=lon) for n, (lat, lon) in enumerate(positions))


def blow(wind: Wind, *, every_h: float = 1.0, days: float = 12.0) -> xr.Dataset:
    """A forecast that is the same all over the world at any moment."""
    hours = np.arange(0.0, days * 24.0 + every_h, every_h)
    speed, direction = np.array([wind(hour) for hour in hours]).T
    toward = np.radians(direction + 180.0)
    shape = (1, hours.size, 2, 2)
    parts = {"wind_east_m_s": speed * np.sin(toward), "wind_north_m_s": speed * np.cos(toward)}
    return xr.Dataset(
        {
            name: (("member", "time", "lat", "lon"), np.broadcast_to((part * M_S_PER_KN)[None, :, None, None], shape))
            for name, part in parts.items()
        },
        coords={
            "member": [0],
            "time": DEPARTURE + (hours * 3.6e12).astype("timedelta64[ns]"),
            "lat": [-90.0, 90.0],
            "lon": [-180.0, 180.0],
        },
    )


def steady(speed_kn: float, from_deg: float) -> xr.Dataset:
    return blow(lambda _: (speed_kn, from_deg))


def sailed_nm(track: xr.Dataset) -> float:
    """Distance over ground to the very end."""
    step_h = track.attrs["step_s"] / 3600.0
    return float(track["distance_nm"][-1] + track["speed_over_ground_kn"][-1] * step_h)


__all__ = ["DEPARTURE", "blow", "boat", "passage", "route", "sail", "sailed_nm", "steady"]
