"""The compiled decision given figures that are not numbers, or out of all range: it stays inside its tables.

``tests/house/test_kernels_in_bounds.py`` runs this file with the indices checked.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from program_bounds import bounds
from test_program import EVERYONE, GRID, made_up

from planner.decision.policy.program import Problem, optimise, optimise_ladder, visits

EXTREMES = (np.nan, np.inf, -np.inf, 1e308, -1e308, 1e19, -1.0, 2.0)


def spoilt(name: str, value: float, *, whole: bool) -> Problem:
    """Return a problem with one of its tables at a value: all of it, or a few entries."""
    problem = made_up(3)
    table = np.full_like(getattr(problem, name), value, dtype=np.float64)
    if not whole:
        table = np.where(np.arange(table.size).reshape(table.shape) % 7, getattr(problem, name), table)
    return problem._replace(**{name: table})


@pytest.mark.parametrize("name", ["soc_end", "member_cost", "run_cost", "arrival_cost"])
@pytest.mark.parametrize(("value", "whole"), list(itertools.product(EXTREMES, [True, False])))
def test_the_program_chooses_among_its_choices_whatever_its_tables_hold(name: str, value: float, whole: bool) -> None:
    problem = spoilt(name, value, whole=whole)
    epochs, choices = problem.minutes.shape
    with np.errstate(all="ignore"):
        free = optimise(problem, EVERYONE)
        met = visits(problem, free, EVERYONE, start_soc=0.6, spread=0.02)
        weight = np.full((epochs, GRID.size, 1), 0.01)
        ladder = optimise_ladder(problem, EVERYONE, weight, rungs=4)
        bounds(problem, EVERYONE, start_soc=0.6, nodes=201)
    assert met.shape == (epochs, GRID.size, 1)
    for solution in (free, ladder):
        assert ((solution.choice >= 0) & (solution.choice < choices)).all()


@pytest.mark.parametrize("start_soc", EXTREMES)
def test_a_start_that_is_no_state_of_charge_reads_inside_the_tables(start_soc: float) -> None:
    problem = made_up(3)
    free = optimise(problem, EVERYONE)
    with np.errstate(all="ignore"):
        assert visits(problem, free, EVERYONE, start_soc=start_soc, spread=0.02).shape[0] == problem.minutes.shape[0]
