"""Made logs of a boat's loads on a track's steps: what she draws is drawn by plain rules, read with common faults."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import xarray as xr

from planner.domain.glossary import HARVEST, READINGS, TRACK
from planner.domain.inputs.passage import Watch
from planner.domain.inputs.power import Controller, Load
from planner.domain.inputs.sailing import AngleTable, Autopilot
from planner.domain.schema import attributes
from planner.simulation.ledger.demand import demand

STEP_MIN = 10
OFFSET = timedelta(hours=12)
WATCHES = (Watch(start="00:00", end="12:00", role="mate"), Watch(start="12:00", end="00:00", role="skipper"))
LOADS = (
    Load(name="lights", watts=6.0, when="night"),
    Load(name="plotter", watts=14.0),
    Load(name="instruments", watts=17.0),
    Load(name="fridge", watts=55.0, duty=0.42, per_c=0.03),
    Load(name="radar", watts=26.0, duty=0.3, when="night"),
    Load(name="watermaker", watts=150.0, when="hours", hours=(("09:00", "17:00"),), wh_per_day=250.0, min_run_min=60),
    Load(name="laptops", watts=60.0, when="hours", hours=(("08:00", "20:00"),), wh_per_day=180.0),
)
CONTROLLERS = tuple(Controller(name=name, strings=((name,),)) for name in ("arch", "bimini"))
PILOT_W = 34.0


@dataclass(frozen=True)
class Passage:
    """A track with sun and what the planner has the loads ask for."""

    track: xr.Dataset
    solar_w: np.ndarray
    demand: xr.Dataset


def step_times(days: float) -> np.ndarray:
    steps = round(days * 1440 / STEP_MIN)
    return np.datetime64("2027-05-08T22:00", "ns") + np.arange(steps) * np.timedelta64(STEP_MIN, "m")


def ship_hour_of(time: np.ndarray) -> np.ndarray:
    """Hours since midnight of ship's time at each step's middle."""
    since = (time - np.datetime64("2027-05-08T12:00", "ns")) / np.timedelta64(1, "h")
    return (since + STEP_MIN / 120.0) % 24.0


def track_of(time: np.ndarray, under_engine: np.ndarray | None = None) -> xr.Dataset:
    values = {name: np.zeros(time.size) for name in TRACK}
    if under_engine is not None:
        values["under_engine"] = under_engine
    return xr.Dataset(
        {name: (("time",), values[name], attributes(TRACK[name])) for name in TRACK},
        coords={"time": time},
        attrs={"step_s": STEP_MIN * 60.0},
    )


def sailed(days: float, rng: np.random.Generator) -> Passage:
    time = step_times(days)
    track = track_of(time)
    hour = ship_hour_of(time)
    height = np.sin((hour - 6.0) / 12.0 * np.pi)
    cloud = np.repeat(rng.uniform(0.3, 1.0, time.size // 18 + 1), 18)[: time.size]
    solar_w = 420.0 * np.maximum(height, 0.0) * cloud
    sizes = {"member": 1, "time": time.size, "panel": 1, "controller": 2}
    values = {name: np.zeros([sizes[dim] for dim in quantity.dims]) for name, quantity in HARVEST.items()}
    values["sun_elevation_deg"] = 60.0 * height
    values["air_temp_c"][:] = 25.0
    values["controller_power_w"] = np.repeat(solar_w[None, :, None] / 2.0, 2, axis=2)
    harvest = xr.Dataset(
        {name: (HARVEST[name].dims, value, attributes(HARVEST[name])) for name, value in values.items()},
        coords={"member": [0], "time": time},
    )
    asked = demand(
        track,
        harvest,
        loads=LOADS,
        autopilot=Autopilot(watts=AngleTable(angle_deg=(0.0, 180.0), value=(PILOT_W, PILOT_W))),
        controllers=CONTROLLERS,
        nominal_v=12.0,
        watches=WATCHES,
        ship_offset=OFFSET,
    )
    return Passage(track, solar_w, asked)


def drawn_w(passage: Passage, rng: np.random.Generator, *, list_doubt: float) -> np.ndarray:
    """What the listed loads really draw: each by its own factor, the fridge in cycles, the others when crews will."""
    time = passage.track["time"].values
    hour = ship_hour_of(time)
    day = np.arange(time.size) // 144
    total = np.full(time.size, 1.0)
    for name in ("lights", "plotter", "instruments", "radar", "steering"):
        wanders = name == "steering"
        factor = 1.0 + rng.normal() * list_doubt * (4.0 / 3.0 if wanders else 1.0)
        total += factor * passage.demand["load_item_power_w"].sel(load=name).values
        if wanders:  # gusts: an hour long, 8 W
            total += _wandering(rng, time.size, memory=6.0) * 8.0
    duty = 0.42 * (1.0 + rng.normal() * list_doubt * 4.0 / 3.0)
    cycle_h = rng.uniform(0.6, 1.5)
    # Compressor by halves of a minute: a step holds a part of a cycle.
    phase = (np.arange(time.size * 20) / 120.0 / cycle_h + np.cumsum(rng.normal(0, 0.01, time.size * 20))) % 1.0
    total += 55.0 * (phase < duty).reshape(-1, 20).mean(axis=1)
    for first in np.unique(day):
        today = np.flatnonzero(day == first)
        for watts, wh, start, end in ((150.0, 250.0, 9.0, 17.0), (60.0, 180.0, 8.0, 20.0)):
            allowed = today[(hour[today] >= start) & (hour[today] < end)]
            need = round(wh * max(1.0 + 0.15 * rng.normal(), 0.0) / watts * 6.0 * today.size / 144)
            begin = rng.integers(0, max(allowed.size - need, 1)) if allowed.size else 0
            total[allowed[begin : begin + need]] += watts
    return np.maximum(total, 1.0)


def _wandering(rng: np.random.Generator, steps: int, *, memory: float) -> np.ndarray:
    keep = np.exp(-1.0 / memory)
    state = np.empty(steps)
    now = rng.normal()
    for step in range(steps):
        state[step] = now
        now = keep * now + np.sqrt(1.0 - keep**2) * rng.normal()
    return state


def readings_of(passage: Passage, load_w: np.ndarray, rng: np.random.Generator, *, gaps: int) -> xr.Dataset:
    """The log on the steps: gains of 2 and 1 %, a zero of 0.04 A, rounding to 1 W, 0.1 A, 0.01 V, gaps of hours."""
    time = passage.track["time"].values
    volts = np.round(13.2 + 0.1 * np.sin(ship_hour_of(time) / 24.0 * 2.0 * np.pi), 2)
    amps = (passage.solar_w - load_w) / volts
    shown_a = np.round(amps * (1.0 + 0.01 * rng.normal()) + 0.04 * rng.normal(), 1)
    shown_w = np.round(passage.solar_w[:, None] / 2.0 * (1.0 + 0.02 * rng.normal(size=2)))
    values = {
        "read_controller_power_w": shown_w,
        "read_bank_voltage_v": volts,
        "read_bank_current_a": shown_a,
        "read_meter_soc": np.full(time.size, np.nan),
        "read_meter_ah": np.full(time.size, np.nan),
        "read_engine_on": np.zeros(time.size),
    }
    for _ in range(gaps):
        begin = rng.integers(0, time.size)
        for value in values.values():
            value[begin : begin + rng.integers(3, 30)] = np.nan
    return dataset_of(time, values)


def dataset_of(time: np.ndarray, values: dict[str, np.ndarray]) -> xr.Dataset:
    controllers = values["read_controller_power_w"].shape[1]
    return xr.Dataset(
        {name: (READINGS[name].dims, values[name], attributes(READINGS[name])) for name in READINGS},
        coords={"time": time, "controller": [f"c{index}" for index in range(controllers)]},
    )
