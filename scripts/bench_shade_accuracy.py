"""What doubling points, roll nodes and the time step moves on the demo, what pitching adds, and which place wins.

Also how far a mirrored boat under a mirrored sun is from the mirrored result. Run from the project's root:
``python scripts/bench_shade_accuracy.py``. Panel-days are 24 hours of one panel from departure; the members' first is
taken. Each doubling should move a panel-day by less than 1 % or 5 Wh, mirroring the passage's yield by under 0.5 %.
"""

# ruff: noqa: E402 - the path comes before the imports that need it

from __future__ import annotations

import sys
from itertools import product
from pathlib import Path

import numpy as np
import xarray as xr

PROJECT = Path(__file__).parents[1]
sys.path.insert(0, str(PROJECT))

from planner.app.inputs import read_inputs
from planner.domain.arrays import Floats
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs
from planner.readers.config import parse_override
from planner.simulation.harvest.collect import collect_under
from planner.simulation.harvest.scene import cast
from planner.simulation.ledger.bank import bank_params
from planner.simulation.sky.forecast_calendar import extend
from planner.simulation.sky.weather import sky_along
from planner.simulation.track.sail import sail

POINTS, NODES = 16, 3
SIDED = ("heading_deg", "heel_deg", "boom_angle_deg", "headsail_angle_deg", "tack", "apparent_wind_angle_deg")
PITCHING_DEG = 3.0  # degree; a lively boat's pitch about its mean (common practice)
LAT_DEG = -15.0
DECLINATIONS_DEG = (("May", 18.0), ("equinox", 0.0), ("sun overhead", -15.0))


def demo(step_min: int) -> tuple[Inputs, xr.Dataset, xr.Dataset]:
    """Return the demo's inputs, its track at a step and its forecast of one member."""
    passage_file = PROJECT / "data" / "demo" / "passage.toml"
    inputs = read_inputs(passage_file, [parse_override(f"model.step_min={step_min}")])
    forecast = extend(inputs.forecast, inputs.passage.departure, seed=1)
    return inputs, sail(inputs.passage, inputs.boat, inputs.route, forecast), forecast.isel(member=[0])


def panel_days(
    inputs: Inputs, track: xr.Dataset, forecast: xr.Dataset, *, points: int = POINTS, nodes: int = NODES
) -> Floats:
    """Return energy of every panel on every passage day, (day, panel) [Wh]."""
    return yields(inputs, inputs.boat, track, sky_along(track, forecast), points=points, nodes=nodes)


def yields(
    inputs: Inputs, boat: Boat, track: xr.Dataset, sky: xr.Dataset, *, points: int = POINTS, nodes: int = NODES
) -> Floats:
    """Return energy of every panel of a boat on every passage day under a sky, (day, panel) [Wh]."""
    harvest = collect_under(
        track,
        sky,
        rig=boat.rig,
        panels=boat.panel,
        controllers=boat.controller,
        soiling=boat.soiling,
        bus_v=bank_params(boat.bank).absorption_v,
        points=points,
        roll_nodes=nodes,
    )
    step_h = inputs.passage.model.step_min / 60.0
    first = np.arange(0, track.sizes["time"], round(24.0 / step_h))
    energy: Floats = np.add.reduceat(harvest["panel_power_w"].to_numpy()[0], first, axis=0) * step_h
    return energy


def mirrored_boat(boat: Boat) -> Boat:
    """Return the boat with port and starboard changed over."""

    def flip(point: tuple[float, float, float]) -> tuple[float, float, float]:
        return (point[0], -point[1], point[2])

    tubes = [
        tube.model_copy(update={"from_m": flip(tube.from_m), "to_m": flip(tube.to_m)}) for tube in boat.rig.tubes
    ]
    radomes = [drum.model_copy(update={"centre_m": flip(drum.centre_m)}) for drum in boat.rig.radomes]
    panels = [
        panel.model_copy(update={"centre_m": flip(panel.centre_m), "tilt_toward_deg": -panel.tilt_toward_deg % 360.0})
        for panel in boat.panel
    ]
    rig = boat.rig.model_copy(update={"tubes": tuple(tubes), "radomes": tuple(radomes)})
    return boat.model_copy(update={"rig": rig, "panel": tuple(panels)})


def compare(name: str, plain: Floats, finer: Floats) -> int:
    """Print by how much the panel-days differ, and return how many do by over 5 Wh and over 1 %."""
    days = min(len(plain), len(finer)) - 1  # the last day's length may differ by a step
    off = np.abs(finer[:days] - plain[:days])
    part = off / np.maximum(plain[:days], 1e-9)
    beyond = np.count_nonzero((off > 5.0) & (part > 0.01))
    print(
        f"{name:34s} {off.size} panel-days: mean {off.mean():.2f} Wh, most {off.max():.2f} Wh "
        f"({part.flat[off.argmax()]:.2%}); over 5 Wh and over 1 %: {beyond}"
    )
    return int(beyond)


def doubled() -> list[int]:
    """Print what doubling points, roll nodes and time step moves, and return how many panel-days each moves."""
    inputs, track, forecast = demo(10)
    plain = panel_days(inputs, track, forecast)
    print(f"{plain[:-1].mean():.0f} Wh a mean panel-day")
    return [
        compare(f"points {POINTS} -> {2 * POINTS}", plain, panel_days(inputs, track, forecast, points=2 * POINTS)),
        compare(f"roll nodes {NODES} -> {2 * NODES}", plain, panel_days(inputs, track, forecast, nodes=2 * NODES)),
        compare("step 10 min -> 5 min", plain, panel_days(*demo(5))),
    ]


def beyond_doubling() -> None:
    """Print what many roll nodes, the other side and pitching move."""
    inputs, track, forecast = demo(10)
    plain = panel_days(inputs, track, forecast)
    compare(f"roll nodes {NODES} -> 15", plain, panel_days(inputs, track, forecast, nodes=15))
    swing = PITCHING_DEG * np.cos((2.0 * np.arange(1, 4) - 1.0) * np.pi / 6.0)
    pitched = np.mean(
        [panel_days(inputs, track.assign(pitch_deg=track["pitch_deg"] + by), forecast) for by in swing], axis=0
    )
    boat, sky = inputs.boat, sky_along(track, forecast)
    turned = track.assign({name: -track[name] for name in SIDED})
    sun = sky.assign(sun_azimuth_deg=-sky["sun_azimuth_deg"] % 360.0)
    mirror = yields(inputs, mirrored_boat(boat), turned, sun)
    compare("boat and sun mirrored", plain, mirror)
    by_panel = mirror.sum(axis=0) / plain.sum(axis=0) - 1.0
    whole = mirror.sum() / plain.sum() - 1.0
    print(f"mirrored, whole passage: {whole:+.3%}; by panel {by_panel.min():+.3%} to {by_panel.max():+.3%}")
    compare(f"pitching {PITCHING_DEG:g} deg about the mean", plain, pitched)


def ranking() -> None:
    """Print the beam that each place gets over a tropical day, on four headings and both tacks."""
    inputs, _, _ = demo(10)
    boat = inputs.boat
    places = [panel.name.split()[0] for panel in boat.panel]
    hour = np.radians(np.arange(-90.0, 90.1, 2.5))
    lat = np.radians(LAT_DEG)
    print(f"\nBeam over a day at {-LAT_DEG:g} S, of an open level panel's [%]: arch / bimini / coachroof")
    for season, declination_deg in DECLINATIONS_DEG:
        declination = np.radians(declination_deg)
        sine = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour)
        north = np.cos(lat) * np.sin(declination) - np.sin(lat) * np.cos(declination) * np.cos(hour)
        azimuth = np.degrees(np.arctan2(-np.cos(declination) * np.sin(hour), north))
        for tack, heading in product((1.0, -1.0), (0.0, 90.0, 180.0, 270.0)):
            one = np.ones(hour.size)
            columns = {
                "heading_deg": heading * one,
                "heel_deg": -12.0 * tack * one,
                "pitch_deg": 0.0 * one,
                "roll_amplitude_deg": 4.0 * one,
                "boom_angle_deg": 25.0 * tack * one,
                "mainsail_hoist_fraction": one,
                "headsail_set_fraction": one,
                "headsail_angle_deg": 24.0 * tack * one,
                "tack": tack * one,
            }
            steps = xr.Dataset({name: ("time", column) for name, column in columns.items()})
            shading = cast(
                steps,
                azimuth,
                np.degrees(np.arcsin(sine)),
                rig=boat.rig,
                panels=boat.panel,
                points=POINTS,
                roll_nodes=5,
            )
            cells = np.split(shading.cell_lit, shading.cell_first[1:-1], axis=2)
            lit = np.stack([of_panel.mean(axis=2) for of_panel in cells], axis=2)
            beam = (np.maximum(shading.cos_incidence, 0.0) * lit).mean(axis=1)[sine > 0.0].sum(axis=0)
            share = 100.0 * beam / sine[sine > 0.0].sum()
            of = {place: np.mean([share[p] for p, own in enumerate(places) if own == place]) for place in places}
            side = "starboard" if tack > 0.0 else "port"
            print(f"{season:13s} {side:9s} {heading:03.0f}  " + " / ".join(f"{of[place]:4.0f}" for place in of))


if __name__ == "__main__":
    doubled()
    beyond_doubling()
    ranking()
