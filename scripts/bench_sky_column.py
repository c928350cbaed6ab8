"""Measure what a second column of the ladder, for the sky of the day before, would save on weathers never seen.

Clear, broken or overcast is told by the sun's yield over the 24 hours before the change of watch, in thirds of the
planning members. With it the program knows which third it is in and how the thirds follow one another; without it,
it takes the members together. Both choose freely at every whole percent, without the limit of four rungs, and are
compared at the margins at which they keep the reserve equally often. Run from the project's root:
``python scripts/bench_sky_column.py [FORECASTS]``.
"""

# ruff: noqa: E402 - the paths come before the imports that need them

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "tests" / "decision")]

from bench_decision import KINDS, START_SOC, table_of
from synthetic_ensemble import BANK, ENGINE, WISHES, Ensemble, make_ensemble

from planner.decision.policy.calibrate import meter_offsets
from planner.decision.policy.choices import Choices
from planner.decision.policy.program import Problem
from planner.decision.policy.stops import stop_socs
from planner.decision.policy.table import SOC_GRID, ChoiceTable, priced
from planner.domain.policy import Policy
from planner.simulation.ledger.simulate import simulate

PLANNED_ON, HELD_OUT = 51, 150
DAY_STEPS = 144
MARGINS = (0.0, 0.015, 0.03, 0.045, 0.06)
ASKED = WISHES.confidence


def day_before(ensemble: Ensemble, first_step: np.ndarray) -> np.ndarray:
    """Return the sun's yield over the 24 hours before each change of watch, array (epoch, member); first epochs 0."""
    power = ensemble.harvest["controller_power_w"].values.sum(axis=2)
    summed = np.concatenate([np.zeros((power.shape[0], 1)), np.cumsum(power, axis=1)], axis=1)
    return np.where(
        first_step[:, None] >= DAY_STEPS,
        (summed[:, first_step] - summed[:, np.maximum(first_step - DAY_STEPS, 0)]).T,
        0.0,
    )


def thirds(planning: np.ndarray, given: np.ndarray, count: int) -> np.ndarray:
    """Return the class (epoch, member) of a yield among the planning members' classes of equal size."""
    edges = np.quantile(planning, np.arange(1, count) / count, axis=1)  # (count - 1, epoch)
    return (given[None] > edges[:, :, None]).sum(axis=0)


def solve(problem: Problem, sky: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return value (epoch + 1, class, soc) and choice (epoch, class, soc), the engine stopped before each watch."""
    epochs, choices, nodes, members = problem.soc_end.shape
    value = np.empty((epochs + 1, count, nodes))
    value[epochs] = problem.arrival_cost
    chosen = np.zeros((epochs, count, nodes), dtype=np.int64)
    for epoch in range(epochs - 1, -1, -1):
        after = sky[epoch + 1] if epoch + 1 < epochs else np.zeros(members, dtype=int)
        ahead = np.empty((choices, nodes, members))
        for member in range(members):
            ahead[:, :, member] = np.interp(
                problem.soc_end[epoch, :, :, member], SOC_GRID, value[epoch + 1, after[member]]
            )
        own = problem.member_cost[epoch] + ahead
        run_cost = np.where(problem.minutes[epoch] < 0, np.inf, problem.run_cost[epoch, :, 0])
        for kind in range(count):
            inside = sky[epoch] == kind
            cost = own[:, :, inside if inside.any() else slice(None)].mean(axis=2) + run_cost[:, None]
            chosen[epoch, kind] = cost.argmin(axis=0)
            value[epoch, kind] = cost.min(axis=0)
    return value, chosen


def scored(  # noqa: PLR0917 - a bench's own
    held: Ensemble,
    table: ChoiceTable,
    choices: Choices,
    sky_held: np.ndarray,
    solution: tuple[np.ndarray, np.ndarray],
    offsets: np.ndarray,
) -> tuple[float, float]:
    """Return the share that keeps the reserve and the mean hours, owed ones too, each member under its own sky."""
    value, chosen = solution
    count = value.shape[1]
    by_class = []
    for kind in range(count):
        minutes = np.take_along_axis(choices.printed_minutes, chosen[:, kind], axis=1)
        by_class.append(
            (minutes, stop_socs(value[:, kind], minutes, table.half_hour_gain, min_run_min=ENGINE.min_run_min))
        )
    kept, hours = [], []
    patterns, which = np.unique(sky_held.T, axis=0, return_inverse=True)
    for number, pattern in enumerate(patterns):
        mine = np.flatnonzero(which.ravel() == number)
        epochs = np.arange(pattern.size)
        policy = Policy(
            first_step=choices.first_step,
            end_step=choices.end_step,
            minutes=np.stack([each[0] for each in by_class])[pattern, epochs],
            stop_soc=np.stack([each[1] for each in by_class])[pattern, epochs],
            allowed=choices.allowed,
        )
        part = held.members(mine.tolist())
        ledger = simulate(
            part.harvest,
            part.demand,
            part.track,
            bank=BANK,
            engine=ENGINE,
            policy=policy,
            start_soc=START_SOC,
            meter_offset=offsets[mine],
        )
        end = ledger["bank_soc_end"].values
        lowest = np.minimum(ledger["bank_soc"].values.min(axis=1), end)
        kept += (lowest >= BANK.reserve_soc).tolist()
        owed_h = np.interp(end, SOC_GRID, table.owed_min) / 60.0
        hours += (ledger["engine_on"].values.sum(axis=1) / 6.0 + owed_h).tolist()
    return float(np.mean(kept)), float(np.mean(hours))


def main() -> None:
    """Print hours at the asked-for confidence with and without the column."""
    forecasts = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    savings = []
    for number in range(forecasts):
        kind = list(KINDS)[number % len(KINDS)]
        array_w, gloom = KINDS[kind]
        whole = make_ensemble(seed=300 + number, members=PLANNED_ON + HELD_OUT, array_w=array_w, gloom=gloom)
        planning, held = whole.members(slice(0, PLANNED_ON)), whole.members(slice(PLANNED_ON, None))
        choices, table = table_of(planning)
        offsets = meter_offsets(HELD_OUT, 1, sd=WISHES.meter_error, seed=number)[0]
        yields = day_before(planning, choices.first_step)
        at_asked = []
        for count in (1, 3):
            sky = thirds(yields, yields, count)
            sky_held = thirds(yields, day_before(held, choices.first_step), count)
            rows = []
            for margin in MARGINS:
                problem = priced(table, floor_soc=BANK.reserve_soc + margin, start_cost_min=WISHES.start_cost_min)
                rows.append(scored(held, table, choices, sky_held, solve(problem, sky, count), offsets))
            kept, hours = (np.array(column) for column in zip(*rows, strict=True))
            slope, level = np.polyfit(kept, hours, 1)
            at_asked.append(level + slope * ASKED)
        savings.append(1.0 - at_asked[1] / at_asked[0])
        print(
            f"forecast {number + 1}, {kind}: {at_asked[0]:.2f} h without, {at_asked[1]:.2f} h with, "
            f"saves {savings[-1]:+.1%}"
        )
    error = np.std(savings, ddof=1) / np.sqrt(len(savings)) if len(savings) > 1 else np.nan
    print(f"mean saving at {ASKED:.0%} kept: {np.mean(savings):+.1%}, standard error {error:.1%}")


if __name__ == "__main__":
    main()
