"""Make descents of four boats' banks and see where the low backstop in volts rings.

    python -m scripts.bench_low_volts

A descent runs from four fifths full to empty on loads alone, minute by minute. The bank is another of its kind than
the boat file has it, the voltmeter has its own zero, and the meter of charge is taken to be lost. Indented: banks of
the two published kinds of cells that lie off the middle one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.power import Bank
from planner.physics.bank import BankParams, bank_step
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.readings import LowVolts, low_volts

DESCENTS = 200
BEFORE_SOC, OVER_RESERVE = 0.10, 0.10
VOLTMETER_V, CURVE_V, RESISTANCE, CAPACITY = 0.02, 0.03, 0.2, 0.05  # of 12 V; 1 (common practice)
OTHER_CELLS_V = {"half cells of Prada 2013": -0.17, "PyBatteryID's cell": 0.21}  # V on 12 V, in the middle

BOATS: dict[str, tuple[Bank, float]] = {  # bank, usual load by night [W]
    "12 V LiFePO4, 300 Ah": (Bank(chemistry="lifepo4", capacity_ah=300.0, reserve_soc=0.3), 110.0),
    "24 V LiFePO4, 200 Ah": (Bank(chemistry="lifepo4", capacity_ah=200.0, reserve_soc=0.25, nominal_v=24), 180.0),
    "12 V AGM, 440 Ah": (Bank(chemistry="agm", capacity_ah=440.0, reserve_soc=0.5), 100.0),
    "12 V flooded, 440 Ah, aged": (
        Bank(chemistry="flooded", capacity_ah=440.0, reserve_soc=0.5, health=0.85, temp_c=18.0),
        90.0,
    ),
}


def loads_w(usual_w: float, minutes: int, rng: np.random.Generator) -> Floats:
    """Return loads by the minute: a fridge that cycles, a pilot in gusts, now and then a burst."""
    at = np.arange(minutes)
    fridge = 0.5 * usual_w * (((at + rng.integers(60)) % 60) < rng.integers(20, 35))
    gusts = np.repeat(np.exp(0.3 * rng.normal(size=minutes // 30 + 1)), 30)[:minutes]
    burst = np.repeat(rng.random(minutes // 40 + 1) < 0.06, 40)[:minutes] * usual_w * rng.uniform(1.0, 3.0)
    loads: Floats = fridge + 0.7 * usual_w * gusts * rng.uniform(0.6, 1.2) + burst
    return loads


def own(bank: Bank, rng: np.random.Generator, *, off_v: float = 0.0) -> BankParams:
    """Return a bank of this kind as it may really be."""
    params, twelves = bank_params(bank), bank.nominal_v / 12.0
    nodes = np.linspace(0.0, 1.0, params.open_circuit_v.size)
    bend = sum(rng.normal() * np.sin(math.pi * k * (nodes + rng.uniform())) for k in (1, 2, 3)) / math.sqrt(1.5)
    curve = np.maximum.accumulate(params.open_circuit_v + (off_v + CURVE_V * bend) * twelves)
    return params._replace(
        capacity_ah=params.capacity_ah * math.exp(CAPACITY * rng.normal()),
        open_circuit_v=curve,
        discharge_resistance_ohm=params.discharge_resistance_ohm * math.exp(RESISTANCE * rng.normal()),
    )


def descent(
    params: BankParams, loads: Floats, zero_v: float, rng: np.random.Generator
) -> Iterator[tuple[float, ...]]:
    """Yield state of charge, volts as read and amps drawn by the minute, down to an empty bank."""
    soc, lean = 0.8, 0.0
    for watts in loads:
        step = bank_step(soc, 0.0, 0.0, 0.0, float(watts), 60.0, params, math.inf, lean)
        if step.unserved_w > 0.0:
            return
        soc, lean = step.soc_next, step.lean_next
        yield soc, step.voltage_v + zero_v + 0.004 * rng.normal(), -step.current_a


def rung_at(course: Iterator[tuple[float, ...]], alarm: LowVolts) -> tuple[list[float], float]:
    """Return the states of charge at which the alarm stands, and the last one of the descent."""
    rung, low_for, soc = [], 0, 1.0
    for soc, volts, amps in course:
        # a burst says nothing: the count waits for it to end
        low_for = low_for + (volts < alarm.volts) if amps <= alarm.amps else low_for
        low_for = 0 if amps <= alarm.amps and volts >= alarm.volts else low_for
        if low_for >= alarm.minutes and amps <= alarm.amps:
            rung.append(soc)
    return rung, soc


def made(bank: Bank, usual_w: float, alarm: LowVolts, *, seed: int, off_v: float = 0.0) -> tuple[list[float], float]:
    """Return what ``rung_at`` does of one made descent."""
    rng = np.random.default_rng(1000 + seed)
    zero_v = VOLTMETER_V * rng.normal() * bank.nominal_v / 12.0
    loads = loads_w(usual_w, 30_000, rng)
    return rung_at(descent(own(bank, rng, off_v=off_v), loads, zero_v, rng), alarm)


def alarm_of(bank: Bank, usual_w: float) -> LowVolts:
    """Return the backstop for a boat's highest usual load, as the bill draws it."""
    return low_volts(bank, demand_w=float(np.quantile(loads_w(usual_w, 20_000, np.random.default_rng(0)), 0.9)))


def main() -> None:
    """Print a line a boat, and one for each kind of cell off the middle."""
    print(
        f"{DESCENTS} descents a boat; alarm minutes above reserve + {OVER_RESERVE:.0%}, rung before {BEFORE_SOC:.0%}"
    )
    for name, (bank, usual_w) in BOATS.items():
        alarm = alarm_of(bank, usual_w)
        tried = [(name, 0.0, DESCENTS)]
        if bank.chemistry == "lifepo4":
            tried += [(f"  {cells}", off_v, 20) for cells, off_v in OTHER_CELLS_V.items()]
        for label, off_v, count in tried:
            early, caught, first = 0, 0, []
            for seed in range(count):
                rung, _ = made(bank, usual_w, alarm, seed=seed, off_v=off_v)
                early += sum(soc > bank.reserve_soc + OVER_RESERVE for soc in rung)
                caught += bool(rung) and rung[0] >= BEFORE_SOC
                first += rung[:1]
            spread = np.quantile(first, (0.0, 0.05, 0.5, 1.0)) if first else np.full(4, np.nan)
            print(
                f"{label:28} {alarm.volts:5.2f} V, up to {alarm.amps:.0f} A, {alarm.minutes} min: {early} early, "
                f"{caught}/{count} caught; first at {' '.join(f'{soc:.0%}' for soc in spread)} (0, 5, 50, 100 %)"
            )


if __name__ == "__main__":
    main()
