"""Score the printed ladders against habits on synthetic forecasts, certify the program's gap, and time the decision.

Twelve forecasts of three kinds, from the generator of the tests: 51 members to plan on, 300 others of the same
forecast to score on, ten days, every meter with its own lasting error. Run from the project's root:
``python scripts/bench_decision.py [FORECASTS]``.
"""

# ruff: noqa: E402 - the paths come before the imports that need them

from __future__ import annotations

import sys
import time
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "tests" / "decision")]

from baselines import Score, timetable, trigger, tuned_timetable, tuned_trigger
from decision_case import choices_for, decision_for, rules_for, table_for
from program_bounds import bounds
from synthetic_ensemble import BANK, ENGINE, SHIP_OFFSET, WISHES, Ensemble, make_ensemble

from planner.decision.policy.by_clock import by_clock
from planner.decision.policy.calibrate import meter_offsets
from planner.decision.policy.choices import Choices
from planner.decision.policy.decide import Decision
from planner.decision.policy.program import optimise
from planner.decision.policy.rates import SOC_GRID
from planner.decision.policy.table import ChoiceTable, priced
from planner.domain.policy import Policy
from planner.simulation.ledger.simulate import simulate

PLANNED_ON = 51
HELD_OUT = 300
START_SOC = 0.9
KINDS = {"short of sun": (450.0, 0.4), "balanced": (600.0, 0.0), "sunny": (1000.0, -0.3)}  # panels [W], clouds
HABIT_HOURS = (7, 17)  # ship's hours of a morning and an evening run


class Outcome(NamedTuple):
    """Held-out means: hours, starts, hours owed, SOC at arrival, share kept; depth in the worst tenth."""

    hours: float
    starts: float
    owed_h: float
    arrival: float
    kept: float
    depth: float


def outcome(ensemble: Ensemble, policy: Policy, offsets: np.ndarray, owed_min: np.ndarray) -> Outcome:
    """Run the ledger and sum up."""
    ledger = simulate(
        ensemble.harvest,
        ensemble.demand,
        ensemble.track,
        bank=BANK,
        engine=ENGINE,
        policy=policy,
        start_soc=START_SOC,
        meter_offset=offsets,
    )
    on = ledger["engine_on"].values.astype(bool)
    at_end = ledger["bank_soc_end"].values
    lowest = np.minimum(ledger["bank_soc"].values.min(axis=1), at_end)
    return Outcome(
        hours=float(on.sum(axis=1).mean() / 6.0),
        starts=float((np.diff(on.astype(int), axis=1, prepend=0) > 0).sum(axis=1).mean()),
        owed_h=float(np.interp(at_end, SOC_GRID, owed_min).mean() / 60.0),
        arrival=float(at_end.mean()),
        kept=float((lowest >= BANK.reserve_soc).mean()),
        depth=float(np.quantile(np.maximum(BANK.reserve_soc - lowest, 0.0), 0.9)),
    )


def decided(planning: Ensemble, seed: int) -> Decision:
    """Decide on the planning members alone."""
    return decision_for(planning, start_soc=START_SOC, seed=seed)


def policies(planning: Ensemble, table: ChoiceTable, choices: Choices, seed: int) -> dict[str, Policy]:
    """Make every policy from the planning members alone."""
    offsets = meter_offsets(PLANNED_ON, 1, sd=WISHES.meter_error, seed=seed)[0]
    ship = planning.track["time"].values + np.timedelta64(round(SHIP_OFFSET.total_seconds()), "s")
    clock_hour = (ship.astype("datetime64[h]").astype(np.int64)) % 24

    def score(policy: Policy) -> Score:
        result = outcome(planning, policy, offsets, table.owed_min)
        return Score(kept=result.kept, minutes=60.0 * (result.hours + result.owed_h))

    return {
        "ladder": by_clock(decided(planning, seed).policy, planning.track, rules_for()),
        "tuned trigger": tuned_trigger(choices, score, confidence=WISHES.confidence),
        "tuned timetable": tuned_timetable(
            choices, clock_hour, score, hours=HABIT_HOURS, confidence=WISHES.confidence
        ),
        "below 55 to 80": trigger(choices, start_below=55, stop_at=0.8),
        "hour morning, evening": timetable(choices, clock_hour, dict.fromkeys(HABIT_HOURS, 60)),
    }


def hindsight(table: ChoiceTable) -> float:
    """Return the mean hours, owed ones too, of a crew that knows its weather and has a true meter."""
    problem = priced(table, floor_soc=BANK.reserve_soc, start_cost_min=0.0)
    node = round(START_SOC * (SOC_GRID.size - 1))
    members = range(table.courses.soc_end.shape[3])
    return float(np.mean([optimise(problem, np.array([m])).value[0, node, 0] for m in members]) / 60.0)


def compare(forecasts: int) -> None:
    """Print held-out figures by kind of forecast, and over all."""
    rows: dict[str, list[Outcome]] = {}
    hours_per_soc = 0.0
    clairvoyant: list[float] = []
    for number in range(forecasts):
        kind = list(KINDS)[number % len(KINDS)]
        array_w, gloom = KINDS[kind]
        whole = make_ensemble(seed=100 + number, members=PLANNED_ON + HELD_OUT, array_w=array_w, gloom=gloom)
        planning, held_out = whole.members(slice(0, PLANNED_ON)), whole.members(slice(PLANNED_ON, None))
        choices, table = choices_for(planning), table_for(planning)
        offsets = meter_offsets(HELD_OUT, 1, sd=WISHES.meter_error, seed=1000 + number)[0]
        hours_per_soc = table.minutes_per_soc / 60.0
        clairvoyant.append(hindsight(table_for(held_out.members(slice(0, PLANNED_ON)))))
        for name, policy in policies(planning, table, choices, number).items():
            rows.setdefault(name, []).append(outcome(held_out, policy, offsets, table.owed_min))
        figures = [
            f"{name} {each[-1].hours + each[-1].owed_h:.1f} h {each[-1].kept:.0%}" for name, each in rows.items()
        ]
        print(f"  forecast {number + 1:2d}, {kind}: " + ", ".join(figures))
    print(f"{'':24s}hours  owed  even  starts  arrival  kept (scatter)  depth")
    for name, outcomes in rows.items():
        mean, kept_sd = Outcome(*np.mean(outcomes, axis=0)), np.std([each.kept for each in outcomes])
        # as if every member had arrived with what is wanted: a lack is run for, a surplus credited, at the best rate
        even_h = mean.hours + (WISHES.arrival_soc - mean.arrival) * hours_per_soc
        print(
            f"{name:24s}{mean.hours:5.1f}  {mean.owed_h:4.1f}  {even_h:4.1f}  {mean.starts:6.1f}  "
            f"{mean.arrival:7.0%}  {mean.kept:4.0%} ({kept_sd:4.1%})  {mean.depth:12.1%}"
        )
    print(f"{'hindsight':24s}{np.mean(clairvoyant):5.1f}  run and owed, weather known, on 51 of the held-out members")


def certify(days: float, members: int, *, nodes: int) -> float:
    """Print the certified gap of the tabulated problem and the time that it takes, and return the gap [1]."""
    table = table_for(make_ensemble(seed=1, days=days, members=members))
    problem = priced(table, floor_soc=BANK.reserve_soc + 0.025, start_cost_min=WISHES.start_cost_min)
    everyone = np.arange(members)
    bounds(problem, everyone, start_soc=START_SOC, nodes=101)  # compiled before it is timed
    began = time.perf_counter()
    lower, upper = bounds(problem, everyone, start_soc=START_SOC, nodes=nodes)
    took = time.perf_counter() - began
    value = optimise(problem, everyone).value[0, round(START_SOC * 100), 0]
    print(
        f"certified, {days:g} days, {members} members: {lower:.2f} to {upper:.2f} min, "
        f"gap {(upper - lower) / lower:.2%} in {took:.2f} s; by the program {value:.2f} min"
    )
    return float((upper - lower) / lower)


def timed(what: str, ensemble: Ensemble) -> None:
    """Print the time of a warm decision."""
    run = partial(decision_for, ensemble, start_soc=START_SOC)
    run()
    began = time.perf_counter()
    run()
    print(f"decide, warm, 10 days, {what}: {time.perf_counter() - began:.2f} s")


def main() -> None:
    """Print everything."""
    certify(10.0, 1, nodes=60_001)
    certify(10.0, PLANNED_ON, nodes=6_001)
    ensemble = make_ensemble(seed=1)
    timed("51 members", ensemble)
    timed("one member", ensemble.members([0]))
    compare(int(sys.argv[1]) if len(sys.argv) > 1 else 12)


if __name__ == "__main__":
    main()
