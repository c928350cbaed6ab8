"""Certified bounds of the least expected cost, by rounding SOC down and up on a fine grid."""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from planner.decision.policy.program import AT_SEA, Problem
from planner.domain.arrays import Ints
from planner.physics.frames import cell_of

ROUNDING_SLACK: Final = 1e-9  # 1, of a grid interval: floating point must not shift a SOC by a whole one


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
        When the finer grid does not hold the table's points, or what is not bounded is asked: full charges, members
        that arrive before the last epoch.
    """
    if problem.ages > 1:
        raise ValueError("bounds hold for problems without full charges")
    if np.any(problem.stay[:-1] != AT_SEA):
        raise ValueError("bounds hold for members that arrive in the last epoch")
    coarse = problem.soc_end.shape[2]
    if (nodes - 1) % (coarse - 1):
        raise ValueError(f"{nodes} points do not refine {coarse}")
    at = start_soc * (nodes - 1)
    lower = _bound(problem, members, nodes, 1)
    upper = _bound(problem, members, nodes, 0)
    return float(lower[0, _rounded(at, nodes, 1)]), float(upper[0, _rounded(at, nodes, 0)])


@njit(cache=True)
def _rounded(place, nodes, up):  # type: ignore[no-untyped-def]
    """Return the grid index at or above (up = 1) or at or below (up = 0) a place; a hair of rounding is forgiven."""
    return cell_of(place + (1.0 - ROUNDING_SLACK if up else ROUNDING_SLACK), nodes)


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
            total = np.zeros((2, nodes))
            for member in members:
                after = 1 if problem.runs_on[epoch, choice, member] else 0
                ends = problem.soc_end[epoch, choice, :, member]
                costs = problem.member_cost[epoch, choice, :, member]
                for before in range(2):
                    total[before] += problem.run_cost[epoch, choice, before, member]
                    _add_member(ends, costs, value[after], up, total[before])
            fresh = np.minimum(fresh, total / members.size)
        value = fresh
    return value
