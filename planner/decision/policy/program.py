"""The dynamic program: expected cost to go at each change of watch, and its printed ladder.

State: SOC on an even grid, whether the engine ran as the epoch before ended, and, where full charges are wanted, the
age of the last: how many ticks, two to the wanted interval, have passed since. Choice: length of run. The members
are taken as independent from one epoch to the next; what their persistence takes away, the margin gives back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.arrays import Bools, Floats, Ints
from planner.physics.frames import cell_of

AT_SEA: Final = 0
ARRIVES: Final = 1
GONE: Final = 2
NOBODY: Final = -1
TIE_PER_MIN: Final = 1e-6  # 1, weight that makes the shorter of two runs of equal cost win


class Problem(NamedTuple):
    """Everything that the program reads, as arrays.

    Attributes
    ----------
    minutes : int array (epoch, choice)
        Length of run [min]; -1 where there is no such choice. Choices get longer.
    run_cost : float array (epoch, choice, 2, member)
        Cost of the run with its starts, by whether the engine ran before the epoch [min].
    runs_on : bool array (epoch, choice, member)
        Whether the engine runs as the epoch ends.
    stay : int array (epoch, member)
        ``AT_SEA`` as the epoch ends, ``ARRIVES`` in it, or ``GONE`` before it.
    soc_end : float array (epoch, choice, soc, member)
        SOC at the end of the epoch, from each grid SOC [0..1].
    member_cost : float array (epoch, choice, soc, member)
        Cost of depth and of unserved load [min].
    arrival_cost : float array (soc,)
        Cost of arriving with each grid SOC [min].
    fills : bool array (epoch, choice, soc, member)
        Whether the bank is full at some time of the epoch; empty where full charges are not wanted.
    ticks : bool array (epoch,)
        Whether the age of the last full charge rises as the epoch ends; empty likewise.
    ages : int
        Ages that are distinguished; at the highest the full charge is overdue. 1 where none is wanted.
    overdue_cost : float
        Cost of a tick that leaves the full charge overdue [min].
    """

    minutes: Ints
    run_cost: Floats
    runs_on: Bools
    stay: Ints
    soc_end: Floats
    member_cost: Floats
    arrival_cost: Floats
    fills: Bools = np.zeros((0, 0, 0, 0), dtype=np.bool_)
    ticks: Bools = np.zeros(0, dtype=np.bool_)
    ages: int = 1
    overdue_cost: float = 0.0


@dataclass(frozen=True, eq=False)
class Solution:
    """Cost to go and what to choose.

    Attributes
    ----------
    value : float array (epoch + 1, soc, state)
        Expected cost from the start of each epoch on; states are engine stopped and running before it, with each age
        of the last full charge in turn [min].
    choice : int array (epoch, soc, state)
        Index of the choice.
    """

    value: Floats
    choice: Ints


def optimise(problem: Problem, members: Ints) -> Solution:
    """Choose freely at every grid SOC and state.

    Parameters
    ----------
    problem : Problem
        The arrays.
    members : int array
        Which members the expectation is over, those at sea at the time.

    Returns
    -------
    Solution
        SOC between grid points is read linearly.
    """
    value, choice = _backward(problem, members, np.zeros((0, 0, 0)), 0)
    return Solution(value=value, choice=choice)


def optimise_ladder(problem: Problem, members: Ints, weight: Floats, *, rungs: int) -> Solution:
    """Choose the best ladder of few rungs for each epoch: shorter runs at higher SOC, whatever the state.

    Earlier epochs are chosen in the knowledge of the later ladders, so the value is that of what is printed.

    Parameters
    ----------
    problem, members
        As for ``optimise``.
    weight : float array (epoch, soc, age)
        How much the ladder's fit counts at each SOC and age of the last full charge [1].
    rungs : int
        Most rungs of an epoch.

    Returns
    -------
    Solution
        Its choice is the same for all states; the engine is taken to be stopped before where they part.
    """
    value, choice = _backward(problem, members, weight, rungs)
    return Solution(value=value, choice=choice)


def visits(problem: Problem, solution: Solution, members: Ints, *, start_soc: float, spread: float) -> Floats:
    """Return how often each grid SOC and age is met at the start of each epoch, SOC broadened by the meter's error.

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
    float array (epoch, soc, age)
        Sums to 1 over SOC and age; 0 where none of the members is at sea.
    """
    nodes = problem.soc_end.shape[2]
    met, age = _follow(problem, solution.choice, members, start_soc)
    grid = np.linspace(0.0, 1.0, nodes)
    width = max(spread, 1.0 / (nodes - 1))
    closeness = np.exp(-0.5 * ((grid[None, :, None] - met[:, None, :]) / width) ** 2)
    of_age = np.arange(problem.ages) == age[:, :, None]
    near = np.einsum("esm,ema->esa", closeness, of_age)
    shares: Floats = near / np.maximum(near.sum(axis=(1, 2), keepdims=True), 1e-300)
    return shares


@njit(cache=True)
def _next_age(problem, epoch, age, place):  # type: ignore[no-untyped-def]
    """Return the age of the last full charge as an epoch ends, and its cost; place is (choice, soc, member)."""
    if problem.ages == 1:
        return 0, 0.0
    aged = 0 if problem.fills[epoch, place[0], place[1], place[2]] else age
    if not problem.ticks[epoch]:
        return aged, 0.0
    aged = min(aged + 1, problem.ages - 1)
    return aged, problem.overdue_cost if aged == problem.ages - 1 else 0.0


@njit(cache=True)
def expected_cost(problem, epoch, value_next, members, cost):  # type: ignore[no-untyped-def]
    """Fill cost (choice, soc, state) of one epoch: run, members' own cost, and the value where they end or arrive.

    The mean is over members that are at sea as it begins; 0 where none is.
    """
    soc_end, member_cost, stay = problem.soc_end[epoch], problem.member_cost[epoch], problem.stay[epoch]
    choices, nodes = soc_end.shape[0], soc_end.shape[1]
    sailing = members[stay[members] != GONE]
    for choice in range(choices):
        if problem.minutes[epoch, choice] < 0:
            cost[choice] = np.inf
            continue
        stopped, running = 0.0, 0.0
        for member in sailing:
            stopped += problem.run_cost[epoch, choice, 0, member]
            running += problem.run_cost[epoch, choice, 1, member]
        for node in range(nodes):
            for age in range(problem.ages):
                total = 0.0
                for member in sailing:
                    place = soc_end[choice, node, member] * (nodes - 1)
                    below = cell_of(place, nodes - 1)
                    aged, overdue = _next_age(problem, epoch, age, (choice, node, member))
                    if stay[member] == ARRIVES:
                        ahead, above = problem.arrival_cost[below], problem.arrival_cost[below + 1]
                    else:
                        state = (1 if problem.runs_on[epoch, choice, member] else 0) + 2 * aged
                        ahead, above = value_next[below, state], value_next[below + 1, state]
                    part = place - below
                    total += member_cost[choice, node, member] + overdue + (1.0 - part) * ahead + part * above
                cost[choice, node, 2 * age] = (stopped + total) / max(sailing.size, 1)
                cost[choice, node, 2 * age + 1] = (running + total) / max(sailing.size, 1)


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
def best_ladder(cost, minutes, weight, rungs):  # type: ignore[no-untyped-def]
    """Return the choice at each grid SOC: longer only as SOC falls, of at most so many rungs, least weighted cost."""
    choices, nodes = cost.shape[0], cost.shape[1]
    came_from = np.full((nodes, rungs, choices), -1)
    best = np.full((rungs, choices), np.inf)
    for node in range(nodes - 1, -1, -1):
        here = weight[node].sum() * TIE_PER_MIN * minutes
        for age in range(weight.shape[1]):
            here = here + weight[node, age] * cost[:, node, 2 * age]
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
            if above < 0:
                continue  # costs that are not numbers lead nowhere: the run stays as it is
            if above != choice:
                rung = max(rung - 1, 0)
            choice = above
    return ladder


@njit(cache=True)
def _best_free(cost, chosen):  # type: ignore[no-untyped-def]
    """Fill chosen (soc, state) with the choice of least cost; of equals the shortest run."""
    for node in range(cost.shape[1]):
        for state in range(cost.shape[2]):
            best = 0
            for choice in range(1, cost.shape[0]):
                if cost[choice, node, state] < cost[best, node, state] - TIE_PER_MIN:
                    best = choice
            chosen[node, state] = best


@njit(cache=True, nogil=True)
def _backward(problem, members, weight, rungs):  # type: ignore[no-untyped-def]
    """Return value and choice; a ladder of so many rungs where rungs > 0, else free."""
    epochs, choices, nodes = problem.soc_end.shape[0], problem.soc_end.shape[1], problem.soc_end.shape[2]
    states = 2 * problem.ages
    value = np.empty((epochs + 1, nodes, states))
    chosen = np.zeros((epochs, nodes, states), dtype=np.int64)
    for node in range(nodes):
        value[epochs, node] = problem.arrival_cost[node]
    cost = np.empty((choices, nodes, states))
    for epoch in range(epochs - 1, -1, -1):
        expected_cost(problem, epoch, value[epoch + 1], members, cost)
        if rungs > 0:
            ladder = best_ladder(cost, problem.minutes[epoch], weight[epoch], rungs)
            for node in range(nodes):
                chosen[epoch, node] = ladder[node]
        else:
            _best_free(cost, chosen[epoch])
        for node in range(nodes):
            for state in range(states):
                value[epoch, node, state] = cost[chosen[epoch, node, state], node, state]
    return value, chosen


@njit(cache=True, nogil=True)
def _follow(problem, chosen, members, start_soc):  # type: ignore[no-untyped-def]
    """Return SOC and age (epoch, member) at the start of each epoch along the tables, read at the nearest node.

    The age of a member that has arrived is ``NOBODY``.
    """
    soc_end = problem.soc_end
    epochs, nodes = soc_end.shape[0], soc_end.shape[2]
    met = np.zeros((epochs, members.size))
    ages = np.full((epochs, members.size), NOBODY)
    for column, member in enumerate(members):
        soc, before, age = start_soc, 0, 0
        for epoch in range(epochs):
            if problem.stay[epoch, member] == GONE:
                break
            met[epoch, column], ages[epoch, column] = soc, age
            place = soc * (nodes - 1)
            nearest = cell_of(place + 0.5, nodes)
            choice = chosen[epoch, nearest, before + 2 * age]
            below = cell_of(place, nodes - 1)
            part = place - below
            soc = (1.0 - part) * soc_end[epoch, choice, below, member] + part * soc_end[
                epoch, choice, below + 1, member
            ]
            before = 1 if problem.runs_on[epoch, choice, member] else 0
            age, _ = _next_age(problem, epoch, age, (choice, nearest, member))
    return met, ages
