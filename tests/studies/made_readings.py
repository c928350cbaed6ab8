"""A crew's readings made with another sky and another motion than the planner reckons with, and with faults.

The truth has broken cloud by ten minutes with the beam whole or gone, another turbidity, unsteady heel, heading and
trim, warmer or cooler air, a tolerance on each controller, 2 % of noise, rounding to 1 W, gaps, and a full bank on
some afternoons.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import xarray as xr

from planner.app.inputs import read_inputs
from planner.domain.glossary import READINGS
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.power import Controller, Panel
from planner.domain.schema import to_dataset
from planner.simulation.harvest.collect import collect, collect_under
from planner.simulation.ledger.simulate import bank_params
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import extend, wind_of
from planner.simulation.sky.weather import middles
from planner.simulation.track.sail import sail
from planner.studies.reconcile.sky_states import sky_states, substring_dark, substring_ratios

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
STEP = np.timedelta64(600, "s")
TOLERANCE = 0.02  # standard deviation of a controller's own level
FLOAT_W = 70.0  # that a full bank takes


@dataclass(frozen=True)
class Fault:
    """What is wrong: a panel that keeps ``part`` of its light, or lost a substring, from ``hour`` of the log on."""

    panel: str
    part: float = 1.0
    hour: float = 0.0
    substring: bool = False


@dataclass(frozen=True, eq=False)
class World:
    boat: Boat
    track: xr.Dataset
    harvest: xr.Dataset
    states: xr.Dataset
    ratios: dict
    bus_v: float


def one_a_panel(boat: Boat) -> Boat:
    """The same boat with each panel on a controller of its own; the arch's have three substrings."""
    controllers = [
        Controller(
            name=panel.name,
            strings=((panel.name,),),
            max_output_a=20.0,
            max_input_v=75.0,
            wire_length_m=6.0,
            wire_section_mm2=4.0,
        )
        for panel in boat.panel
    ]
    more = {
        "cells": 60,
        "substrings": 3,
        "max_power_v": 30.5,
        "max_power_a": 6.56,
        "open_circuit_v": 36.5,
        "short_circuit_a": 6.96,
    }
    panels = tuple(panel.model_copy(update=more) if "arch" in panel.name else panel for panel in boat.panel)
    return boat.model_copy(update={"controller": tuple(controllers), "panel": panels})


@lru_cache(maxsize=1)
def demo_inputs() -> Inputs:
    return read_inputs(DEMO, (Override("model.points", 12),))


@lru_cache(maxsize=4)
def world(*, alone: bool, days: float = 8.0) -> World:
    inputs = demo_inputs()
    passage, model = inputs.passage, inputs.passage.model
    boat = one_a_panel(inputs.boat) if alone else inputs.boat
    forecast = extend(inputs.forecast, passage.departure, seed=model.seed, lone_outcomes=model.lone_outcomes)
    track = sail(passage, boat, inputs.route, wind_of(forecast))
    track = track.isel(time=slice(0, min(round(days * 144), track.sizes["time"])))
    bus_v = bank_params(boat.bank).absorption_v
    harvest = collect(
        track,
        forecast,
        rig=boat.rig,
        panels=boat.panel,
        controllers=boat.controller,
        soiling=boat.soiling,
        bus_v=bus_v,
        points=model.points,
        roll_nodes=model.roll_nodes,
    )
    given = {"boat": boat, "bus_v": bus_v, "model": model}
    return World(
        boat, track, harvest, sky_states(track, harvest, **given), substring_ratios(track, harvest, **given), bus_v
    )


def drifting(rng: np.random.Generator, many: int, *, hours: float, step_h: float = 1.0 / 6.0) -> np.ndarray:
    """A series of unit deviation that remembers itself for some hours."""
    keep = np.exp(-step_h / hours)
    fresh = rng.standard_normal(many)
    series = np.empty(many)
    series[0] = fresh[0]
    for i in range(1, many):
        series[i] = keep * series[i - 1] + np.sqrt(1.0 - keep**2) * fresh[i]
    return series


def true_sky(here: World, rng: np.random.Generator, *, clear: bool = False) -> xr.Dataset:
    """Broken cloud under veils, day by day of another mood."""
    track, sky = here.track, here.harvest
    many = track.sizes["time"]
    _, elevation, ghi, extra = clear_sky(*middles(track), turbidity_share=rng.uniform(0.75, 1.0))
    mood = np.repeat(rng.normal(0.3, 0.9, many // 144 + 2), 144)[:many]
    sunny = 1.0 / (1.0 + np.exp(-2.0 * (mood + drifting(rng, many, hours=3.0) + drifting(rng, many, hours=0.3))))
    sunny = np.ones(many) if clear else sunny
    shade = np.clip(0.35 + 0.12 * drifting(rng, many, hours=2.0), 0.08, 0.6)
    veil = np.clip(1.0 - 0.08 * np.abs(drifting(rng, many, hours=4.0)), 0.6, 1.0)
    edge = 0.06 * rng.random(many) * (sunny > 0.3) * (sunny < 0.9)
    height = np.sin(np.radians(np.maximum(elevation, 0.0)))
    beam_part = np.where(height > 0.0, 0.88 - 0.09 / np.maximum(height, 0.1), 0.0).clip(0.0, 0.85)
    direct = ghi * beam_part * sunny * veil**2
    total = ghi * (sunny * veil + (1.0 - sunny) * shade + edge)
    up = height > 0.02
    dni = np.where(up, np.minimum(direct / np.maximum(height, 0.02), extra), 0.0)
    made = sky.isel(member=[0]).copy(deep=True)
    made["dni_w_m2"].values[0] = dni
    made["dhi_w_m2"].values[0] = np.maximum(total - dni * height, 0.0)
    made["ghi_w_m2"].values[0] = total
    made["air_temp_c"].values[0] = sky["air_temp_c"].mean("member").values + rng.normal(0.0, 1.5)
    made["rain_mm_h"].values[0] = sky["rain_mm_h"].mean("member").values
    return made


def true_track(track: xr.Dataset, rng: np.random.Generator) -> xr.Dataset:
    """The track with unsteady heel, heading, roll and trim."""
    many = track.sizes["time"]
    moved = track.copy(deep=True)
    for name, deviation, hours in (
        ("heel_deg", 2.0, 1.0),
        ("heading_deg", 5.0, 1.0),
        ("pitch_deg", 0.7, 3.0),
        ("boom_angle_deg", 4.0, 2.0),
        ("headsail_angle_deg", 4.0, 2.0),
    ):
        moved[name].values[:] += deviation * drifting(rng, many, hours=hours)
    moved["roll_amplitude_deg"].values[:] *= np.exp(0.3 * drifting(rng, many, hours=3.0))
    return moved


def made_steps(
    here: World, seed: int, faults: tuple[Fault, ...] = (), *, clear: bool = False, full: bool = True
) -> xr.Dataset:
    """Readings on the track's steps."""
    rng = np.random.default_rng(seed)
    sky, track = true_sky(here, rng, clear=clear), true_track(here.track, rng)
    level = np.exp(TOLERANCE * rng.standard_normal(len(here.boat.controller)))
    many = here.track.sizes["time"]
    hour = np.arange(many) / 6.0
    power = _power(here, here.boat, track, sky)
    for fault in faults:
        faulty = _power(here, _with_fault(here.boat, fault), track, sky)
        power = np.where((hour >= fault.hour)[:, None], faulty, power)
    power = power * level
    volts = 13.25 + 0.1 * drifting(rng, many, hours=2.0)
    soc = 0.6 + 0.15 * drifting(rng, many, hours=12.0).clip(-2.0, 2.0)
    if full:
        power, volts, soc = _filled(rng, power, volts, soc)
    power = np.maximum(np.round(power * (1.0 + 0.02 * rng.standard_normal(power.shape))), 0.0)
    missing = rng.random(many) < 0.05
    for begin in rng.integers(0, many, many // 144):
        missing[begin : begin + 18] = True
    power[missing] = np.nan
    steps = to_dataset(
        {
            "read_controller_power_w": power,
            "read_bank_voltage_v": np.round(volts, 2),
            "read_bank_current_a": np.full(many, np.nan),
            "read_meter_soc": np.round(soc.clip(0.0, 1.0), 2),
            "read_meter_ah": np.full(many, np.nan),
            "read_engine_on": np.zeros(many),
        },
        READINGS,
        coords={"time": here.track["time"], "controller": [one.name for one in here.boat.controller]},
        door="made readings",
    )
    steps["read_fraction"] = ("time", (~missing).astype(float))
    steps.attrs = {"source": "made", "covers": "since the last", "repairs": [], "step_s": 600.0}
    return steps


def _power(here: World, boat: Boat, track: xr.Dataset, sky: xr.Dataset) -> np.ndarray:
    model = demo_inputs().passage.model
    harvest = collect_under(
        track,
        sky,
        rig=boat.rig,
        panels=boat.panel,
        controllers=boat.controller,
        soiling=boat.soiling,
        bus_v=here.bus_v,
        points=model.points,
        roll_nodes=3,
    )
    return harvest["controller_power_w"].values[0]


def _with_fault(boat: Boat, fault: Fault) -> Boat:
    if fault.substring:
        return substring_dark(boat, fault.panel)
    panels = tuple(_tired(panel, fault.part) if panel.name == fault.panel else panel for panel in boat.panel)
    return boat.model_copy(update={"panel": panels})


def _tired(panel: Panel, part: float) -> Panel:
    kept = (1.0 - panel.ageing_per_year * panel.age_years) * part
    return panel.model_copy(update={"age_years": 1.0, "ageing_per_year": 1.0 - kept})


def _filled(rng, power, volts, soc):
    """From some hour of the afternoon on, on half of the days, the bank takes little."""
    power, volts, soc = power.copy(), volts.copy(), soc.copy()
    for day in range(power.shape[0] // 144 + 1):
        if rng.random() < 0.5:
            continue
        begin = day * 144 + rng.integers(8, 30)  # the passage begins at 10 in the morning
        span = slice(begin, min(begin + 48, power.shape[0]))
        total = power[span].sum(axis=1, keepdims=True)
        share = rng.dirichlet(np.full(power.shape[1], 2.0))
        power[span] = np.where(total > FLOAT_W, np.minimum(power[span], FLOAT_W * share), power[span])
        volts[span], soc[span] = 14.2 + 0.02 * rng.standard_normal(volts[span].size), 1.0
    return power, volts, soc
