"""The plan in trouble, on the passage of round figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bill_case import DEPARTURE, STEPS, make_case, make_passage
from test_bill_summary import plan_of
from test_without_engine import with_pilot

from planner.decision.bill.stress import stresses
from planner.domain.inputs.passage import Start
from planner.domain.results.plan import Plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_of(make_case())


def test_overcast_leaves_a_quarter_of_the_brightest_sun(plan: Plan) -> None:
    overcast = stresses(plan, None)[0]
    assert overcast.begun == DEPARTURE  # two days hold no other three
    # all members offer at most 480 W: with a quarter, 120 W under 200 W of load, the bank falls day and night
    by_hand = plan_of(make_case(sun_of_members=(0.3, 0.3, 0.3)))
    assert overcast.lowest_soc == pytest.approx(float(by_hand.planned["bank_soc"].min()), abs=1e-9)
    assert overcast.charging_h == pytest.approx(by_hand.charging_hours.planned)
    assert overcast.kept <= overcast.members == 3


def test_a_day_more_goes_on_where_the_plan_ends(plan: Plan) -> None:
    longer = stresses(plan, None)[1]
    assert longer.lowest_soc <= plan.min_soc.planned
    assert longer.charging_h >= plan.charging_hours.planned
    assert longer.lowest_at <= DEPARTURE + timedelta(days=3)


def test_a_day_more_without_engine_falls_by_the_days_deficit() -> None:
    case = make_case(run_below_percent=0)
    three = stresses(plan_of(case), None)[1]
    last_day = float(case.planned["bank_soc_end"][0]) - float(case.planned["bank_soc"][0, STEPS - 144])
    end = float(case.planned["bank_soc_end"][0])
    assert three.charging_h == 0.0
    assert three.lowest_soc == pytest.approx(min(end + last_day, float(case.planned["bank_soc"].min())), abs=0.02)


def test_the_other_tack_is_run_with_its_own_harvest(plan: Plan) -> None:
    dark = plan.harvest.assign(controller_power_w=0.0 * plan.harvest["controller_power_w"])
    worse = stresses(plan, dark)[2]
    same = stresses(plan, plan.harvest)[2]
    assert same.lowest_soc == pytest.approx(plan.min_soc.planned)
    assert same.kept == int((plan.ledger["bank_soc"].values.min(axis=1) >= 0.3).sum())
    assert worse.charging_h > same.charging_h


def test_driving_is_not_repeated() -> None:
    passage = make_passage().model_copy(update={"start": Start(state_of_charge=0.95)})
    plan = plan_of(make_case(passage=passage, run_below_percent=0, motoring_steps=slice(0, STEPS)))
    longer = stresses(plan, None)[1]
    assert longer.charging_h == 0.0
    assert plan.min_soc.planned > 0.9  # while the engine drives; a day without it takes a good part
    assert longer.lowest_soc < 0.8
    assert longer.lowest_at > DEPARTURE + timedelta(days=2)


def test_only_members_above_the_reserve_are_counted_as_keeping_it() -> None:
    plan = plan_of(make_case(sun_of_members=(0.5, 0.8, 1.5), run_below_percent=0))
    course = np.column_stack([plan.ledger["bank_soc"].values, plan.ledger["bank_soc_end"].values])
    lowest = course.min(axis=1)
    keeping = lowest >= plan.boat.bank.reserve_soc
    assert 0 < keeping.sum() < lowest.size  # the case tells the two kinds apart
    assert (lowest[~keeping] > 0.5 * plan.boat.bank.reserve_soc).any()  # one breach is slight
    other_side = stresses(plan, plan.harvest)[2]
    assert other_side.kept == keeping.sum()
    first = int(np.flatnonzero((course < plan.boat.bank.reserve_soc).any(axis=0))[0])
    assert other_side.lost_from == DEPARTURE + timedelta(minutes=10 * first)


def test_a_day_less_ends_where_the_last_day_begins(plan: Plan) -> None:
    shorter = stresses(plan, None)[2]
    assert shorter.trouble == "day_shorter"
    assert shorter.arrival_soc == pytest.approx(float(plan.planned["bank_soc"][0, STEPS - 144]))
    assert shorter.charging_h == pytest.approx(float(plan.planned["engine_on"][0, : STEPS - 144].sum()) / 6.0)
    assert shorter.fuel_l == pytest.approx(shorter.charging_h * plan.boat.engine.charging_l_per_h)


def test_a_wait_off_the_landfall_is_half_a_day_more_that_nobody_steers() -> None:
    """From 08:00 to 20:00, ten hours of 400 W for 200 W of loads; with 50 W of steering only while under way."""
    case = make_case(run_below_percent=0, sun_of_members=(1.0, 1.0))
    waits = stresses(plan_of(case), None)[3]
    planned = case.planned["bank_soc"].values[0]
    by_day = float(planned[STEPS - 72] - planned[STEPS - 144])  # the same half day, sailed
    assert waits.trouble == "waits"
    assert waits.arrival_soc == pytest.approx(float(case.planned["bank_soc_end"][0]) + by_day, abs=0.01)
    piloted = with_pilot(case, 50.0)
    helm = piloted.demand["load"].where(piloted.demand["load"] != "steering", "helm")
    steered_on = replace(piloted, demand=piloted.demand.assign_coords(load=helm))
    spared = stresses(plan_of(piloted), None)[3].arrival_soc - stresses(plan_of(steered_on), None)[3].arrival_soc
    assert spared == pytest.approx(50.0 * 12.0 / (400.0 * 13.2), abs=0.01)


def test_every_trouble_says_what_it_burns_and_arrives_with(plan: Plan) -> None:
    for stress in stresses(plan, plan.harvest):
        assert stress.fuel_l == pytest.approx(stress.charging_h * plan.boat.engine.charging_l_per_h)
        assert stress.lowest_soc <= stress.arrival_soc <= 1.0
