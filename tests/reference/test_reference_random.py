"""Boats, routes, banks and weather drawn at random: track and ledger against the plain scalar model.

Agreement everywhere: 1e-6, absolute in the quantity's own units or relative, whichever is more.
"""

from __future__ import annotations

import math
import random
import tomllib

import model_ledger
import model_track
import numpy as np
import xarray as xr
from agreement import Worst, compare_track
from hypothesis import given, settings
from hypothesis import strategies as st
from passages import DEMO, weather

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.power import Bank, Engine
from planner.domain.inputs.route import Waypoint
from planner.domain.policy import METER_READINGS, Policy, StandingOrder
from planner.physics.bank.meter import STEADY, MeterDrift
from planner.simulation.ledger.simulate import simulate
from planner.simulation.track.sail import sail

STEPS = 144
H = 1.0 / 6.0


def document(name: str) -> dict:
    return tomllib.loads((DEMO / f"{name}.toml").read_text(encoding="utf-8"))


@st.composite
def sailings(draw):
    """A boat, a passage of two legs somewhere on the seas, and the weather there."""
    boat, passage = document("boat"), document("passage")
    boat["sailing"] |= {
        "comfort_factor": draw(st.floats(0.6, 1.0)),
        "engine_below_kn": (below := draw(st.just(0.0) | st.floats(0.5, 5.0))),
        "engine_below_made_good_kn": draw(st.floats(0.0, 3.0)),
        "board_nm": draw(st.floats(0.5, 8.0)),
        "gybe_downwind": draw(st.booleans()),
        "tack_hysteresis_deg": draw(st.floats(0.0, 20.0)),
        "wing_on_wing_beyond_deg": draw(st.floats(120.0, 175.0)),
    }
    passage |= {
        "sailings": draw(st.sampled_from(["great_circle", "rhumb_line"])),
        "current": {"set_deg": draw(st.floats(0.0, 360.0)), "drift_kn": draw(st.floats(0.0, 2.5 if below else 0.3))},
        "departure": "2026-03-03T12:00:00Z",
        "model": {"step_min": draw(st.sampled_from([5, 10]))},
    }
    if draw(st.booleans()):
        passage["legs"] = [{"from_waypoint": "W1", "speed_kn": draw(st.floats(4.0, 7.0))}]
    lat, lon = draw(st.integers(-62, 62)), draw(st.integers(-180, 179))
    places = [(lat + draw(st.floats(-0.45, 0.45)), lon + 0.5 + dlon) for dlon in (0.0, 0.4, -0.45)]
    route = tuple(Waypoint(name=f"W{n}", lat=y, lon=(x + 180.0) % 360.0 - 180.0) for n, (y, x) in enumerate(places))
    wind = (draw(st.floats(3.0, 28.0)), draw(st.floats(0.0, 360.0)))
    box = (lat - 2, lat + 2, lon - 2, lon + 3)
    around = weather("2026-03-03T00:00", box=box, wind=wind, air_c=15.0, seed=draw(st.integers(0, 999)), layers=False)
    return Passage.model_validate(passage), Boat.model_validate(boat), route, around


@settings(max_examples=25, deadline=None, derandomize=True)
@given(sailings())
def test_tracks(case) -> None:
    passage, boat, route, around = case
    worst = Worst()
    compare_track(worst, model_track.sail(passage, boat, route, around), sail(passage, boat, route, around))
    worst.assert_close()


@st.composite
def banks(draw) -> Bank:
    nominal = draw(st.sampled_from([12, 24]))
    given_figures = {
        "resistance_ohm": st.floats(0.002, 0.03),
        "charge_limit_c": st.floats(0.05, 0.6),
        "absorption_v": st.floats(13.8, 14.6).map(lambda v: v * nominal / 12.0),
        "alternator_v": st.floats(13.6, 14.8).map(lambda v: v * nominal / 12.0),
        "float_v": st.floats(13.2, 13.7).map(lambda v: v * nominal / 12.0),
        "self_discharge_per_month": st.floats(0.0, 0.2),
    }
    chosen = {name: draw(values) for name, values in given_figures.items() if draw(st.booleans())}
    return Bank(
        chemistry=draw(st.sampled_from(["flooded", "agm", "gel", "lifepo4"])),
        nominal_v=nominal,
        capacity_ah=draw(st.floats(80.0, 600.0)),
        health=draw(st.floats(0.6, 1.0)),
        reserve_soc=0.3,
        temp_c=draw(st.floats(-5.0, 40.0)),
        **chosen,
    )


@st.composite
def engines(draw) -> Engine:
    table = {"rpm": [1000.0, 2000.0], "value": [0.4, 1.0]}
    return Engine(
        available=draw(st.integers(0, 4)) > 0,
        alternator_a=draw(st.floats(20.0, 150.0)),
        hot_fraction=draw(st.floats(0.5, 1.0)),
        warm_up_min=draw(st.sampled_from([0.0, 5.0, 40.0])),
        regulator_limit_a=draw(st.none() | st.floats(15.0, 150.0)),
        output_by_rpm=draw(st.sampled_from([None, table])),
        charging_l_per_h=1.5,
        motoring_l_per_h=3.0,
        tank_l=100.0,
    )


def policy(draw: random.Random) -> Policy:
    first = np.arange(0, STEPS, 24)
    tables = [sorted((draw.choice([0, 30, 60, 120]) for _ in range(METER_READINGS)), reverse=True) for _ in first]
    return Policy(
        first_step=first,
        end_step=np.minimum(first + draw.choice([20, 24]), STEPS),
        minutes=np.array(tables),
        stop_soc=np.array([draw.uniform(0.5, 1.0) for _ in first]),
        allowed=np.array([draw.random() < 0.7 for _ in range(STEPS)]),
        standing=StandingOrder(draw.choice([20, 40]), 55, np.array([draw.random() < 0.8 for _ in range(STEPS)]))
        if draw.random() < 0.5
        else None,
    )


@settings(max_examples=25, deadline=None, derandomize=True)
@given(banks(), engines(), st.floats(0.0, 1.0), st.floats(-0.05, 0.05), st.integers(0, 9999))
def test_ledgers(bank: Bank, engine: Engine, start_soc: float, offset: float, seed: int) -> None:
    draw, scale = random.Random(seed), bank.capacity_ah * bank.nominal_v * 0.1
    sun = [max(math.sin(2.0 * math.pi * (t - 30) / STEPS), 0.0) for t in range(STEPS)]
    peak, night_load = draw.uniform(0.2, 4.0) * scale, draw.choice([0.3, 1.0, 8.0]) * scale
    solar = [peak * height * draw.random() for height in sun]
    asked = [night_load * draw.random() for _ in range(STEPS)]
    other = [draw.choice([0.0, 0.3]) * scale for _ in range(STEPS)]
    motoring = [draw.random() < 0.1 for _ in range(STEPS)]
    table = policy(draw)
    drift = MeterDrift(0.02, 0.01, draw.uniform(0.0, 0.5), draw.uniform(0.0, 0.1), 0.6) if seed % 2 else None
    along = {"time": np.datetime64("2026-03-03T12:00", "ns") + np.arange(STEPS) * np.timedelta64(600, "s")}
    track = xr.Dataset({"under_engine": ("time", np.array(motoring, dtype=float))}, along, {"step_s": 600.0})
    track["other_offered_power_w"] = ("time", np.array(other))
    harvest = xr.Dataset(
        {"controller_power_w": (("member", "time", "controller"), np.array(solar)[None, :, None])},
        {"member": [0], **along},
    )
    demand = xr.Dataset({"demand_power_w": (("member", "time"), np.array([asked]))}, {"member": [0], **along})
    ours = simulate(
        harvest,
        demand,
        track,
        bank=bank,
        engine=engine,
        policy=table,
        start_soc=start_soc,
        meter_offset=np.array([offset]),
        drift=drift or STEADY,
    )
    boat = Boat.model_validate(document("boat")).model_copy(update={"bank": bank, "engine": engine})
    about = {"boat": boat, "policy": table, "start_soc": start_soc, "step_s": 600.0, "offset": offset, "drift": drift}
    plain = model_ledger.simulate(solar, asked, motoring, other, **about)
    worst = Worst()
    for name in set(plain[0]) - {"soc_next", "fuel_l"}:
        worst.add(name, [step[name] for step in plain], ours[name].to_numpy()[0])
    worst.add("bank_soc_end", plain[-1]["soc_next"], ours["bank_soc_end"].to_numpy()[0])
    worst.assert_close()
