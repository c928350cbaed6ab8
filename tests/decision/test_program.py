"""The program itself: bounds, ladders, ties, on small made-up tables."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from program_bounds import bounds

from planner.decision.policy.program import (
    ARRIVES,
    AT_SEA,
    GONE,
    Problem,
    Solution,
    optimise,
    optimise_ladder,
    visits,
)

GRID = np.linspace(0.0, 1.0, 101)
EVERYONE = np.arange(5)


def made_up(seed: int, *, epochs: int = 6, choices: int = 4, members: int = 5) -> Problem:
    """Return a problem that is monotone in SOC, as a bank's is: each run lifts, sun and load differ by member."""
    rng = np.random.default_rng(seed)
    drift = rng.normal(-0.02, 0.08, size=(epochs, 1, 1, members))
    lift = 0.09 * np.arange(choices)[None, :, None, None]
    end = np.clip(GRID[None, None, :, None] + drift + lift, 0.0, 1.0)
    minutes = np.tile(30 * np.arange(choices), (epochs, 1))
    starts = np.stack([minutes > 0, np.zeros_like(minutes)], axis=2)
    stay = np.full((epochs, members), AT_SEA)
    stay[-1] = ARRIVES
    return Problem(
        minutes=minutes,
        run_cost=np.repeat((minutes[:, :, None] + 10.0 * starts)[..., None], members, axis=3),
        runs_on=np.repeat((minutes == minutes.max())[..., None], members, axis=2),
        stay=stay,
        soc_end=end,
        member_cost=900.0 * np.maximum(0.4 - end, 0.0),
        arrival_cost=250.0 * np.maximum(0.5 - GRID, 0.0),
    )


def by_brute_force(problem: Problem, node: int) -> float:
    """Return the least cost of one member by trying every sequence of choices."""
    best = np.inf
    epochs, choices = problem.minutes.shape
    for sequence in itertools.product(range(choices), repeat=epochs):
        soc, cost, running = GRID[node], 0.0, 0
        for epoch, choice in enumerate(sequence):
            cost += problem.run_cost[epoch, choice, running, 0]
            cost += np.interp(soc, GRID, problem.member_cost[epoch, choice, :, 0])
            soc = np.interp(soc, GRID, problem.soc_end[epoch, choice, :, 0])
            running = int(problem.runs_on[epoch, choice, 0])
        best = min(best, cost + np.interp(soc, GRID, problem.arrival_cost))
    return best


@pytest.mark.parametrize("seed", range(4))
def test_value_of_one_member_is_the_best_of_all_sequences(seed: int) -> None:
    # interpolating the value between whole percents is the only error, and is small beside minutes
    problem = made_up(seed, epochs=5, members=1)
    value = optimise(problem, np.array([0])).value[0, 55, 0]
    assert value == pytest.approx(by_brute_force(problem, 55), abs=2.0)


@pytest.mark.parametrize("seed", range(4))
def test_bounds_enclose_the_best_of_all_sequences_and_close_in(seed: int) -> None:
    problem = made_up(seed, epochs=5, members=1)
    exact = by_brute_force(problem, 55)
    widths = []
    for nodes in (101, 1001, 10001):
        lower, upper = bounds(problem, np.array([0]), start_soc=0.55, nodes=nodes)
        assert lower <= exact + 1e-6
        assert upper >= exact - 1e-6
        widths.append(upper - lower)
    assert widths[0] >= widths[1] >= widths[2]
    assert widths[2] < 0.5  # five roundings of 0.0001 at some hundred minutes for the whole bank


def test_bounds_refuse_a_grid_that_skips_the_tables_points() -> None:
    with pytest.raises(ValueError, match="refine"):
        bounds(made_up(0), EVERYONE, start_soc=0.5, nodes=150)


@pytest.mark.parametrize("rungs", [1, 2, 3])
def test_ladder_has_few_rungs_and_longer_runs_only_at_lower_soc(rungs: int) -> None:
    problem = made_up(3)
    choice = optimise_ladder(problem, EVERYONE, np.ones((6, 101, 1)), rungs=rungs).choice[:, :, 0]
    steps = np.diff(choice, axis=1)
    assert np.all(steps <= 0)
    assert np.all(np.count_nonzero(steps, axis=1) < rungs)


def test_ladder_is_the_best_of_all_ladders_in_the_last_epoch() -> None:
    problem = made_up(5, epochs=1, choices=3)
    weight = np.random.default_rng(1).uniform(0.1, 1.0, size=(1, 101))
    ladder = optimise_ladder(problem, EVERYONE, weight[:, :, None], rungs=3).choice[0, :, 0]
    place = problem.soc_end[0] * 100.0
    cost = problem.run_cost[0, :, 0, 0][:, None] + np.mean(
        problem.member_cost[0] + np.interp(place, np.arange(101), problem.arrival_cost), axis=2
    )
    best = min(
        (float(weight[0] @ cost[choice, np.arange(101)]), tuple(choice))
        for low, high in itertools.combinations_with_replacement(range(102), 2)
        for choice in [np.where(np.arange(101) < low, 2, np.where(np.arange(101) < high, 1, 0))]
    )
    assert float(weight[0] @ cost[ladder, np.arange(101)]) == pytest.approx(best[0], abs=1e-3)


def test_ladder_never_beats_free_choice_and_many_rungs_come_close() -> None:
    problem = made_up(8)
    free = optimise(problem, EVERYONE).value[0, 60, 0]
    printed = [
        optimise_ladder(problem, EVERYONE, np.ones((6, 101, 1)), rungs=rungs).value[0, 60, 0] for rungs in (1, 8)
    ]
    assert free <= printed[1] + 1e-6
    assert printed[1] < printed[0]


def test_equal_costs_go_to_the_shorter_run() -> None:
    problem = made_up(2)
    free_energy = problem._replace(run_cost=np.zeros_like(problem.run_cost), member_cost=problem.member_cost * 0.0)
    idle = free_energy._replace(arrival_cost=np.zeros(101))
    assert not optimise(idle, EVERYONE).choice.any()
    assert not optimise_ladder(idle, EVERYONE, np.ones((6, 101, 1)), rungs=4).choice.any()


def test_a_running_engine_saves_the_start() -> None:
    problem = made_up(4)
    value = optimise(problem, EVERYONE).value
    assert np.all(value[:, :, 1] <= value[:, :, 0] + 1e-9)
    assert np.all(value[:, :, 0] - value[:, :, 1] <= 10.0 + 1e-6)


def test_visits_gather_where_the_members_are() -> None:
    problem = made_up(1)
    solution: Solution = optimise(problem, EVERYONE)
    share = visits(problem, solution, EVERYONE, start_soc=0.8, spread=0.02)
    assert share.sum(axis=(1, 2)) == pytest.approx(np.ones(6))
    assert np.argmax(share[0]) == 80


def test_a_member_that_arrives_early_costs_as_if_its_passage_ended_there() -> None:
    """Alone it is a passage of fewer epochs; beside others it counts in the mean until it is there."""
    problem = made_up(6, epochs=5, members=2)
    stay = problem.stay.copy()
    stay[2:, 1] = ARRIVES, GONE, GONE
    early = problem._replace(stay=stay)
    short = problem._replace(
        **{name: getattr(problem, name)[:3] for name in ("minutes", "run_cost", "runs_on", "soc_end", "member_cost")},
        stay=np.array([[AT_SEA, AT_SEA], [AT_SEA, AT_SEA], [ARRIVES, ARRIVES]]),
    )
    alone = np.array([1])
    np.testing.assert_allclose(optimise(early, alone).value[:3], optimise(short, alone).value[:3], rtol=1e-12)
    both = optimise(early, np.array([0, 1]))
    np.testing.assert_allclose(both.value[3:], optimise(problem, np.array([0])).value[3:], rtol=1e-12)
    met = visits(early, both, np.array([0, 1]), start_soc=0.8, spread=0.02)
    assert met.sum(axis=(1, 2)) == pytest.approx(np.ones(5))
    assert visits(early, both, alone, start_soc=0.8, spread=0.02).sum(axis=(1, 2)) == pytest.approx([1, 1, 1, 0, 0])
