"""Make descents and passages of four boats' banks, and see where the low backstop in volts rings.

    python -m scripts.bench_low_volts

A descent runs from four fifths full to empty on loads alone, minute by minute. The bank is another of its kind than
the boat file has it, the voltmeter has its own zero, and the meter of charge is taken to be lost. Cells stand on the
planner's curve, or on the lowest or the highest published one; "noted" banks have told their volts once. What the
backstop allows for doubt is set on some seeds and scored on others. "Quiet to" is the highest figure that would not
have rung early in any descent, "needed" the lowest that rings in time in 95 %: where the second of one kind of cells
stands over the first of another, no figure serves both.

A passage is the demo's with another bank: one plan a boat on the control's track, followed by its ladders with a
meter that reads too high, in the members' weather under other loads. The crew is never woken: what the card's figure
in volts would have told is read off the course.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numba import njit

from planner.app.inputs import read_inputs
from planner.domain.arrays import Floats
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.power import Bank, NotedVolts
from planner.domain.results.plan import Plan
from planner.flow.plan import plan_from
from planner.physics.bank import BankParams, bank_step
from planner.physics.chemistry import chemistry
from planner.presentation.words.bill.sentences import usual_watch
from planner.simulation.ledger.bank import DISCHARGED, bank_params, on_loads
from planner.simulation.ledger.readings import OVER_RESERVE, STANDING_MIN, USUAL, LowVolts, low_volts
from planner.simulation.ledger.simulate import at_bus, march

SETTING, SCORING = range(1000, 4000), range(50_000, 50_200)  # seeds
BEFORE_SOC, CAUGHT = 0.10, 0.95
VOLTMETER_V, NOISE_V, CURVE_V, RESISTANCE, CAPACITY = 0.02, 0.004, 0.03, 0.2, 0.05  # V on 12 V; 1 (common practice)
NOTED_SOC, NOTED_ERROR = (0.4, 0.6), 0.02  # 1, where volts are noted, and what the monitor errs by then
MINUTES = 30_000
DEMO: Final = Path(__file__).parents[1] / "data" / "demo" / "passage.toml"
PASSAGES: Final = 200
OVERREAD, LOADS = 0.15, 0.2  # 1, mean of what the meter reads too high; spread of the loads' logarithm

BOATS: Final[dict[str, tuple[Bank, float]]] = {  # bank, usual load by night [W]
    "12 V LiFePO4, 300 Ah": (Bank(chemistry="lifepo4", capacity_ah=300.0, reserve_soc=0.3), 110.0),
    "24 V LiFePO4, 200 Ah": (Bank(chemistry="lifepo4", capacity_ah=200.0, reserve_soc=0.25, nominal_v=24), 180.0),
    "12 V AGM, 440 Ah": (Bank(chemistry="agm", capacity_ah=440.0, reserve_soc=0.5), 100.0),
    "12 V flooded, 440 Ah, aged": (
        Bank(chemistry="flooded", capacity_ah=440.0, reserve_soc=0.5, health=0.85, temp_c=18.0),
        90.0,
    ),
}


@dataclass(frozen=True)
class Made:
    """One made descent of a boat's bank, against the backstop that its bill prints.

    Attributes
    ----------
    alarm : LowVolts
        The backstop.
    quiet_v : float
        Highest figure that would not have rung more than ``OVER_RESERVE`` above the reserve [V].
    needed_v : float
        The figure has to stand over this to ring before ``BEFORE_SOC`` is left [V].
    first_soc : float
        Where it rings first; not a number where it never does [0..1].
    """

    alarm: LowVolts
    quiet_v: float
    needed_v: float
    first_soc: float

    @property
    def early(self) -> bool:
        """Whether it rings with more than the reserve and ``OVER_RESERVE`` left."""
        return self.alarm.volts > self.quiet_v

    @property
    def caught(self) -> bool:
        """Whether it rings while more than ``BEFORE_SOC`` is left."""
        return self.alarm.volts > self.needed_v


def loads_w(usual_w: float, minutes: int, rng: np.random.Generator) -> Floats:
    """Return loads by the minute: a fridge that cycles, a pilot in gusts, now and then a burst."""
    at = np.arange(minutes)
    fridge = 0.5 * usual_w * (((at + rng.integers(60)) % 60) < rng.integers(20, 35))
    gusts = np.repeat(np.exp(0.3 * rng.normal(size=minutes // 30 + 1)), 30)[:minutes]
    burst = np.repeat(rng.random(minutes // 40 + 1) < 0.06, 40)[:minutes] * usual_w * rng.uniform(1.0, 3.0)
    loads: Floats = fridge + 0.7 * usual_w * gusts * rng.uniform(0.6, 1.2) + burst
    return loads


def own(bank: Bank, cells: str, rng: np.random.Generator) -> BankParams:
    """Return a bank of this kind as it may really be, of cells on the 'middle', 'lowest' or 'highest' curve."""
    params, kind, twelves = bank_params(bank), chemistry(bank.chemistry), bank.nominal_v / 12.0
    off_v = {"middle": kind.open_circuit_v, "lowest": kind.lowest_v, "highest": kind.highest_v}[cells]
    nodes = np.linspace(0.0, 1.0, params.open_circuit_v.size)
    bend = sum(rng.normal() * np.sin(math.pi * k * (nodes + rng.uniform())) for k in (1, 2, 3)) / math.sqrt(1.5)
    curve = params.open_circuit_v + (off_v - kind.open_circuit_v + CURVE_V * bend) * twelves
    return params._replace(
        capacity_ah=params.capacity_ah * math.exp(CAPACITY * rng.normal()),
        open_circuit_v=np.maximum.accumulate(curve),
        discharge_resistance_ohm=params.discharge_resistance_ohm * math.exp(RESISTANCE * rng.normal()),
    )


@njit(cache=True)
def descent(params: BankParams, loads: Floats, lean: float) -> tuple[Floats, Floats, Floats]:
    """Return state of charge, volts and amps drawn by the minute, down to an empty bank."""
    soc, volts, amps = np.empty(loads.size), np.empty(loads.size), np.empty(loads.size)
    here = 0.8
    for minute in range(loads.size):
        step = bank_step(here, 0.0, 0.0, 0.0, loads[minute], 60.0, params, np.inf, lean)
        if step.unserved_w > 0.0:
            return soc[:minute], volts[:minute], amps[:minute]
        here, lean = step.soc_next, step.lean_next
        soc[minute], volts[minute], amps[minute] = here, step.voltage_v, -step.current_a
    return soc, volts, amps


def standing_v(volts: Floats, amps: Floats, alarm: LowVolts) -> Floats:
    """Return, at each reading, the most that the volts reached in the alarm's minutes, loads over it left out."""
    counted = np.flatnonzero(amps <= alarm.amps)
    stood = np.full(volts.size, np.inf)
    if counted.size >= alarm.minutes:
        windows = np.lib.stride_tricks.sliding_window_view(volts[counted], alarm.minutes)
        stood[counted[alarm.minutes - 1 :]] = windows.max(axis=1)
    return stood


def alarm_of(bank: Bank, usual_w: float) -> LowVolts:
    """Return the backstop for a boat's highest usual load, as the bill draws it."""
    return low_volts(bank, demand_w=float(np.quantile(loads_w(usual_w, 20_000, np.random.default_rng(0)), 0.9)))


def noted(bank: Bank, params: BankParams, usual_w: float, zero_v: float, rng: np.random.Generator) -> Bank:
    """Return the boat file's bank with the volts that its owner read once."""
    soc = rng.uniform(*NOTED_SOC)
    volts, amps = on_loads(params, soc=soc, demand_w=usual_w)
    shown = NotedVolts(state_of_charge=soc + NOTED_ERROR * rng.normal(), volts=volts + zero_v, amps=amps)
    return bank.model_copy(update={"noted": shown})


def made(bank: Bank, usual_w: float, *, seed: int, cells: str = "middle", has_noted: bool = False) -> Made:
    """Return one made descent; cells as ``own`` has them."""
    rng = np.random.default_rng(seed)
    zero_v = VOLTMETER_V * rng.normal() * bank.nominal_v / 12.0
    params = own(bank, cells, rng)
    alarm = alarm_of(noted(bank, params, usual_w, zero_v, rng) if has_noted else bank, usual_w)
    soc, volts, amps = descent(params, loads_w(usual_w, MINUTES, rng), DISCHARGED)
    stood = standing_v(volts + zero_v + NOISE_V * rng.normal(size=volts.size), amps, alarm)
    rung = soc[stood < alarm.volts]
    return Made(
        alarm,
        quiet_v=float(stood[soc > bank.reserve_soc + OVER_RESERVE].min(initial=np.inf)),
        needed_v=float(stood[soc >= BEFORE_SOC].min(initial=np.inf)),
        first_soc=float(rung[0]) if rung.size else math.nan,
    )


def kinds_of(bank: Bank) -> list[tuple[str, bool]]:
    """Return the cells that a bank of its chemistry is tried with, and whether its volts are noted."""
    if bank.chemistry != "lifepo4":
        return [("middle", False), ("lowest", False)] if bank.chemistry == "flooded" else [("middle", False)]
    return [(cells, has_noted) for has_noted in (False, True) for cells in ("lowest", "middle", "highest")]


def spare_v(bank: Bank, usual_w: float, seeds: range) -> float:
    """Return how much higher the figures could stand, on 12 V, and ring early in none; below 0 where they do."""
    tried = [
        made(bank, usual_w, seed=seed, cells=cells, has_noted=has_noted)
        for cells, has_noted in kinds_of(bank)
        for seed in seeds
    ]
    return min(each.quiet_v - each.alarm.volts for each in tried) / (bank.nominal_v / 12.0)


@dataclass(frozen=True)
class Sailed:
    """What volts told of one passage.

    Attributes
    ----------
    early_steps : int
        Steps in which they ring with more than the reserve and ``OVER_RESERVE`` left.
    crossed, deep, flat : bool
        Whether the bank falls under the reserve, a tenth under it, to ``BEFORE_SOC``.
    rung, rung_in_time : bool
        Whether they ring at all; before ``BEFORE_SOC`` is reached.
    """

    early_steps: int
    crossed: bool
    deep: bool
    flat: bool
    rung: bool
    rung_in_time: bool


def planned(inputs: Inputs, bank: Bank) -> Plan:
    """Return a passage's plan with another bank, nearly full at departure, on the control's track."""
    start = inputs.passage.start.model_copy(update={"state_of_charge": 0.95})
    passage = inputs.passage.model_copy(update={"start": start})
    boat = inputs.boat.model_copy(update={"bank": bank})
    return plan_from(replace(inputs, boat=boat, passage=passage), progress=lambda _: None)


def sailed(plan: Plan, *, seed: int, cells: str, has_noted: bool) -> Sailed:
    """Return one passage of a plan in one member's weather, with a bank and a meter of its own."""
    rng = np.random.default_rng(seed)
    bank, voyage = plan.boat.bank, plan.voyage
    zero_v = VOLTMETER_V * rng.normal() * bank.nominal_v / 12.0
    params = own(bank, cells, rng)
    over = min(rng.exponential(OVERREAD), 0.6)
    bus = at_bus(voyage.course, bank=bank, engine=plan.boat.engine)
    bus = bus.rows(np.array([rng.integers(bus.steps.size)]))
    flows, soc, _ = march(
        replace(bus, demand_w=bus.demand_w * math.exp(LOADS * rng.normal())),
        params=params,
        engine=plan.boat.engine,
        policy=plan.policy,
        start_soc=max(plan.passage.start.state_of_charge - over, 0.05),
        meter_offset=np.array([over]),
    )
    amps, volts = flows[4, 0], flows[5, 0]
    usual = usual_watch(plan.watches)
    alarm = LowVolts(usual.wake_v, usual.wake_a, usual.wake_min)
    if has_noted:
        steps = voyage.epoch_steps(plan.watches.index(usual))
        usual_w = float(np.quantile(voyage.planned_demand_w[steps], USUAL))
        alarm = low_volts(noted(bank, params, usual_w, zero_v, rng), demand_w=usual_w)
    rings = (volts + zero_v < alarm.volts) & (-amps <= alarm.amps)
    here, flat = soc[0, 1:], soc[0, 1:] < BEFORE_SOC
    before_flat = slice(0, int(np.argmax(flat)) if flat.any() else None)
    return Sailed(
        early_steps=int((rings & (here > bank.reserve_soc + OVER_RESERVE)).sum()),
        crossed=bool((here < bank.reserve_soc).any()),
        deep=bool((here < bank.reserve_soc - 0.10).any()),
        flat=bool(flat.any()),
        rung=bool(rings.any()),
        rung_in_time=bool(rings[before_flat].any()),
    )


def passages() -> None:
    """Print a line a boat and kind of cells: alarms too early, crossings caught, watches without volts."""
    inputs = read_inputs(DEMO, [Override("model.tracks", "control")])
    print(f"{PASSAGES} passages a line; steps of ten minutes")
    for name, (bank, _) in BOATS.items():
        plan = planned(inputs, bank)
        without = sum(not row.wake_v > 0.0 for row in plan.watches)
        print(f"{name}: {len(plan.watches)} watches printed, {without} without volts")
        for cells, has_noted in kinds_of(bank):
            all_ = [sailed(plan, seed=40_000 + n, cells=cells, has_noted=has_noted) for n in range(PASSAGES)]
            told = [
                f"{what} {sum(getattr(each, by) for each in some)} of {len(some)}"
                for what, some, by in (
                    ("under the reserve", [each for each in all_ if each.crossed], "rung"),
                    ("a tenth under it", [each for each in all_ if each.deep], "rung"),
                    (f"before {BEFORE_SOC:.0%}", [each for each in all_ if each.flat], "rung_in_time"),
                )
            ]
            print(
                f"  {cells:8}{'noted' if has_noted else '':6}"
                f"early in {sum(each.early_steps for each in all_)} steps; caught of those {', '.join(told)}"
            )


def descents() -> None:
    """Print what the setting seeds would allow, and how the figures fare on the scoring ones."""
    print(f"descents; early: over reserve + {OVER_RESERVE:.0%}; in time: before {BEFORE_SOC:.0%}")
    for name, (bank, usual_w) in BOATS.items():
        print(f"{name}: on the setting seeds the figure could stand {spare_v(bank, usual_w, SETTING):.3f} V higher")
        for cells, has_noted in kinds_of(bank):
            tried = [made(bank, usual_w, seed=seed, cells=cells, has_noted=has_noted) for seed in SCORING]
            figures = np.array([each.alarm.volts for each in tried])
            first = np.nanquantile([each.first_soc for each in tried], (0.0, 0.05, 0.5, 1.0))
            print(
                f"  {cells:8}{'noted' if has_noted else '':6}{figures.min():6.2f}-{figures.max():.2f} V, up to "
                f"{tried[0].alarm.amps:.0f} A, {STANDING_MIN} min: early in {sum(each.early for each in tried)} of "
                f"{len(tried)}, in time in {sum(each.caught for each in tried)}; first at "
                f"{' '.join(f'{soc:.0%}' for soc in first)} (0, 5, 50, 100 %); quiet to "
                f"{min(each.quiet_v for each in tried):.2f} V, needed "
                f"{np.quantile([each.needed_v for each in tried], CAUGHT):.2f} V"
            )


if __name__ == "__main__":
    descents()
    passages()
