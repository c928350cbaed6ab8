"""The dynamic program against a mixed-integer program solved by HiGHS; the reported interval against a paper."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, milp

from planner.decision.policy.calibrate import reserve_kept
from planner.decision.policy.choices import Choices, choices_of, open_steps, starts_of
from planner.decision.policy.program import ARRIVES, AT_SEA, Problem, optimise

sys.path.append(str(Path(__file__).parents[1] / "decision"))
from program_bounds import bounds

STEP_S = 600.0
NODES = 101
CAPACITY_WH = 3600.0  # Wh, so that a percent is 36 Wh: six ten-minute steps at 36 W
LOAD_W = 72.0
ALTERNATOR_W = 864.0
FLOOR_SOC = 0.45
DEPTH_PRICE = 300.0  # min for the whole bank, one hour
OWED_PRICE = 250.0  # min for the whole bank
WANTED_SOC = 0.55
START_COST_MIN = 10.0


@dataclass(frozen=True)
class Case:
    """Three days of one weather on a bank without losses, every energy a whole number of percents."""

    choices: Choices
    gain: np.ndarray  # (epoch,) SOC that sun less load adds over the epoch
    lift: np.ndarray  # (epoch, choice) SOC that the run adds
    hours: np.ndarray  # (epoch,)


def make_case(seed: int) -> Case:
    """Return a case; its shortest run, longest run, quiet hours and motoring come from the seed."""
    rng = np.random.default_rng(seed)
    steps_of_watch = 24
    epochs = 18
    first = np.arange(epochs, dtype=np.int64) * steps_of_watch
    permitted = np.ones(epochs * steps_of_watch, dtype=np.bool_)
    under_engine = np.zeros_like(permitted)
    for epoch in range(0, epochs, 6):  # quiet at night, from inside a watch at times
        quiet_from = first[epoch] - int(rng.integers(0, 13)) if epoch else 0
        permitted[max(quiet_from, 0) : first[epoch] + steps_of_watch + int(rng.integers(0, 13))] = False
    if rng.random() < 0.5:
        from_step = int(rng.integers(0, epochs - 1)) * steps_of_watch + int(rng.integers(0, 24))
        under_engine[from_step : from_step + 12] = True
    shortest = int(rng.choice([30, 60, 90, 240]))
    allowed = open_steps(first, first + steps_of_watch, permitted, under_engine, step_s=STEP_S, min_run_min=shortest)
    choices = choices_of(
        first,
        first + steps_of_watch,
        allowed[None],
        under_engine[None],
        step_s=STEP_S,
        min_run_min=shortest,
        max_run_min=int(rng.choice([shortest, max(shortest, 120), 240])),
    )
    sun = np.tile([0, 1, 12, 14, 3, 0], 3) * rng.choice([0.5, 1.0], size=epochs)
    gain = np.round(sun) / 100.0 - LOAD_W * 4.0 / CAPACITY_WH
    lift = np.zeros(choices.minutes.shape)
    for epoch, choice in np.argwhere(choices.minutes >= 0).tolist():
        lift[epoch, choice] = choices.running(epoch, choice).sum() * ALTERNATOR_W / 6.0 / CAPACITY_WH
    return Case(choices=choices, gain=gain, lift=lift, hours=np.full(epochs, 4.0))


def charging_min(choices: Choices) -> np.ndarray:
    """Return what each run charges without driving the boat (epoch, choice) [min]; 0 where there is no such run."""
    minutes = np.zeros(choices.minutes.shape)
    for epoch, choice in np.argwhere(choices.minutes >= 0).tolist():
        minutes[epoch, choice] = choices.charging_min(epoch, choice)[0]
    return minutes


def as_problem(case: Case) -> Problem:
    """Tabulate the case: SOC held at full and at empty, depth counted at the end of each epoch."""
    grid = np.linspace(0.0, 1.0, NODES)
    starts, runs_on = starts_of(case.choices)
    end = grid[None, None, :] + case.gain[:, None, None] + case.lift[:, :, None]
    depth = np.maximum(FLOOR_SOC - end, 0.0) * case.hours[:, None, None]
    return Problem(
        minutes=case.choices.minutes,
        run_cost=charging_min(case.choices)[:, :, None, None] + START_COST_MIN * starts,
        runs_on=runs_on,
        stay=np.append(np.full(len(end) - 1, AT_SEA), ARRIVES)[:, None],
        soc_end=np.clip(end, 0.0, 1.0)[..., None],
        member_cost=(DEPTH_PRICE * depth)[..., None],
        arrival_cost=OWED_PRICE * np.maximum(WANTED_SOC - grid, 0.0),
    )


def by_highs(case: Case, start_soc: float) -> float:
    """Return the least cost as a mixed-integer program: a binary for each run; SOC, curtailing, depth continuous."""
    starts, runs_on = (each[..., 0] for each in starts_of(case.choices))
    epochs, count = case.choices.minutes.shape
    # columns: run (epoch, choice); a fresh start at the epoch's first step; SOC at its end; curtailed; depth; owed
    runs = epochs * count
    soc, spill, depth, owed = (runs + epochs + np.arange(epochs) + k * epochs for k in range(4))
    owed = owed[:1]
    size = runs + 4 * epochs + 1
    cost = np.zeros(size)
    upper = np.full(size, np.inf)
    integrality = np.zeros(size)
    integrality[:runs] = 1
    upper[:runs] = (case.choices.minutes >= 0).ravel()
    # cost with the engine running before; a binary-like `fresh` adds the start that a stopped engine needs
    cost[:runs] = (charging_min(case.choices) + START_COST_MIN * starts[:, :, 1]).ravel()
    fresh = runs + np.arange(epochs)
    cost[fresh] = START_COST_MIN
    upper[soc] = 1.0
    cost[depth] = DEPTH_PRICE * case.hours
    cost[owed] = OWED_PRICE
    rows, at_least, at_most = [], [], []

    def add(entries: dict[int, float], low: float, high: float) -> None:
        row = np.zeros(size)
        for column, weight in entries.items():
            row[column] += weight
        rows.append(row)
        at_least.append(low)
        at_most.append(high)

    for epoch in range(epochs):
        mine = range(epoch * count, (epoch + 1) * count)
        add(dict.fromkeys(mine, 1.0), 1.0, 1.0)
        balance = {column: -case.lift.ravel()[column] for column in mine}
        balance |= {int(soc[epoch]): 1.0, int(spill[epoch]): 1.0}
        if epoch:
            balance[int(soc[epoch - 1])] = -1.0
        held = case.gain[epoch] + (0.0 if epoch else start_soc)
        add(balance, held, held)
        add({int(depth[epoch]): 1.0, int(soc[epoch]): 1.0}, FLOOR_SOC, np.inf)
        # a start at the first step is needed unless the epoch before ended running
        needs = (starts[:, :, 0] - starts[:, :, 1]).ravel()
        start = {int(fresh[epoch]): 1.0} | {column: -float(needs[column]) for column in mine}
        if epoch:
            start |= {c: float(runs_on.ravel()[c]) for c in range((epoch - 1) * count, epoch * count)}
        add(start, 0.0, np.inf)
    add({int(owed[0]): 1.0, int(soc[-1]): 1.0}, WANTED_SOC, np.inf)
    result = milp(
        cost,
        constraints=LinearConstraint(np.array(rows), at_least, at_most),
        integrality=integrality,
        bounds=(np.zeros(size), upper),
        options={"mip_rel_gap": 0.0},
    )
    assert result.success, result.message
    return float(result.fun)


HIGHS = pytest.mark.external(
    source="HiGHS, open-source linear and mixed-integer solver, through scipy.optimize.milp", kind="library"
)


@HIGHS
@pytest.mark.parametrize("seed", range(30))
def test_least_cost_equals_the_mixed_integer_program(seed: int) -> None:
    # every SOC is a whole percent here, so the grid is exact and only the solver's own tolerance (1e-6) is left
    case = make_case(seed)
    start_soc = 0.40 + 0.01 * (seed % 40)
    value = optimise(as_problem(case), np.array([0])).value
    assert value[0, round(start_soc * (NODES - 1)), 0] == pytest.approx(by_highs(case, start_soc), abs=1e-4)


@HIGHS
@pytest.mark.parametrize("start_soc", [0.473, 0.5555, 0.7031])
def test_bounds_enclose_the_mixed_integer_program_off_the_grid(start_soc: float) -> None:
    case = make_case(7)
    lower, upper = bounds(as_problem(case), np.array([0]), start_soc=start_soc, nodes=2001)
    exact = by_highs(case, start_soc)
    assert lower - 1e-6 <= exact <= upper + 1e-6


def test_the_cases_cover_the_edges_of_the_shortest_run() -> None:
    """Some watch is too short for the shortest run, some just holds it, some offer only the whole watch."""
    cases = [make_case(seed) for seed in range(30)]
    none_open = [np.any((case.choices.minutes > 0).sum(axis=1) == 0) for case in cases]
    one_open = [np.any((case.choices.minutes > 0).sum(axis=1) == 1) for case in cases]
    whole_watch = [np.any(case.choices.minutes == 240) for case in cases]
    assert sum(none_open) >= 5
    assert sum(one_open) >= 5
    assert sum(whole_watch) >= 5


@pytest.mark.external(
    source="R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, score method, 81 of 263 at 95 %",
    kind="paper",
    recalled=True,
)
def test_wilson_interval_matches_a_published_example(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.decision.policy.calibrate.INTERVAL", 0.95)
    kept = reserve_kept(np.arange(263)[None] < 81, confidence=0.9)
    assert kept.low == pytest.approx(0.2553, abs=5e-5)  # printed to four digits
    assert kept.high == pytest.approx(0.3662, abs=5e-5)
