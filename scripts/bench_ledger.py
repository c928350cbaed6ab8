"""Figures of bank, sources and loads: cost, closure, dawn and dusk, age, cold, and a budget worked by hand."""

from __future__ import annotations

import sys
import time
from datetime import timedelta
from pathlib import Path

import numpy as np
import xarray as xr

sys.path.append(str(Path(__file__).parents[1] / "tests" / "simulation"))

from shunt_view import shunt_view

from planner.app.inputs import read_inputs
from planner.app.verbs.plan import plan as make_plan
from planner.domain.inputs.power import Bank, Engine
from planner.domain.policy import METER_READINGS, Policy
from planner.physics.bank import BankParams, bank_step
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.simulate import simulate

DEMO = Path(__file__).parents[1] / "data" / "demo" / "passage.toml"
MEMBERS, DAYS, STEP_MIN = 51, 10, 10
CHEMISTRIES = ("flooded", "agm", "gel", "lifepo4")
ENGINE = Engine(alternator_a=90.0, charging_l_per_h=1.6, motoring_l_per_h=2.8, tank_l=180.0)


def passage(rng: np.random.Generator, members: int, days: int) -> tuple[xr.Dataset, xr.Dataset, xr.Dataset, Policy]:
    """Return harvest, demand and track of a passage with random sun and loads, and two hours of engine a watch."""
    steps = days * 144
    hour = np.arange(steps) / 6.0 % 24.0
    when = np.datetime64("2027-05-09T00:00", "ns") + np.arange(steps) * np.timedelta64(STEP_MIN, "m")
    sun = np.maximum(np.sin((hour - 6.0) / 12.0 * np.pi), 0.0) * rng.uniform(0.0, 700.0, (members, steps))
    coords = {"member": np.arange(members), "time": when}
    harvest = xr.Dataset({"controller_power_w": (("member", "time", "controller"), sun[:, :, None])}, coords=coords)
    demand = xr.Dataset({"demand_power_w": (("member", "time"), rng.uniform(40.0, 200.0, sun.shape))}, coords=coords)
    track = xr.Dataset({"under_engine": (("time",), np.zeros(steps))}, coords={"time": when})
    first = np.arange(0, steps, 24)
    table = np.full((first.size, METER_READINGS), 120, dtype=np.int64)
    policy = Policy(
        first_step=first,
        end_step=np.minimum(first + 24, steps),
        minutes=table,
        stop_soc=np.full(first.size, 0.9),
        allowed=np.ones(steps, dtype=bool),
    )
    return harvest, demand, track, policy


def cost() -> None:
    """Print the time of one simulation, and how it grows with members and days."""
    rng = np.random.default_rng(1)

    def best_ms(members: int, days: int, chemistry: str) -> float:
        harvest, demand, track, policy = passage(rng, members, days)
        bank = Bank(chemistry=chemistry, capacity_ah=300.0, reserve_soc=0.3)
        seconds = []
        for _ in range(6):
            began = time.perf_counter()
            simulate(harvest, demand, track, bank=bank, engine=ENGINE, policy=policy, start_soc=0.8)
            seconds.append(time.perf_counter() - began)
        return 1000.0 * min(seconds[1:])

    for chemistry in CHEMISTRIES:
        print(f"simulate, {MEMBERS} members, {DAYS} days, {chemistry:8} {best_ms(MEMBERS, DAYS, chemistry):6.1f} ms")
    for members, days in ((102, 10), (51, 20)):
        print(f"simulate, {members} members, {days} days, lifepo4  {best_ms(members, days, 'lifepo4'):6.1f} ms")


def closure() -> None:
    """Print the worst imbalance of a ledger over its throughput, and how far the shunt's view strays."""
    rng = np.random.default_rng(2)
    harvest, demand, track, policy = passage(rng, 8, 30)
    for chemistry in CHEMISTRIES:
        bank = Bank(chemistry=chemistry, capacity_ah=300.0, reserve_soc=0.3)
        run = simulate(harvest, demand, track, bank=bank, engine=ENGINE, policy=policy, start_soc=0.5)
        taken = run["solar_power_w"] + run["alternator_power_w"] + run["other_charge_power_w"]
        used = run["load_power_w"] + run["stored_power_w"] + run["bank_loss_power_w"]
        worst = float((abs(taken - used) / np.maximum(np.maximum(taken, abs(used)), 1.0)).max())
        astray = float(abs(shunt_view(run, bank, start_soc=0.5)["meter_soc"] - run["bank_soc"]).max())
        print(f"closure over {run['bank_soc'].size} steps, {chemistry:8} {worst:.1e};  shunt astray by {astray:.3f}")


def hour_of_engine(params: BankParams, soc: float) -> float:
    """Return the amp-hours that an hour of alternator puts into a bank over a load of 100 W."""
    amp_hours = 0.0
    for _ in range(6):
        step = bank_step(soc, 0.0, 950.0, 0.0, 100.0, 600.0, params)
        soc, amp_hours = step.soc_next, amp_hours + step.current_a / 6.0
    return amp_hours


def engine_hours() -> None:
    """Print an hour of engine at dawn and dusk, on a bank aged to 70 %, and on a cold morning."""
    for chemistry in CHEMISTRIES:
        bank = Bank(chemistry=chemistry, capacity_ah=300.0, reserve_soc=0.3)
        dawn, dusk = (hour_of_engine(bank_params(bank), soc) for soc in (0.55, 0.95))
        old, cold = bank.model_copy(update={"health": 0.7}), bank.model_copy(update={"temp_c": -2.0})
        new_ah, old_ah = (hour_of_engine(bank_params(each), 0.80) for each in (bank, old))
        print(
            f"an hour of engine, {chemistry:8} at 55 % {dawn:5.1f} Ah, at 95 % {dusk:5.1f}; at 80 % {new_ah:5.1f}, "
            f"aged to 70 % {old_ah:5.1f} Ah; at 55 % and -2 C {hour_of_engine(bank_params(cold), 0.55):5.1f} Ah"
        )


def budget() -> None:
    """Print the demo's loads beside amperes times duty times hours, as a handbook's budget has them."""
    plan = make_plan(read_inputs(DEMO))
    boat, ship_hour = read_inputs(DEMO, []).boat, timedelta(hours=1)
    days = plan.track.sizes["time"] / 144.0
    night_h = float((plan.harvest["sun_elevation_deg"].values <= 0.0).sum()) / 6.0 / days
    motoring_h = float((plan.track["under_engine"].values > 0).sum()) / 6.0 / days
    hours = {"night": night_h, "engine": motoring_h, "sailing": 24.0 - motoring_h, "always": 24.0, "watch": 24.0}
    print(
        f"budget: night {night_h:.1f} h, under engine {motoring_h:.1f} h a day; Ah a day at {boat.bank.nominal_v} V"
    )
    mean_w = plan.demand["load_item_power_w"].mean("time")
    total = [0.0, 0.0]
    for name in plan.demand["load"].values:
        ours_ah = 24.0 * float(mean_w.sel(load=name)) / boat.bank.nominal_v
        by_hand_ah = ours_ah
        for load in boat.load:
            if load.name == name:
                by_span = sum(
                    ((_clock(end) - _clock(start)) % (24 * ship_hour)) / ship_hour for start, end in load.hours
                )
                on_h = by_span if load.hours else hours[load.when]
                needed = load.wh_per_day if load.wh_per_day else (load.watts or 0.0) * load.duty * on_h
                by_hand_ah = needed / boat.bank.nominal_v
        total = [total[0] + ours_ah, total[1] + by_hand_ah]
        print(f"  {name:24} planner {ours_ah:6.1f}   by hand {by_hand_ah:6.1f}")
    print(f"  {'all':24} planner {total[0]:6.1f}   by hand {total[1]:6.1f}")


def _clock(text: str) -> timedelta:
    hour, minute = text.split(":")
    return timedelta(hours=int(hour), minutes=int(minute))


if __name__ == "__main__":
    cost()
    closure()
    engine_hours()
    budget()
