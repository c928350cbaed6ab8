"""A two-day passage of round figures, invented for tests of the watch bill, so that results can be reckoned by hand.

Sun 400 W from 06:00 to 18:00 ship's time, loads 200 W of which 100 W may be shed, a lithium bank, watches of four
hours from departure at 08:00, 10-minute steps.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import xarray as xr

from planner.domain.glossary import DEMAND, HARVEST, TRACK
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage, Start, Watch, Wishes
from planner.domain.inputs.power import Bank, Load
from planner.domain.inputs.route import Waypoint
from planner.domain.policy import METER_READINGS, Policy
from planner.domain.schema import to_dataset
from planner.domain.voyage import Voyage
from planner.simulation.clock import changes_of_watch, roles_of_watches
from planner.simulation.ledger.simulate import members_mean, simulate

DEPARTURE = datetime(2026, 5, 9, 20, 0, tzinfo=UTC)
SHIP_OFFSET = timedelta(hours=12)
STEPS = 2 * 144
BOAT_FILE = Path(__file__).parents[2] / "data" / "demo" / "boat.toml"
WATCHES = tuple(
    Watch(start=f"{hour:02d}:00", end=f"{(hour + 4) % 24:02d}:00", role=role)
    for hour, role in zip(range(0, 24, 4), ("mate", "skipper", "cook") * 2, strict=True)
)
LOADS = (
    Load(name="lights", watts=100.0),
    Load(name="fridge", watts=60.0, shed_order=2),
    Load(name="watermaker", watts=40.0, shed_order=1, wh_per_day=960.0),
)
ROUTE = (Waypoint(name="here", lat=-30.0, lon=178.0), Waypoint(name="there", lat=-26.0, lon=-179.0))
BANK = Bank(chemistry="lifepo4", capacity_ah=400.0, reserve_soc=0.3)


def make_boat() -> Boat:
    """Return the demo's boat with the bank and loads above, hot from the start, charging for nothing under engine."""
    boat = Boat.model_validate(tomllib.loads(BOAT_FILE.read_text(encoding="utf-8")))
    engine = boat.engine.model_copy(update={"warm_up_min": 0.0, "marginal_l_per_kwh": 0.0})
    return boat.model_copy(update={"load": LOADS, "bank": BANK, "engine": engine})


def make_passage() -> Passage:
    """Return the passage: bank at 60 %, quiet from 22:00 to 05:00."""
    return Passage(
        departure=DEPARTURE,
        boat="boat.toml",
        route="route.gpx",
        forecast="forecast.nc",
        start=Start(state_of_charge=0.6),
        watches=WATCHES,
        wishes=Wishes(quiet_hours=(("22:00", "05:00"),), confidence=0.9, arrival_soc=0.3),
    )


def inputs_of(passage: Passage, boat: Boat) -> Inputs:
    """Return them as if read, without a forecast."""
    return Inputs(
        passage=passage,
        boat=boat,
        route=ROUTE,
        forecast=xr.Dataset(),
        files={},
        ship_offset=SHIP_OFFSET,
        passage_file=Path("passage.toml"),
        overrides=(),
    )


def make_case(
    *,
    boat: Boat | None = None,
    passage: Passage | None = None,
    sun_of_members: Sequence[float] = (0.8, 1.0, 1.2),
    run_below_percent: int = 50,
    run_min: int = 60,
    motoring_steps: slice = slice(0, 0),
    **track_changes: np.ndarray,
) -> Voyage:
    """Return the case; ``sun_of_members`` multiplies the sun of each, ``track_changes`` replace track variables."""
    boat, passage = boat or make_boat(), passage or make_passage()
    hours = np.arange(STEPS) / 6.0
    time = np.datetime64(DEPARTURE.replace(tzinfo=None), "ns") + np.arange(STEPS) * np.timedelta64(10, "m")
    motoring = np.zeros(STEPS)
    motoring[motoring_steps] = 1.0
    track = _track(time, hours, {"under_engine": motoring, **track_changes})
    members = np.arange(len(sun_of_members))
    day = ((hours + 8.0) % 24.0 >= 6.0) & ((hours + 8.0) % 24.0 < 18.0)
    harvest = _harvest(time, day, np.asarray(sun_of_members))
    items = np.tile([load.watts or 0.0 for load in boat.load], (STEPS, 1))
    demand = to_dataset(
        {"demand_power_w": np.tile(items.sum(axis=1), (members.size, 1)), "load_item_power_w": items},
        DEMAND,
        coords={"member": members, "time": time, "load": [load.name for load in boat.load]},
        door="test demand",
    )
    first, end, watch_index = changes_of_watch(time, passage.watches, SHIP_OFFSET)
    clock = (hours + 8.0) % 24.0
    policy = Policy(
        first_step=first,
        end_step=end,
        minutes=np.tile(np.where(np.arange(METER_READINGS) < run_below_percent, run_min, 0), (first.size, 1)),
        stop_soc=np.full(first.size, 0.95),
        allowed=(clock >= 5.0) & (clock < 22.0) & (motoring == 0.0),
    )
    given = {"bank": boat.bank, "engine": boat.engine, "policy": policy, "start_soc": passage.start.state_of_charge}
    mean_sun, mean_demand = members_mean(harvest, demand)
    return Voyage(
        inputs=inputs_of(passage, boat),
        ship_offset=SHIP_OFFSET,
        track=track,
        harvest=harvest,
        demand=demand,
        ledger=simulate(harvest, demand, track, **given),
        planned=simulate(mean_sun, mean_demand, track, **given),
        policy=policy,
        roles=roles_of_watches(watch_index, passage.watches, passage.watchkeepers),
    )


def with_policy(case: Voyage, minutes: np.ndarray) -> Voyage:
    """Return the case with another table of minutes, its ledgers as they were."""
    return replace(case, policy=replace(case.policy, minutes=minutes))


def _track(time: np.ndarray, hours: np.ndarray, changes: dict[str, np.ndarray]) -> xr.Dataset:
    arrays: dict[str, np.ndarray] = {name: np.zeros(STEPS) for name in TRACK}
    arrays |= {
        "lat": np.full(STEPS, -30.0),
        "lon": np.full(STEPS, 178.0),
        "distance_nm": 6.0 * hours,
        "speed_over_ground_kn": np.full(STEPS, 6.0),
        "true_wind_speed_kn": np.full(STEPS, 15.0),
        "apparent_wind_angle_deg": np.full(STEPS, 60.0),
        "tack": np.ones(STEPS),
        **changes,
    }
    return to_dataset(arrays, TRACK, coords={"time": time}, door="test track")


def _harvest(time: np.ndarray, day: np.ndarray, sun: np.ndarray) -> xr.Dataset:
    boat = make_boat()
    coords = {
        "time": time,
        "member": np.arange(sun.size),
        "panel": [panel.name for panel in boat.panel],
        "controller": [controller.name for controller in boat.controller],
    }
    sizes = {name: len(values) for name, values in coords.items()}
    arrays: dict[str, np.ndarray] = {
        name: np.zeros([sizes[dim] for dim in quantity.dims]) for name, quantity in HARVEST.items()
    }
    arrays["sun_elevation_deg"] = np.where(day, 30.0, -30.0)
    arrays["controller_power_w"][..., 0] = 400.0 * sun[:, None] * day
    return to_dataset(arrays, HARVEST, coords=coords, door="test harvest")
