"""Demand and the ledger under a policy: what draws when, and a crew that reads the meter, step by step."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from model_bank import Bank
from model_tables import interp


def within(clock_min: int, start: str, end: str) -> bool:
    """Whether a minute of the day lies in a span; the end is outside, equal ends are the whole day."""
    first, last = (60 * int(text[:2]) + int(text[3:]) for text in (start, end))
    return (clock_min - first) % 1440 < ((last - first) % 1440 or 1440)


def _is_on(load, row: dict, clock_min: int, watches) -> bool:
    role = next(watch.role for watch in watches if within(clock_min, watch.start, watch.end))
    sailing = {"sailing": not row["under_engine"], "engine": bool(row["under_engine"])}
    other = {"night": row["sun_elevation_deg"] <= 0.0, "watch": role in load.roles}
    timely = not load.hours or any(within(clock_min, *span) for span in load.hours)
    return timely and row["true_wind_speed_kn"] >= load.above_wind_kn and (sailing | other).get(load.when, True)


def _steering_w(autopilot, row: dict) -> float:
    if row["under_engine"]:
        return 0.0 if autopilot.steering == "hand" else autopilot.watts_under_engine
    if autopilot.steering != "autopilot":
        return 0.0
    table = interp(autopilot.watts.angle_deg, autopilot.watts.value, abs(row["true_wind_angle_deg"]))
    return max(table + autopilot.watts_per_kn * max(row["true_wind_speed_kn"] - 15.0, 0.0), 0.0)


def demand(rows: list[dict], air_c, solar_w, *, boat, watches, ship_offset: timedelta, step_s: float):
    """What every member asks for at each step, and what each load does on the mean of the members.

    ``rows`` are track and sun by step; ``air_c`` and ``solar_w`` (all controllers together) are lists by member and
    step.
    """
    members, steps, h = range(len(air_c)), range(len(rows)), step_s / 3600.0
    clock = [_minute(row["time"] + ship_offset) for row in rows]
    names = [load.name for load in boat.load] + ["steering", "controllers"]
    asked = {name: [[0.0] * len(rows) for _ in members] for name in names}
    idle = sum(controller.idle_w for controller in boat.controller)
    on = {
        load.name: [_is_on(load, row, at, watches) for row, at in zip(rows, clock, strict=True)] for load in boat.load
    }
    draws = {load.name: _draw_w(load, boat.bank.nominal_v) for load in boat.load}
    for m in members:
        for t in steps:
            asked["steering"][m][t] = _steering_w(boat.autopilot, rows[t])
            asked["controllers"][m][t] = idle
            for load in boat.load:
                if load.wh_per_day is None and on[load.name][t]:
                    warmth = max(1.0 + load.per_c * (air_c[m][t] - 25.0), 0.2) if load.per_c else 1.0
                    asked[load.name][m][t] = draws[load.name] * warmth
    surplus = [sum(solar_w[m][t] - sum(asked[n][m][t] for n in names) for m in members) / len(members) for t in steps]
    for load in boat.load:
        if load.wh_per_day is None:
            continue
        for t, watts in _placed(surplus, on[load.name], draws[load.name], load.wh_per_day, h).items():
            surplus[t] -= watts
            for m in members:
                asked[load.name][m][t] = watts
    total = [[sum(asked[name][m][t] for name in names) for t in steps] for m in members]
    items = {name: [sum(asked[name][m][t] for m in members) / len(members) for t in steps] for name in names}
    return total, items


def _draw_w(load, nominal_v: float) -> float:
    return (load.watts if load.watts is not None else load.amps * nominal_v) * load.duty


def _minute(moment: datetime) -> int:
    return 60 * moment.hour + moment.minute


def _placed(surplus: list[float], on: list[bool], draw: float, wh_per_day: float, h: float) -> dict[int, float]:
    """The steps of each day with most surplus, until the day's energy is placed."""
    day, watts = round(24.0 / h), {}
    for first in range(0, len(surplus), day):
        block = range(first, min(first + day, len(surplus)))
        energy = wh_per_day * len(block) / day
        ranked = sorted((t for t in block if on[t]), key=lambda t: (-round(surplus[t], 6), t))
        for rank, t in enumerate(ranked):
            watts[t] = draw * min(max(energy / (draw * h) - rank, 0.0), 1.0) if draw else 0.0
    return watts


def simulate(solar_w, demand_w, under_engine, *, boat, policy, start_soc: float, step_s: float, meter_offset=0.0):
    """The ledger of one member, a dict a step in the words of the glossary, with ``soc_next``."""
    bank, engine, h = Bank(boat.bank), boat.engine, step_s / 3600.0
    alternator = engine.alternator_a * engine.hot_fraction * 0.5 * (bank.ocv(0.5) + bank.absorption_v)
    soc, gap, left, epoch, rows = start_soc, 0.0, 0.0, None, []
    for t, (solar, asked, motoring) in enumerate(zip(solar_w, demand_w, under_engine, strict=True)):
        drives = bool(motoring) and engine.available
        reading = min(max(math.floor((soc + meter_offset) * 100.0 + 0.5), 0), 100)
        now = _epoch_of(policy, t)
        if now != epoch:
            epoch, left = now, float(policy.minutes[now][reading]) if now is not None else 0.0
        running = drives or (bool(policy.allowed[t]) and engine.available and left > 0.0)
        if running and left > 0.0:
            if reading >= float(policy.stop_soc[epoch]) * 100.0 - 1e-9:
                left, running = 0.0, drives
            else:
                left -= step_s / 60.0
        offered = alternator if running else 0.0
        at_hand = bank.at_hand_a(soc, gap, h)
        step = bank.step(soc, solar=solar, alternator=offered, other=0.0, demand=asked, h=h, at_hand_a=at_hand)
        gap = bank.gap_after(gap, step["bank_current_a"], h)
        step["bank_soc"] = soc
        step["curtailed_power_w"] = solar - step["solar_power_w"]
        step["load_power_w"] = asked - step["unserved_power_w"]
        step["bank_loss_power_w"] = step["resistive_loss_power_w"] + step["coulombic_loss_power_w"]
        step["engine_on"] = float(running)
        soc = step["soc_next"]
        rows.append(step)
    return rows


def _epoch_of(policy, t: int) -> int | None:
    spans = zip(policy.first_step, policy.end_step, strict=True)
    return next((index for index, (first, end) in enumerate(spans) if first <= t < end), None)
