"""Demand and the ledger under a policy: what draws when, and a crew that reads the meter, step by step."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from model_bank import Bank
from model_tables import interp

from planner.domain.inputs.power import Load


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
    loads = [*boat.load, *(_charger_of(secondary) for secondary in boat.secondary_bank)]
    names = [*(load.name for load in loads), "steering", "controllers"]
    asked = {name: [[0.0] * len(rows) for _ in members] for name in names}
    idle = sum(controller.idle_w for controller in boat.controller)
    on = {load.name: [_is_on(load, row, at, watches) for row, at in zip(rows, clock, strict=True)] for load in loads}
    fed = {load.name: boat.inverter.efficiency if load.ac and boat.inverter else 1.0 for load in loads}
    draws = {load.name: _draw_w(load, boat.bank.nominal_v) / fed[load.name] for load in loads}
    for m in members:
        for t in steps:
            asked["steering"][m][t] = _steering_w(boat.autopilot, rows[t])
            asked["controllers"][m][t] = idle
            for load in loads:
                if load.wh_per_day is None and on[load.name][t]:
                    warmth = max(1.0 + load.per_c * (air_c[m][t] - 25.0), 0.2) if load.per_c else 1.0
                    asked[load.name][m][t] = draws[load.name] * warmth
    surplus = [sum(solar_w[m][t] - sum(asked[n][m][t] for n in names) for m in members) / len(members) for t in steps]
    for load in loads:
        if load.wh_per_day is None:
            continue
        wh_per_day = load.wh_per_day / fed[load.name]
        placed = _placed(surplus, on[load.name], draws[load.name], wh_per_day, run_h=load.min_run_min / 60.0, h=h)
        for t, watts in placed.items():
            surplus[t] -= watts
            for m in members:
                asked[load.name][m][t] = watts
    if boat.inverter is not None:
        names.append("inverter")
        feeds = [load.name for load in loads if load.ac]
        drawing = [any(asked[name][m][t] > 0.0 for name in feeds for m in members) for t in steps]
        asked["inverter"] = [[boat.inverter.idle_w if draws_now else 0.0 for draws_now in drawing] for _ in members]
    total = [[sum(asked[name][m][t] for name in names) for t in steps] for m in members]
    items = {name: [sum(asked[name][m][t] for m in members) / len(members) for t in steps] for name in names}
    return total, items


def _draw_w(load, nominal_v: float) -> float:
    return (load.watts if load.watts is not None else load.amps * nominal_v) * load.duty


def _minute(moment: datetime) -> int:
    return 60 * moment.hour + moment.minute


def _charger_of(secondary) -> Load:
    need = secondary.need_wh_per_day / secondary.charger_efficiency
    return Load(name=secondary.name, watts=secondary.charger_w, when=secondary.when, wh_per_day=need)


def _placed(surplus, on, draw: float, wh_per_day: float, *, run_h: float, h: float) -> dict[int, float]:
    """The steps of each day with most surplus, one by one or in runs, until the day's energy is placed."""
    day, watts = round(24.0 / h), {}
    for first in range(0, len(surplus), day):
        block = range(first, min(first + day, len(surplus)))
        needed = wh_per_day * len(block) / day / (draw * h) if draw else 0.0
        if run_h == 0.0:
            ranked = sorted((t for t in block if on[t]), key=lambda t: (-round(surplus[t], 6), t))
            watts |= {t: draw * min(max(needed - rank, 0.0), 1.0) for rank, t in enumerate(ranked)}
            continue
        runs = max(int(needed / (run_h / h) + 1e-9), 1)
        length = needed / runs
        shape = [min(max(length - j, 0.0), 1.0) for j in range(math.ceil(length - 1e-9))]
        for _ in range(runs):
            best = None
            for start in range(first, block.stop - len(shape) + 1):
                if all(on[start + j] and start + j not in watts for j in range(len(shape))):
                    worth = round(sum(part * surplus[start + j] for j, part in enumerate(shape)), 6)
                    if best is None or worth > best[0]:
                        best = (worth, start)
            if best is not None:
                watts |= {best[1] + j: draw * part for j, part in enumerate(shape)}
    return watts


def alternator_a(engine, *, drives: bool, from_min: float, until_min: float) -> float:
    """Mean current between two minutes of a run begun cold; five time constants after the start it counts as hot."""
    if not engine.available:
        return 0.0
    rpm = engine.motoring_rpm if drives else engine.charging_rpm
    table = engine.output_by_rpm
    cold = engine.alternator_a * (interp(table.rpm, table.value, rpm) if table else 1.0)
    hot, cap, tau = cold * engine.hot_fraction, min(engine.regulator_limit_a or math.inf, cold), engine.warm_up_min
    if cap <= hot:
        return cap
    if from_min >= 5.0 * tau:
        return hot

    def amp_minutes(end: float) -> float:
        held = min(tau * math.log((cold - hot) / (cap - hot)), end)
        warming = (cold - hot) * tau * (math.exp(-held / tau) - math.exp(-end / tau))
        return cap * held + hot * (end - held) + warming

    return (amp_minutes(until_min) - amp_minutes(from_min)) / (until_min - from_min)


def other_w(row: dict, boat, ship_offset: timedelta) -> float:
    """What generators and chargers offer in a step."""
    total = 0.0
    for generator in boat.generator:
        towed = generator.driven_by == "boat_speed"
        speed = row["speed_through_water_kn" if towed else "apparent_wind_speed_kn"]
        if speed >= generator.output.speed_kn[0] and not (towed and row["under_engine"]):
            total += interp(generator.output.speed_kn, generator.output.watts, speed)
    clock = _minute(row["time"] + ship_offset)
    return total + sum(c.output_w for c in boat.charger if any(within(clock, *span) for span in c.hours))


def simulate(
    solar_w, demand_w, under_engine, other, *, boat, policy, start_soc: float, step_s: float, offset=0.0, drift=None
):
    """The ledger of one member, a dict a step in the words of the glossary, with ``soc_next``.

    ``other`` is what other sources offer at each step; ``offset`` is what the crew's meter adds to the truth
    at departure, ``drift`` what that grows by.
    """
    bank, engine, h = Bank(boat.bank), boat.engine, step_s / 3600.0
    soc, gap, lean, ran_min, left = start_soc, 0.0, 0.0, 0.0, 0.0
    epoch, stands, rows = None, False, []
    put_in, days, first = 0.0, 0.0, drift.at_start if drift else 0.0
    for t, (solar, asked, motoring) in enumerate(zip(solar_w, demand_w, under_engine, strict=True)):
        drives = bool(motoring) and engine.available
        off = offset
        if drift:  # a fixed error of the monitor, grown by charge counted and by time
            parts = (first, drift.per_throughput * put_in, drift.per_day * days)
            off = offset * math.sqrt(sum(part * part for part in parts)) / drift.at_start
        reading = min(max(math.floor((soc + off) * 100.0 + 0.5), 0), 100)
        now = _epoch_of(policy, t)
        if now != epoch:
            epoch, left = now, float(policy.minutes[now][reading]) if now is not None else 0.0
        running = drives or (bool(policy.allowed[t]) and engine.available and left > 0.0)
        if running and left > 0.0:
            if reading >= float(policy.stop_soc[epoch]) * 100.0 - 1e-9:
                left, running = 0.0, drives
            else:
                left -= step_s / 60.0
        if policy.standing is not None:
            stands = reading < policy.standing.stop_percent and (stands or reading <= policy.standing.start_percent)
            running = running or (stands and bool(policy.standing.allowed[t]) and engine.available)
        offered = 0.0
        if running:
            amps = alternator_a(engine, drives=drives, from_min=ran_min, until_min=ran_min + step_s / 60.0)
            offered = amps * bank.bus_v(soc, amps, solar + other[t] - asked, lean)
        ran_min = ran_min + step_s / 60.0 if running else 0.0
        at_hand = bank.at_hand_a(soc, gap, h)
        sources = {"solar": solar, "alternator": offered, "other": other[t]}
        step = bank.step(soc, **sources, demand=asked, h=h, at_hand_a=at_hand, lean=lean)
        gap = bank.gap_after(gap, step["bank_current_a"], h)
        lean = bank.lean_after(lean, step["bank_current_a"], h)
        step["bank_soc"] = soc
        added_l_per_h = engine.marginal_l_per_kwh * step["alternator_power_w"] / 1000.0
        motoring_l_per_h = engine.motoring_l_per_h + added_l_per_h
        step["fuel_l"] = running * (motoring_l_per_h if motoring else engine.charging_l_per_h) * h
        step["curtailed_power_w"] = solar - step["solar_power_w"]
        step["load_power_w"] = asked - step["unserved_power_w"]
        step["bank_loss_power_w"] = sum(step[f"{k}_loss_power_w"] for k in ("resistive", "coulombic", "hysteresis"))
        step["engine_on"] = float(running)
        soc = step["soc_next"]
        put_in, days = put_in + max(step["bank_current_a"], 0.0) * h / bank.q, days + h / 24.0
        if drift and soc >= drift.full_soc:
            put_in, days, first = 0.0, 0.0, drift.at_full
        rows.append(step)
    return rows


def _epoch_of(policy, t: int) -> int | None:
    spans = zip(policy.first_step, policy.end_step, strict=True)
    return next((index for index, (first, end) in enumerate(spans) if first <= t < end), None)
