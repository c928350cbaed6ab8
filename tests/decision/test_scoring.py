"""Ladders that are given, tried on members and meters as the decision tries its own."""

from __future__ import annotations

import pytest
from decision_case import decision_for
from synthetic_ensemble import BANK, ENGINE, WISHES, make_ensemble

from planner.decision.policy.decide import Decision
from planner.decision.policy.scoring import meters_of, try_out
from planner.domain.results.figures import ReserveKept

PLANNING = make_ensemble(seed=4, days=4.0, members=12)


@pytest.fixture(scope="module")
def decision() -> Decision:
    return decision_for(PLANNING)


def tried(decision: Decision, *, meter_error: float, seed: int = 0) -> tuple[ReserveKept, float]:
    wishes = WISHES.model_copy(update={"meter_error": meter_error})
    return try_out(
        decision.policy, [PLANNING.course], bank=BANK, engine=ENGINE, wishes=wishes, start_soc=0.9, seed=seed
    )


def test_a_worse_meter_keeps_the_reserve_for_fewer(decision: Decision) -> None:
    kept = [tried(decision, meter_error=error)[0].kept for error in (0.01, 0.03, 0.10)]
    assert kept[0] >= kept[1] > kept[2]


def test_the_printed_ladders_come_out_as_the_decision_found_them(decision: Decision) -> None:
    """On the meters that the decision told its share by, members held out aside."""
    kept, run_min = tried(decision, meter_error=WISHES.meter_error, seed=1)
    assert kept.members == decision.reserve_kept.members
    assert kept.kept >= decision.reserve_kept.kept
    assert run_min == pytest.approx(decision.expected_run_min, rel=0.15)


@pytest.mark.parametrize(("members", "trials"), [(1, 20), (12, 156), (51, 153)])
def test_few_members_are_tried_with_more_meters(members: int, trials: int) -> None:
    assert meters_of(members, sd=0.02, seed=3).size == trials
