"""The dynamic program: expected cost to go at each change of watch, its printed ladder, and certified bounds.

State: SOC on an even grid, and whether the engine ran as the epoch before ended. Choice: length of run. The members
are taken as independent from one epoch to the next; what their persistence takes away, the margin gives back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

TIE_PER_MIN: Final = 1e-6  # 1, weight that makes the shorter of two runs of equal cost win
ROUNDING_SLACK: Final = 1e-9  # 1, of a grid interval: floating point must not shift a SOC by a whole one


class Problem(NamedTuple):
    """Everything that the program reads, as arrays.

    Attributes
    ----------
    minutes : int array (epoch, choice)
        Length of run [min]; -1 where there is no such choice. Choices get longer.
    run_cost : float array (epoch, choice, 2)
        Cost of the run with its starts, by whether the engine ran before the epoch [min].
    runs_on : bool array (epoch, choice)
        Whether the engine runs as the epoch ends.
    soc_end : float array (epoch, choice, soc, member)
        SOC at the end of the epoch, from each grid SOC [0..1].
    member_cost : float array (epoch, choice, soc, member)
        Cost of depth and of unserved load [min].
    arrival_cost : float array (soc,)
        Cost of arriving with each grid SOC [min].
    """

    minutes: Ints
    run_cost: Floats
    runs_on: Bools
    soc_end: Floats
    member_cost: Floats
    arrival_cost: Floats


@dataclass(frozen=True, eq=False)
class Solution:
    """Cost to go and what to choose.

    Attributes
    ----------
    value : float array (epoch + 1, soc, 2)
        Expected cost from the start of each epoch on, by engine state before it [min].
    choice : int array (epoch, soc, 2)
        Index of the choice.
    """

    value: Floats
    choice: Ints


def optimise(problem: Problem, members: Ints) -> Solution:
    """Choose freely at every grid SOC and engine state.

    Parameters
    ----------
    problem : Problem
        The arrays.
    members : int array
        Which members the expectation is over.

    Returns
    -------
    Solution
        SOC between grid points is read linearly.
    """
    value, choice = _backward(problem, members, np.zeros((0, 0)), 0)
    return Solution(value=value, choice=choice)


def optimise_ladder(problem: Problem, members: Ints, weight: Floats, *, rungs: int) -> Solution:
    """Choose the best ladder of few rungs for each epoch: shorter runs at higher SOC, whatever the engine did before.

    Earlier epochs are chosen in the knowledge of the later ladders, so the value is that of what is printed.

    Parameters
    ----------
    problem : Problem
        The arrays.
    members : int array
        Which members the expectation is over.
    weight : float array (epoch, soc)
        How much the ladder's fit counts at each SOC [1].
    rungs : int
        Most rungs of an epoch.

    Returns
    -------
    Solution
        Its choice is the same for both engine states.
    """
    value, choice = _backward(problem, members, weight, rungs)
    return Solution(value=value, choice=choice)


def visits(problem: Problem, solution: Solution, members: Ints, *, start_soc: float, spread: float) -> Floats:
    """Return how often each grid SOC is met at the start of each epoch, broadened by the meter's error.

    Parameters
    ----------
    problem, solution : Problem, Solution
        The arrays and the choices to follow.
    members : int array
        Members to follow.
    start_soc : float
        SOC at departure [0..1].
    spread : float
        Standard deviation of the broadening [0..1].

    Returns
    -------
    float array (epoch, soc)
        Sums to 1 over SOC.
    """
    nodes = problem.soc_end.shape[2]
    met = _follow(problem, solution.choice, members, start_soc)
    grid = np.linspace(0.0, 1.0, nodes)
    width = max(spread, 1.0 / (nodes - 1))
    near = np.exp(-0.5 * ((grid[None, :, None] - met[:, None, :]) / width) ** 2).sum(axis=2)
    shares: Floats = near / np.maximum(near.sum(axis=1, keepdims=True), 1e-300)
    return shares


def bounds(problem: Problem, members: Ints, *, start_soc: float, nodes: int) -> tuple[float, float]:
    """Return a lower and an upper bound of the least expected cost, SOC rounded up and down on a finer grid.

    The problem is the one tabulated, read linearly between grid points. More SOC never costs more in it (the tables
    are monotone), so rounding every SOC down can only raise the cost, and up only lower it; the true least cost of
    the tabulated problem lies between.

    Parameters
    ----------
    problem : Problem
        The arrays.
    members : int array
        Which members the expectation is over.
    start_soc : float
        SOC at departure, rounded with the rest [0..1]; the engine is stopped.
    nodes : int
        Points of the finer grid; one more than a multiple of the table's intervals.

    Returns
    -------
    lower, upper : float
        Bounds [min].

    Raises
    ------
    ValueError
        When the finer grid does not hold the table's points.
    """
    coarse = problem.soc_end.shape[2]
    if (nodes - 1) % (coarse - 1):
        raise ValueError(f"{nodes} points do not refine {coarse}")
    at = start_soc * (nodes - 1)
    lower = _bound(problem, members, nodes, 1)
    upper = _bound(problem, members, nodes, 0)
    return float(lower[0, _rounded(at, nodes, 1)]), float(upper[0, _rounded(at, nodes, 0)])


@njit(cache=True)
def _expected(problem, epoch, value_next, members, cost):  # type: ignore[no-untyped-def]
    """Fill cost (choice, soc, 2) of one epoch: run, members' own cost, and the value where they end."""
    soc_end, member_cost = problem.soc_end[epoch], problem.member_cost[epoch]
    choices, nodes = soc_end.shape[0], soc_end.shape[1]
    for choice in range(choices):
        if problem.minutes[epoch, choice] < 0:
            cost[choice] = np.inf
            continue
        after = 1 if problem.runs_on[epoch, choice] else 0
        for node in range(nodes):
            total = 0.0
            for member in members:
                place = soc_end[choice, node, member] * (nodes - 1)
                below = min(int(place), nodes - 2)
                part = place - below
                total += (
                    member_cost[choice, node, member]
                    + (1.0 - part) * value_next[below, after]
                    + part * value_next[below + 1, after]
                )
            total /= members.size
            for before in range(2):
                cost[choice, node, before] = problem.run_cost[epoch, choice, before] + total


@njit(cache=True)
def _add_node(here, best, came_from):  # type: ignore[no-untyped-def]
    """Extend the best ladders by the grid SOC just below: stay on a rung, or step down to a longer run.

    ``best`` (rung, choice) is the least weighted cost of the SOCs above, by the rung and choice in force there;
    ``here`` (choice,) that of the new one. Returns the new ``best``; fills ``came_from`` with the choice above.
    """
    rungs, choices = best.shape
    fresh = np.full((rungs, choices), np.inf)
    for rung in range(rungs):
        shorter, shorter_at = np.inf, -1
        for choice in range(choices):
            fresh[rung, choice] = min(best[rung, choice], shorter) + here[choice]
            came_from[rung, choice] = choice if best[rung, choice] <= shorter else shorter_at
            if rung > 0 and best[rung - 1, choice] < shorter:
                shorter, shorter_at = best[rung - 1, choice], choice
    return fresh


@njit(cache=True)
def _best_ladder(cost, minutes, weight, rungs):  # type: ignore[no-untyped-def]
    """Return the choice at each grid SOC: longer only as SOC falls, of at most so many rungs, least weighted cost."""
    choices, nodes = cost.shape[0], cost.shape[1]
    came_from = np.full((nodes, rungs, choices), -1)
    best = np.full((rungs, choices), np.inf)
    for node in range(nodes - 1, -1, -1):
        here = weight[node] * (cost[:, node, 0] + TIE_PER_MIN * minutes)
        if node == nodes - 1:
            best[0] = here
        else:
            best = _add_node(here, best, came_from[node])
    least = int(np.argmin(best))
    rung, choice = least // choices, least % choices
    ladder = np.zeros(nodes, dtype=np.int64)
    for node in range(nodes):
        ladder[node] = choice
        if node < nodes - 1:
            above = came_from[node, rung, choice]
            if above != choice:
                rung -= 1
            choice = above
    return ladder


@njit(cache=True)
def _best_free(cost, chosen):  # type: ignore[no-untyped-def]
    """Fill chosen (soc, 2) with the choice of least cost; of equals the shortest run."""
    for node in range(cost.shape[1]):
        for before in range(2):
            best = 0
            for choice in range(1, cost.shape[0]):
                if cost[choice, node, before] < cost[best, node, before] - TIE_PER_MIN:
                    best = choice
            chosen[node, before] = best


@njit(cache=True)
def _backward(problem, members, weight, rungs):  # type: ignore[no-untyped-def]
    """Return value and choice; a ladder of so many rungs where rungs > 0, else free."""
    epochs, choices, nodes = problem.soc_end.shape[0], problem.soc_end.shape[1], problem.soc_end.shape[2]
    value = np.empty((epochs + 1, nodes, 2))
    chosen = np.zeros((epochs, nodes, 2), dtype=np.int64)
    for node in range(nodes):
        value[epochs, node] = problem.arrival_cost[node]
    cost = np.empty((choices, nodes, 2))
    for epoch in range(epochs - 1, -1, -1):
        _expected(problem, epoch, value[epoch + 1], members, cost)
        if rungs > 0:
            ladder = _best_ladder(cost, problem.minutes[epoch], weight[epoch], rungs)
            for node in range(nodes):
                chosen[epoch, node] = ladder[node]
        else:
            _best_free(cost, chosen[epoch])
        for node in range(nodes):
            for before in range(2):
                value[epoch, node, before] = cost[chosen[epoch, node, before], node, before]
    return value, chosen


@njit(cache=True)
def _follow(problem, chosen, members, start_soc):  # type: ignore[no-untyped-def]
    """Return SOC (epoch, member) at the start of each epoch along the tables, choices read at the nearest node."""
    soc_end = problem.soc_end
    epochs, nodes = soc_end.shape[0], soc_end.shape[2]
    met = np.empty((epochs, members.size))
    for column, member in enumerate(members):
        soc, before = start_soc, 0
        for epoch in range(epochs):
            met[epoch, column] = soc
            place = soc * (nodes - 1)
            choice = chosen[epoch, min(int(place + 0.5), nodes - 1), before]
            below = min(int(place), nodes - 2)
            part = place - below
            soc = (1.0 - part) * soc_end[epoch, choice, below, member] + part * soc_end[
                epoch, choice, below + 1, member
            ]
            before = 1 if problem.runs_on[epoch, choice] else 0
    return met


@njit(cache=True)
def _rounded(place, nodes, up):  # type: ignore[no-untyped-def]
    """Return the grid index at or above (up = 1) or at or below (up = 0) a place; a hair of rounding is forgiven."""
    return min(int(place + (1.0 - ROUNDING_SLACK if up else ROUNDING_SLACK)), nodes - 1)


@njit(cache=True)
def _add_member(ends, costs, value, up, total):  # type: ignore[no-untyped-def]
    """Add one member's cost and its value at the rounded end, from each point of the finer grid, to total (soc,)."""
    nodes, coarse = total.size, ends.size
    finer = (nodes - 1) // (coarse - 1)
    for below in range(coarse - 1):
        end, end_rise = ends[below] * (nodes - 1), (ends[below + 1] - ends[below]) * (nodes - 1) / finer
        cost, cost_rise = costs[below], (costs[below + 1] - costs[below]) / finer
        # the last interval holds its upper end too
        for k in range(finer + 1 if below == coarse - 2 else finer):
            total[below * finer + k] += cost + k * cost_rise + value[_rounded(end + k * end_rise, nodes, up)]


@njit(cache=True)
def _bound(problem, members, nodes, up):  # type: ignore[no-untyped-def]
    """Return the value (soc, 2) at the first epoch with SOC rounded to a finer grid, up or down."""
    epochs, choices, coarse = problem.soc_end.shape[0], problem.soc_end.shape[1], problem.soc_end.shape[2]
    arrival = np.interp(np.linspace(0.0, 1.0, nodes), np.linspace(0.0, 1.0, coarse), problem.arrival_cost)
    value = np.empty((2, nodes))
    value[0], value[1] = arrival, arrival
    for epoch in range(epochs - 1, -1, -1):
        fresh = np.full((2, nodes), np.inf)
        for choice in range(choices):
            if problem.minutes[epoch, choice] < 0:
                continue
            after = 1 if problem.runs_on[epoch, choice] else 0
            total = np.zeros(nodes)
            for member in members:
                ends = problem.soc_end[epoch, choice, :, member]
                costs = problem.member_cost[epoch, choice, :, member]
                _add_member(ends, costs, value[after], up, total)
            for before in range(2):
                run_cost = problem.run_cost[epoch, choice, before]
                fresh[before] = np.minimum(fresh[before], run_cost + total / members.size)
        value = fresh
    return value
