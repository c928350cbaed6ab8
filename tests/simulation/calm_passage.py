"""A small passage with nothing moving but the sun, for tests of demand and ledger."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import xarray as xr

from planner.domain.glossary import DEMAND, HARVEST, TRACK
from planner.domain.inputs.passage import Watch
from planner.domain.inputs.power import Bank, Engine
from planner.domain.inputs.sailing import AngleTable, Autopilot
from planner.domain.schema import attributes

STEP_MIN = 10
SHIP_OFFSET = timedelta(hours=12)
WATCHES = (
    Watch(start="20:00", end="02:00", role="mate"),
    Watch(start="02:00", end="08:00", role="skipper"),
    Watch(start="08:00", end="14:00", role="deckhand"),
    Watch(start="14:00", end="20:00", role="skipper"),
)
AUTOPILOT = Autopilot(watts=AngleTable(angle_deg=(0.0, 180.0), value=(20.0, 56.0)), watts_per_kn=2.0)


def bank(**figures) -> Bank:
    return Bank(**{"chemistry": "lifepo4", "capacity_ah": 300.0, "reserve_soc": 0.3, **figures})


def engine(**figures) -> Engine:
    return Engine(
        **{"alternator_a": 100.0, "charging_l_per_h": 1.5, "motoring_l_per_h": 3.0, "tank_l": 100.0, **figures}
    )


def ship_hours(track: xr.Dataset) -> np.ndarray:
    """Ship's time of each step's start, hours since the first midnight."""
    midnight = np.datetime64("2027-05-08T12:00", "ns")
    return (track["time"].values - midnight) / np.timedelta64(1, "h")


def track(*, hours: float = 48.0, **over) -> xr.Dataset:
    """Becalmed from 10:00 ship's time (22:00 UTC); ``over`` replaces variables along time."""
    steps = round(hours * 60 / STEP_MIN)
    time = np.datetime64("2027-05-08T22:00", "ns") + np.arange(steps) * np.timedelta64(STEP_MIN, "m")
    values = {name: np.zeros(steps) for name in TRACK} | {
        name: np.broadcast_to(np.asarray(value, dtype=float), (steps,)) for name, value in over.items()
    }
    return xr.Dataset(
        {name: (("time",), values[name], attributes(TRACK[name])) for name in TRACK}, coords={"time": time}
    )


def harvest(sailed: xr.Dataset, *, peak_w=(400.0,), air_c=25.0) -> xr.Dataset:
    """Sun from six to six, a half sine at the controllers; one member a peak, two equal controllers."""
    hour = (ship_hours(sailed) + STEP_MIN / 120.0) % 24.0
    elevation = 90.0 * np.sin((hour - 6.0) / 12.0 * np.pi)
    peaks = np.asarray(peak_w, dtype=float)
    power = peaks[:, None] * np.maximum(elevation, 0.0) / 90.0
    members, steps = power.shape
    sizes = {"member": members, "time": steps, "panel": 1, "controller": 2}
    values = {name: np.zeros([sizes[dim] for dim in quantity.dims]) for name, quantity in HARVEST.items()}
    values["sun_elevation_deg"] = elevation
    values["air_temp_c"] = np.broadcast_to(np.asarray(air_c, dtype=float), (members, steps)).copy()
    values["controller_power_w"] = np.repeat(power[:, :, None] / 2.0, 2, axis=2)
    return xr.Dataset(
        {name: (HARVEST[name].dims, value, attributes(HARVEST[name])) for name, value in values.items()},
        coords={"member": np.arange(members), "time": sailed["time"].values},
    )


def steady_demand(sun: xr.Dataset, watts: float) -> xr.Dataset:
    shape = (sun.sizes["member"], sun.sizes["time"])
    return xr.Dataset(
        {
            "demand_power_w": (("member", "time"), np.full(shape, watts), attributes(DEMAND["demand_power_w"])),
            "load_item_power_w": (
                ("time", "load"),
                np.full((shape[1], 1), watts),
                attributes(DEMAND["load_item_power_w"]),
            ),
        },
        coords={"member": sun["member"].values, "time": sun["time"].values, "load": ["steady"]},
    )
