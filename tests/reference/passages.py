"""Passages unlike the demo, invented: other oceans, rigs, banks, wirings, and weather made here."""

from __future__ import annotations

import copy
import random
import tomllib
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import xarray as xr

from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Waypoint
from planner.domain.schema import attributes
from planner.readers.hand_weather import forecast_by_hand
from planner.simulation.checks import power_faults
from planner.simulation.harvest.array_checks import array_faults
from planner.simulation.harvest.fit import scene_faults
from planner.simulation.ship_time import departure_offset

DEMO = Path(__file__).parents[2] / "data" / "demo"
M_S_PER_KN = 1852.0 / 3600.0
LAYERED = ("cloud_cover", "cloud_low", "cloud_middle", "cloud_high")
SHIP = timezone(timedelta(hours=-3))
BULLETIN = [
    {"from": datetime(2027, 1, 4, 9, tzinfo=SHIP), "sky": "broken", "wind_from": "NE", "wind_kn": 14.0},
    {"from": datetime(2027, 1, 4, 15, 20, tzinfo=SHIP), "sky": "overcast", "wind_from_deg": 100.0, "wind_kn": 19.0}
    | {"air_temp_c": 21.0, "rain_mm_h": 2.5},
    {"from": datetime(2027, 1, 4, 23, 40, tzinfo=SHIP), "oktas": 3.0, "wind_from": "E", "wind_kn": 12.0}
    | {"air_temp_c": 26.0, "until": datetime(2027, 1, 7, tzinfo=SHIP)},
]


def weather(
    start: str,
    *,
    box: tuple[float, float, float, float],
    wind: tuple[float, float],
    air_c: float,
    seed: int,
    layers: bool = True,
    hours: int = 96,
) -> xr.Dataset:
    """Two members of 3-hourly weather on a one-degree grid in a box (south, north, west, east)."""
    draw = random.Random(seed)
    south, north, west, east = box
    lats, lons = np.arange(south, north + 1.0), np.arange(west, east + 1.0)
    times = np.datetime64(start, "ns") + np.arange(0, hours + 3, 3) * np.timedelta64(1, "h")
    shape = (2, times.size, lats.size, lons.size)

    def rough(low: float, high: float) -> np.ndarray:
        return np.array([draw.uniform(low, high) for _ in range(int(np.prod(shape)))]).reshape(shape)

    speed, toward = wind[0] + rough(-3.0, 3.0), np.radians(wind[1] + 180.0 + rough(-12.0, 12.0))
    fields = {
        "wind_east_m_s": speed * np.sin(toward) * M_S_PER_KN,
        "wind_north_m_s": speed * np.cos(toward) * M_S_PER_KN,
        "air_temp_c": air_c + rough(-4.0, 4.0),
    }
    fields |= {name: rough(0.0, 1.0) for name in (LAYERED if layers else ("cloud_cover",))}
    fields["rain_mm_h"] = np.maximum(rough(-1.0, 0.6), 0.0)
    known = {**FORECAST, **FORECAST_OPTIONAL}
    return xr.Dataset(
        {name: (("member", "time", "lat", "lon"), field, attributes(known[name])) for name, field in fields.items()},
        coords={"member": [0, 1], "time": times, "lat": lats, "lon": lons},
        attrs={"source": "made for the test"},
    )


def make(boat: dict, passage: dict, positions: list[tuple[float, float]], forecast: xr.Dataset) -> Inputs:
    made, built = Passage.model_validate(passage), Boat.model_validate(boat)
    faults = [
        *power_faults(built, made, "boat", "passage"),
        *array_faults(built.panel, built.controller, built.bank, "boat"),
        *scene_faults(built.rig, built.panel, "boat"),
    ]
    assert not faults, faults
    route = tuple(Waypoint(name=f"W{n}", lat=lat, lon=lon) for n, (lat, lon) in enumerate(positions))
    return Inputs(
        passage=made,
        boat=built,
        route=route,
        forecast=forecast,
        files={},
        passage_file=Path("made for the test"),
        overrides=(),
        ship_offset=departure_offset(made, route[0].lon),
    )


def _demo() -> tuple[dict, dict]:
    boat, passage = (
        tomllib.loads((DEMO / f"{name}.toml").read_text(encoding="utf-8")) for name in ("boat", "passage")
    )
    return copy.deepcopy(boat), copy.deepcopy(passage)


def _panel(boat: dict, index: int, **changes) -> dict:
    """A panel of the demo with some of its figures changed, its cells laid as its size has it."""
    listed = boat["panel"][index] | changes
    return {key: figure for key, figure in listed.items() if key not in {"cells_along", "cells_across"}}


def beating_up_channel() -> Inputs:
    """Northern spring across Greenwich: boards along rhumb lines in a tide; flooded lead, three panels in series."""
    boat, passage = _demo()
    boat["rig"] |= {
        "i_m": 13.0,
        "j_m": 4.0,
        "p_m": 11.5,
        "e_m": 4.2,
        "headsail_overlap": 1.4,
        "sail_transmission": 0.2,
    }
    del boat["rig"]["sprayhood"], boat["rig"]["arch"]
    boat["rig"]["tubes"] = boat["rig"]["tubes"][:2]
    boat["rig"]["polygons"] = [
        {"name": "dodger", "corners_m": [[-2.0, 1.0, 0.6], [-3.0, 1.2, 0.6], [-3.0, 1.2, 1.5], [-2.2, 1.04, 1.5]]}
    ]
    boat["panel"] = [
        _panel(boat, 0, tilt_deg=20.0, tilt_toward_deg=180.0, substrings=3),
        _panel(boat, 1, tilt_deg=15.0, tilt_toward_deg=90.0, mounting="ventilated"),
        _panel(boat, 3, max_power_w=100.0),
        _panel(boat, 5),
    ]
    boat["panel"][2]["substrings_across"] = "length"
    boat["controller"] = [
        {"name": "series", "strings": [["arch port", "arch starboard", "bimini middle"]], "tracker": "upper"},
        {"name": "alone", "strings": [["coachroof"]], "soiling_fraction": 0.1, "wire_section_mm2": 2.5},
    ]
    boat["bank"] = {"chemistry": "flooded", "capacity_ah": 420.0, "health": 0.8, "reserve_soc": 0.5, "temp_c": 14.0}
    boat["engine"] |= {"warm_up_min": 0.0, "regulator_limit_a": 60.0}
    boat["soiling"] = {"per_day": 0.02, "wash_every_days": 0.4, "left_after": 0.02}
    passage |= {
        "departure": "2027-04-02T05:00:00+01:00",
        "sailings": "rhumb_line",
        "start": {"state_of_charge": 0.75},
    }
    passage |= {"current": {"set_deg": 250.0, "drift_kn": 0.8}, "model": {"points": 6, "roll_nodes": 2}}
    passage["departure"] = "2027-04-02T05:00:00Z"
    weather_ahead = weather(
        "2027-04-01T00:00", box=(48, 53, -4, 4), wind=(15.0, 70.0), air_c=9.0, seed=1, layers=False
    )
    return make(boat, passage, [(50.1, -1.6), (50.4, 0.4), (50.8, 1.1)], weather_ahead)


def running_in_the_trades() -> Inputs:
    """Southern winter in another ocean: gybing down wind; gel at 24 V, strings in parallel, generators."""
    boat, passage = _demo()
    boat["sailing"] |= {"gybe_downwind": True, "wing_on_wing_beyond_deg": 140.0, "board_nm": 3.0}
    boat["autopilot"] |= {"steering": "wind_vane"}
    wide = {"max_power_w": 100.0, "max_power_v": 37.2, "max_power_a": 2.69, "open_circuit_v": 44.4}
    wide |= {"short_circuit_a": 2.875, "cells": 72, "substrings": 3}
    boat["panel"] = [
        _panel(boat, 0),
        _panel(boat, 1),
        _panel(boat, 2, **wide),
        _panel(boat, 4, **wide, centre_m=[-4.75, -0.68, 1.45]),  # hung under the bimini
        _panel(boat, 5, **wide, mounting="ventilated"),
    ]
    boat["controller"] = [
        {"name": "stern", "strings": [["arch port", "arch starboard"]], "max_output_w": 190.0, "min_input_v": 30.0},
        {
            "name": "deck",
            "strings": [["bimini port"], ["bimini starboard"], ["coachroof"]],
            "tracker": "upper",
            "headroom_v": 3.0,
        },
    ]
    boat["bank"] = {"chemistry": "gel", "nominal_v": 24, "capacity_ah": 180.0, "reserve_soc": 0.5, "temp_c": 30.0}
    boat["bank"] |= {"alternator_v": 28.8}
    boat["generator"] = [
        {"name": "towed", "driven_by": "boat_speed", "output": {"speed_kn": [3.0, 8.0], "watts": [20.0, 160.0]}},
        {"name": "aloft", "driven_by": "apparent_wind", "output": {"speed_kn": [8.0, 20.0], "watts": [0.0, 120.0]}},
    ]
    passage |= {"departure": "2027-07-10T06:00:00+04:00", "start": {"state_of_charge": 0.9}}
    passage["model"] = {"step_min": 10, "points": 4, "roll_nodes": 5}
    trades = weather("2027-07-10T00:00", box=(-23, -17, 54, 64), wind=(19.0, 84.0), air_c=23.0, seed=2)
    return make(boat, passage, [(-20.0, 61.5), (-20.2, 60.0), (-20.4, 58.6)], trades)


def motoring_across_the_line() -> Inputs:
    """Northern winter, westward across the antimeridian: a fixed speed, then calms under engine; AGM in the cold."""
    boat, passage = _demo()
    boat["sailing"] |= {"engine_below_kn": 4.0}
    boat["rig"]["sprayhood"]["transmission"] = 0.3
    boat["panel"] = [
        _panel(boat, 0, tilt_deg=40.0, tilt_toward_deg=0.0),
        _panel(boat, 1, tilt_deg=90.0, tilt_toward_deg=270.0),
        _panel(boat, 2, measured_fraction=0.8),
        _panel(boat, 4),
        _panel(boat, 5, substrings=1),
    ]
    boat["controller"] = [
        {"name": "both", "strings": [["arch port", "arch starboard"], ["bimini port", "bimini starboard"]]},
        {"name": "alone", "strings": [["coachroof"]], "headroom_v": 0.0, "max_input_v": 60.0},
    ]
    boat["bank"] = {"chemistry": "agm", "capacity_ah": 260.0, "reserve_soc": 0.4, "temp_c": 8.0, "absorption_v": 14.1}
    boat["engine"] |= {"output_by_rpm": {"rpm": [900.0, 1500.0, 2500.0], "value": [0.3, 0.7, 1.0]}}
    boat["charger"] = [{"name": "set", "output_w": 200.0, "hours": [["07:00", "08:30"]]}]
    passage |= {"departure": "2026-12-21T18:00:00Z", "start": {"state_of_charge": 0.6}}
    passage |= {"current": {"set_deg": 80.0, "drift_kn": 1.2}, "ship_time": {"offset_hours": -11.5}}
    passage |= {"legs": [{"from_waypoint": "W0", "speed_kn": 5.5}], "model": {"points": 9, "roll_nodes": 1}}
    calms = weather("2026-12-21T00:00", box=(32, 40, 174, 186), wind=(6.0, 330.0), air_c=12.0, seed=3)
    return make(boat, passage, [(36.0, -178.6), (36.4, -179.7), (36.2, 179.4)], calms)


def by_bulletin_alone() -> Inputs:
    """Southern summer off another coast, no forecast file: three rows of a bulletin, planned on as they stand."""
    boat, passage = _demo()
    del passage["forecast"]
    passage |= {"departure": BULLETIN[0]["from"], "weather": BULLETIN, "start": {"state_of_charge": 0.8}}
    passage |= {"model": {"points": 5, "roll_nodes": 2, "lone_outcomes": 1}}
    rows = Passage.model_validate(passage).weather
    route = [(-28.0, -46.5), (-28.9, -47.0), (-29.9, -47.4)]
    return make(boat, passage, route, forecast_by_hand(rows, where="passage"))
