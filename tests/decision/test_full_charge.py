"""Full charges: what counts as full, when the next is due, and that the program plans for them."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from bill_case import make_case
from decision_case import decision_for
from program_bounds import bounds
from synthetic_ensemble import BANK, ENGINE, WISHES, make_ensemble
from test_program import GRID, made_up

from planner.decision.bill.shortfall import longest_without_full
from planner.decision.policy.full_charge import NEARLY, full_charges, full_soc
from planner.decision.policy.program import Problem, optimise
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.simulate import simulate

STEP_S = 600.0
DAY_STEPS = 144
TICKS = np.array([False, True, False, True, True])


def with_full_charges(seed: int) -> Problem:
    """Return a made-up problem whose bank keeps to whole percents, so that nothing is interpolated."""
    problem = made_up(seed, epochs=5, choices=4, members=1)
    end = np.round(problem.soc_end, 2)
    return problem._replace(
        soc_end=end,
        member_cost=900.0 * np.maximum(0.4 - end, 0.0),
        fills=end >= 0.62,
        ticks=TICKS,
        ages=3,
        overdue_cost=50.0,
    )


def by_brute_force(problem: Problem, node: int) -> float:
    """Return the least cost by trying every sequence of choices, the age of the last full charge kept by hand."""
    best = np.inf
    epochs, choices = problem.minutes.shape
    for sequence in itertools.product(range(choices), repeat=epochs):
        at, cost, running, halves = node, 0.0, 0, 0
        for epoch, choice in enumerate(sequence):
            cost += problem.run_cost[epoch, choice, running, 0] + problem.member_cost[epoch, choice, at, 0]
            if problem.fills[epoch, choice, at, 0]:
                halves = 0
            if TICKS[epoch]:
                halves += 1
                cost += problem.overdue_cost if halves >= 2 else 0.0
            at = round(100.0 * problem.soc_end[epoch, choice, at, 0])
            running = int(problem.runs_on[epoch, choice, 0])
        best = min(best, cost + float(np.interp(at / 100.0, GRID, problem.arrival_cost)))
    return best


@pytest.mark.parametrize("seed", range(4))
def test_value_with_full_charges_is_the_best_of_all_sequences(seed: int) -> None:
    problem = with_full_charges(seed)
    assert optimise(problem, np.array([0])).value[0, 55, 0] == pytest.approx(by_brute_force(problem, 55), abs=1e-6)


def test_bounds_say_that_full_charges_are_beyond_them() -> None:
    with pytest.raises(ValueError, match="without full charges"):
        bounds(with_full_charges(0), np.array([0]), start_soc=0.5, nodes=101)


def test_a_tick_ends_the_last_epoch_before_half_of_the_interval_has_passed() -> None:
    ends = np.arange(1, 9) * DAY_STEPS // 2  # every twelve hours
    params = bank_params(BANK)
    on_the_hour = full_charges(ends, step_s=STEP_S, every_days=3.0, params=params).ticks
    assert on_the_hour.tolist() == [False, False, True, False, False, True, False, False]
    within_a_watch = full_charges(ends, step_s=STEP_S, every_days=3.5, params=params).ticks  # 42 and 84 hours
    assert within_a_watch.tolist() == [False, False, True, False, False, False, True, False]


def test_nothing_is_asked_without_the_wish() -> None:
    assert not full_charges(np.array([DAY_STEPS]), step_s=STEP_S, every_days=None, params=bank_params(BANK)).asked


def test_full_is_where_the_tail_current_is_reached_or_nearly_so() -> None:
    agm = BANK.model_copy(update={"chemistry": "agm"})
    eager = agm.model_copy(update={"tail_current_c": 0.1})
    assert full_soc(bank_params(eager)) < full_soc(bank_params(agm)) <= NEARLY


def test_the_longest_stretch_counts_from_departure_to_arrival() -> None:
    case = make_case()
    soc = np.full(case.steps + 1, 0.5)
    assert longest_without_full(case, soc) == (0, case.steps)
    soc[100:120] = 1.0
    assert longest_without_full(case, soc) == (119, case.steps)


def test_lead_that_is_short_of_sun_is_filled_by_engine_when_that_is_wished() -> None:
    bank = BANK.model_copy(update={"chemistry": "agm", "reserve_soc": 0.5})
    ensemble = make_ensemble(seed=4, days=6.0, members=12, array_w=450.0)
    full = full_soc(bank_params(bank))
    filled, hours = {}, {}
    for every_days in (None, 4.0):
        wishes = WISHES.model_copy(update={"full_charge_every_days": every_days})
        decision = decision_for(ensemble, bank=bank, wishes=wishes)
        ledger = simulate(
            ensemble.harvest,
            ensemble.demand,
            ensemble.track,
            bank=bank,
            engine=ENGINE,
            policy=decision.policy,
            start_soc=0.9,
        )
        filled[every_days] = float((ledger["bank_soc"].values[:, : 4 * DAY_STEPS + 1].max(axis=1) >= full).mean())
        hours[every_days] = float(ledger["engine_on"].values.mean())
    assert filled[None] < 0.2
    assert filled[4.0] > 0.6  # most, not all: the ladder cannot see who was full
    assert hours[4.0] > hours[None]
