"""Made logs of a bank: another of its kind than the list's, under sun, loads and engine, read with common faults."""

from __future__ import annotations

import numpy as np
import xarray as xr
from made_draws import STEP_MIN, dataset_of, ship_hour_of, step_times

from planner.domain.inputs.power import Bank
from planner.physics.bank import bank_step
from planner.physics.chemistry import chemistry
from planner.simulation.ledger.bank import bank_params


def bank_of(kind: str, *, capacity_ah: float = 300.0, **more) -> Bank:
    return Bank(chemistry=kind, capacity_ah=capacity_ah, reserve_soc=0.3, **more)


def bank_log(
    bank: Bank,
    *,
    days: float,
    rng: np.random.Generator,
    held: float = 1.0,
    sun_w: float = 520.0,
    load_w: float = 110.0,
    engine_below: float = 0.0,
    start_soc: float = 0.9,
    gaps: int = 0,
    monitor: bool = True,
    gain: float | None = None,
) -> xr.Dataset:
    """The log of a bank that holds ``held`` of what is listed, made by steps of a minute.

    Its resistance, rest curve and charge efficiency are its own, drawn within what banks of its kind differ by. The
    engine charges below ``engine_below``, by the true state of charge, until half full again. Read to 0.01 V and
    0.1 A as means of ten minutes, with errors of gain (1 %) and zero.
    """
    params = own_params(bank, rng, held)
    time = step_times(days)
    hour = ship_hour_of(time)
    cloud = np.repeat(rng.uniform(0.45, 1.0, time.size // 18 + 1), 18)[: time.size]
    offered = sun_w * np.maximum(np.sin((hour - 6.0) / 12.0 * np.pi), 0.0) * cloud
    asked = load_w * (1.0 + 0.35 * rng.normal(size=time.size)).clip(0.3)
    soc, lean, running = start_soc, 0.0, False
    volts, amps, true_soc, shown, on = (np.empty(time.size) for _ in range(5))
    meter, keeps = start_soc, chemistry(bank.chemistry).meter_keeps
    listed_ah = bank.capacity_ah * bank.health
    for step in range(time.size):
        true_soc[step] = soc
        shown[step] = meter
        running = soc < engine_below or (running and soc < 0.5)
        on[step] = running
        parts = []
        for _ in range(STEP_MIN):
            charged_w = 900.0 if running else 0.0
            minute = bank_step(soc, offered[step], charged_w, 0.0, asked[step], 60.0, params, np.inf, lean)
            soc, lean = minute.soc_next, minute.lean_next
            moved = minute.current_a / 60.0 / listed_ah
            meter = 1.0 if soc >= 1.0 - 1e-9 else min(meter + (moved * keeps if moved > 0.0 else moved), 1.0)
            parts.append((minute.voltage_v, minute.current_a))
        volts[step], amps[step] = np.mean(parts, axis=0)
    if gain is None:
        gain = 0.01 * rng.normal()
    wander = np.cumsum(rng.normal(size=time.size) * 0.002)
    values = {
        "read_controller_power_w": np.full((time.size, 1), np.nan),
        "read_bank_voltage_v": np.round(
            volts + 0.02 * rng.normal() + 0.004 * rng.normal(size=time.size) + np.clip(wander, -0.01, 0.01), 2
        ),
        "read_bank_current_a": np.round(amps * (1.0 + gain) + 0.02 * rng.normal(), 1),
        "read_meter_soc": np.round(shown, 2) if monitor else np.full(time.size, np.nan),
        "read_meter_ah": np.round((shown - 1.0) * listed_ah, 1) if monitor else np.full(time.size, np.nan),
        "read_engine_on": on,
    }
    for _ in range(gaps):
        begin = rng.integers(0, time.size)
        end = begin + rng.integers(2, 40)
        for value in values.values():
            value[begin:end] = np.nan
    log = dataset_of(time, values)
    log["true_soc"] = (("time",), true_soc)
    return log.assign_attrs(step_s=STEP_MIN * 60.0)


def own_params(bank: Bank, rng: np.random.Generator, held: float):
    """The bank as it really is."""
    params = bank_params(bank)
    nodes = np.linspace(0.0, 1.0, params.open_circuit_v.size)
    spread_v = 0.01 if bank.chemistry == "lifepo4" else 0.02
    bend = sum(rng.normal() * np.sin(np.pi * k * (nodes + rng.uniform())) for k in (1, 2, 3)) / np.sqrt(1.5)
    curve = np.maximum.accumulate(params.open_circuit_v + spread_v * bend)
    lossy = 0.003 if bank.chemistry == "lifepo4" else 0.03
    thicker = np.exp(0.25 * rng.normal())
    return params._replace(
        capacity_ah=params.capacity_ah * held,
        open_circuit_v=curve,
        charge_efficiency=np.clip(params.charge_efficiency * (1.0 + lossy * rng.normal()), 0.05, 1.0),
        discharge_resistance_ohm=params.discharge_resistance_ohm * thicker,
        charge_resistance_ohm=params.charge_resistance_ohm * thicker,
        tail_current_a=params.tail_current_a,
    )
