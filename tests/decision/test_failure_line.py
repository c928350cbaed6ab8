"""The failure card's figures, reckoned by hand on a passage of round ones, and by the ledger of the same failure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from bill_case import BANK, STEPS, inputs_of, make_boat, make_case, make_passage

from planner.decision.bill.dead.failure_line import Failing, shed_steps, sun_wh_per_day
from planner.decision.bill.dead.first_actions import assumed_of, first_action
from planner.decision.bill.dead.without_engine import without_engine
from planner.decision.policy.calibrate import meter_offsets
from planner.decision.policy.full_charge import drift_of
from planner.domain.inputs.failure import Failure
from planner.domain.inputs.power import Load
from planner.domain.policy import Policy
from planner.domain.results.failures import ShedStep
from planner.domain.voyage import Voyage, soc_course
from planner.simulation.failures import without
from planner.simulation.ledger.simulate import simulate

NIGHTLY = (Load(name="VHF", watts=100.0, shed_order=1), Load(name="fridge", watts=60.0, shed_order=2))


def fails(case: Voyage, kind: str, *, charging: bool = False, meter_error: float = 0.0) -> Failing:
    """Return the case with a failure; on sun alone unless the engine charges, by a true meter unless it is lost."""
    wishes = case.passage.wishes.model_copy(update={"meter_error": meter_error})
    passage = case.passage.model_copy(update={"wishes": wishes})
    return Failing(
        without(replace(case.inputs, passage=passage), [Failure(kind)]),  # type: ignore[arg-type]
        [case.course],
        case.policy if charging else Policy.never(STEPS),
    )


def in_order(steps: Sequence[ShedStep]) -> list[tuple[str, ...]]:
    return [step.loads for step in steps]


def test_what_a_dead_alternator_leaves_is_reckoned_by_hand() -> None:
    """200 W of loads over two days, 0.3 of 400 Ah over the reserve and no sun: 1536 Wh and more at 12.8 to 13.2 V."""
    steps, enough = shed_steps(fails(make_case(sun_of_members=(0.0, 0.0, 0.0)), "alternator"))
    assert in_order(steps) == [(), ("watermaker",), ("fridge",)]
    assert not enough
    for step, watts in zip(steps, (200.0, 160.0, 100.0), strict=True):
        assert step.draws_wh_per_day == pytest.approx(24.0 * watts)
        assert step.lasts.reserve_h == pytest.approx(0.3 * 400.0 * 13.0 / watts, rel=0.03)
        assert step.charging_h.planned == 0.0
    assert [step.saves_wh_per_day for step in steps] == pytest.approx([0.0, 960.0, 1440.0])
    reserve_h = [step.lasts.reserve_h or np.inf for step in steps]
    gained = [b - a for a, b in pairwise(reserve_h)]
    lit_h = [step.lasts.lights_out_h for step in steps]
    assert lit_h[0] is not None
    assert lit_h[1] is not None
    assert steps[1].gained_h == pytest.approx(lit_h[1] - lit_h[0])  # light counts before the reserve
    assert min(gained) > 0.0


def test_the_card_agrees_with_the_bill_s_dead_engine() -> None:
    case = make_case(sun_of_members=(0.1, 0.2, 0.3))
    steps, _ = shed_steps(fails(case, "alternator"))
    bill = without_engine(case, [0])[0]
    for step, told in ((steps[0], bill.as_it_is), (steps[-1], bill.shed)):
        assert step.lasts.reserve_h == pytest.approx(told.reserve_h, abs=0.5)
        assert step.lasts.lights_out_h == pytest.approx(told.lights_out_h, abs=0.5)


def test_with_the_engine_the_plan_s_ladders_are_followed_as_the_ledger_does() -> None:
    case = make_case(sun_of_members=(0.0, 0.2, 0.4, 0.6))
    failing = fails(case, "meter", charging=True)
    wishes = failing.inputs.passage.wishes
    assert wishes.meter_error > case.passage.wishes.meter_error
    off = meter_offsets(4, 1, sd=wishes.meter_error, seed=case.passage.model.seed + 1)[0]
    ledger = simulate(
        case.harvest, case.demand, case.track,
        bank=case.boat.bank, engine=case.boat.engine, policy=case.policy, start_soc=0.6 - off,
        meter_offset=off,
        drift=drift_of(case.boat.bank, wishes),
    )  # fmt: skip
    (as_it_is, *_), _ = shed_steps(failing)
    kept = (soc_course(ledger) >= case.boat.bank.reserve_soc).all(axis=1).sum()
    dark = (ledger["unserved_power_w"].values > 0.0).any(axis=1).sum()
    assert (as_it_is.kept.k, as_it_is.kept.n) == (kept, 4)
    assert as_it_is.lit.k == 4 - dark
    assert as_it_is.charging_h.planned == pytest.approx(ledger["engine_on"].values.sum() / 6.0 / 4.0)
    assert as_it_is.charging_h.planned > 0.0


def test_what_she_begins_with_is_read_on_the_meter_too() -> None:
    """By a true meter all stay over the reserve; by one that errs by a quarter not all do."""
    case = make_case(sun_of_members=(1.0, 1.0, 1.0))
    kept = [shed_steps(fails(case, "alternator", meter_error=error))[0][0].kept.k for error in (0.0, 0.25)]
    assert kept[0] == 3
    assert 0 < kept[1] < 3


def test_sun_is_what_the_controllers_offer_in_a_day() -> None:
    sun = sun_wh_per_day(fails(make_case(sun_of_members=(0.5, 1.0, 1.5)), "alternator"))
    assert (sun.planned, sun.p50) == pytest.approx((4800.0, 4800.0))
    assert sun.p10 < sun.p50 < sun.p90


def test_no_more_is_shed_than_it_takes() -> None:
    steps, enough = shed_steps(fails(make_case(sun_of_members=(1.0, 1.0, 1.0)), "alternator"))
    assert enough
    assert in_order(steps) == [()]
    few, enough = shed_steps(fails(make_case(sun_of_members=(0.8, 0.8, 0.8)), "alternator"))
    assert enough
    assert in_order(few) == [(), ("watermaker",)]


def test_each_turn_leaves_her_no_worse() -> None:
    steps, _ = shed_steps(fails(make_case(sun_of_members=(0.0, 0.1, 0.2, 0.6)), "alternator"))
    for before, after in pairwise(steps):
        assert after.draws_wh_per_day < before.draws_wh_per_day
        assert after.kept.k >= before.kept.k
        assert after.lit.k >= before.lit.k
        assert after.lit_h_per_day >= before.lit_h_per_day
        assert after.gained_h >= 0.0


def test_a_bank_off_the_bus_is_lit_by_the_sun_alone() -> None:
    """400 W from 06:00 to 18:00 carry 200 W of loads just so long, each day."""
    steps, enough = shed_steps(fails(make_case(sun_of_members=(1.0, 1.0, 1.0)), "bank"))
    assert not enough
    assert all(step.lit_h_per_day == pytest.approx(12.0) for step in steps)
    assert all(step.lasts.lights_out_h == pytest.approx(10.0) for step in steps)  # from 08:00 on
    dull, _ = shed_steps(fails(make_case(sun_of_members=(0.3, 0.3, 0.3)), "bank"))  # 120 W
    assert [step.lit_h_per_day for step in dull] == pytest.approx([0.0, 0.0, 12.0])


def test_a_vital_load_is_never_shed_whatever_its_order() -> None:
    boat = make_boat().model_copy(update={"load": NIGHTLY})
    case = make_case(boat=boat, sun_of_members=(0.0, 0.0))
    steps, enough = shed_steps(fails(case, "alternator"))
    assert not enough
    assert in_order(steps) == [(), ("fridge",)]


def test_lithium_and_lead_are_told_their_own_first_action() -> None:
    lead = make_boat().model_copy(update={"bank": BANK.model_copy(update={"chemistry": "agm"})})
    for kind in ("bank", "meter"):
        failure = Failure(kind)  # type: ignore[arg-type]
        assert first_action(failure, lead) != first_action(failure, make_boat())
    inputs = inputs_of(make_passage(), make_boat())
    meter = assumed_of(Failure("meter"), without(inputs, [Failure("meter")]))
    assert meter.figures["error"] == pytest.approx(0.10)
    arch = assumed_of(Failure("controller", ("arch",)), inputs)
    assert arch.figures["panels"] == ["arch port", "arch starboard"]


def test_a_member_that_does_not_arrive_reaches_no_landfall() -> None:
    case = make_case(sun_of_members=(1.0, 1.0, 1.0))
    lost = replace(case.course, track=case.track.assign_attrs(arrival=""))
    failing = replace(fails(case, "alternator"), courses=[lost])
    steps, enough = shed_steps(failing)
    assert steps[0].lit.k == 0
    assert steps[0].kept.k == 3
    assert not enough
