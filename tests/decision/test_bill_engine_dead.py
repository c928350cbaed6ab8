"""Engine dead from now: the compiled march against a plain loop over the bank's step, and against reason."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from bill_case import STEPS, make_boat, make_case

from planner.decision.bill.dead.engine_dead import after_shedding_w, engine_dead, least_soc
from planner.domain.voyage import Voyage
from planner.physics.bank import bank_step
from planner.simulation.ledger.bank import bank_params

RESERVE = 0.3


def plain_march(case: Voyage, member: int, first: int, shed_from: int) -> int | None:
    """Return the step at whose start the reserve is lost, by the plain loop; None when it is kept.

    The bank follows the ledger, whose volts lean to one branch or the other, until the engine runs there.
    """
    params = bank_params(case.boat.bank)
    solar = case.harvest["controller_power_w"].values[member].sum(axis=1)
    demand = case.demand["demand_power_w"].values[member]
    course = np.append(case.ledger["bank_soc"].values[member], case.ledger["bank_soc_end"].values[member])
    ran = np.flatnonzero(case.ledger["engine_on"].values[member][first:])
    follows = min(shed_from, first + int(ran[0]) if ran.size else STEPS)
    soc = course[first]
    for step in range(first, STEPS + 1):
        if soc < RESERVE:
            return step
        if step < STEPS:
            load = demand[step] - (100.0 if step >= shed_from else 0.0)
            soc = bank_step(soc, solar[step], 0.0, 0.0, load, 600.0, params).soc_next
            soc = course[step + 1] if step < follows else soc
    return None


@pytest.fixture(scope="module")
def dim() -> Voyage:
    """A passage whose sun cannot carry the loads, with engine runs in the morning and evening."""
    return make_case(sun_of_members=(0.28, 0.38, 0.43, 0.48, 0.58), run_below_percent=55)


def test_hours_left_are_those_of_the_plain_march(dim: Voyage) -> None:
    for epoch, dead in enumerate(engine_dead(dim)):
        first = int(dim.policy.first_step[epoch])
        lost = sorted(plain_march(dim, member, first, STEPS + 1) or STEPS + 99 for member in range(5))[0]
        assert dead.hours_left == (None if lost > STEPS else pytest.approx((lost - first) / 6.0))


def test_finding_out_by_then_keeps_the_reserve_and_a_step_later_does_not(dim: Voyage) -> None:
    checked = 0
    for epoch, dead in enumerate(engine_dead(dim)):
        if dead.find_out_by is None:
            continue
        first = int(dim.policy.first_step[epoch])
        latest = round((dead.find_out_by - dim.at(0)) / timedelta(minutes=10))
        assert all(plain_march(dim, member, first, latest) is None for member in range(5))
        assert any(plain_march(dim, member, first, latest + 1) is not None for member in range(5))
        checked += 1
    assert checked >= 2


def test_a_sunny_passage_needs_no_engine() -> None:
    assert all(dead.hours_left is None for dead in engine_dead(make_case(sun_of_members=(1.5, 1.6))))


def test_where_shedding_is_not_enough_no_time_is_given() -> None:
    boat = make_boat()
    unsheddable = boat.model_copy(
        update={"load": tuple(load.model_copy(update={"shed_order": None}) for load in boat.load)}
    )
    dead = engine_dead(make_case(boat=unsheddable, sun_of_members=(0.2,)))[0]
    assert dead.hours_left is not None
    assert dead.find_out_by is None


def test_the_poor_tenth_sets_the_hours() -> None:
    sun = np.linspace(0.2, 0.7, 21)
    many = engine_dead(make_case(sun_of_members=tuple(sun), run_below_percent=0))[0]
    alone = engine_dead(make_case(sun_of_members=(float(sun[2]),), run_below_percent=0))[0]  # two of 21 do worse
    assert many == alone


def test_shedding_takes_off_what_may_be_shed() -> None:
    case = make_case()
    assert np.allclose(after_shedding_w(case), 100.0)
    assert np.allclose(after_shedding_w(case, up_to_order=1), 160.0)


def test_the_least_soc_is_a_threshold() -> None:
    params = bank_params(make_boat().bank)
    solar = np.zeros((1, 12))
    demand = np.full((1, 12), 300.0)
    least = least_soc(solar, demand, RESERVE, 600.0, params)
    assert least[0, -1] == RESERVE
    for offset, kept in ((1e-6, True), (-1e-6, False)):
        soc = least[0, 0] + offset
        for _ in range(12):
            soc = bank_step(soc, 0.0, 0.0, 0.0, 300.0, 600.0, params).soc_next
        assert (soc >= RESERVE) is kept


def test_more_than_a_full_bank_holds_is_never_enough() -> None:
    params = bank_params(make_boat().bank)
    least = least_soc(np.zeros((1, 300)), np.full((1, 300), 400.0), RESERVE, 600.0, params)
    assert np.isinf(least[0, 0])
    assert np.isfinite(least[0, -10])
