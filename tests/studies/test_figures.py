"""A variant beside the base: figures over members, and differences paired member by member."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from study_case import demo_plan

from planner.domain.results.figures import ReserveKept
from planner.domain.results.studies import Figures
from planner.studies.figures import QUANTITIES, Outcome, difference_of, failed_row, outcome_of, row_of, spread_of

START = datetime(2027, 5, 9, 12, 0, tzinfo=UTC)
MEMBERS = np.array([10.0, 20.0, 30.0, 40.0, 50.0])


def outcome(values: np.ndarray = MEMBERS, planned: float = 33.0) -> Outcome:
    rows = np.append(values, planned)
    return Outcome(
        **{name: rows.copy() for name in (*QUANTITIES, "offered_wh")},
        reserve_kept=ReserveKept(kept=5, members=5, low=0.6, high=1.0, confidence=0.9),
        departure=START,
        arrival=START + timedelta(days=9),
        ship_offset=timedelta(hours=12),
    )


def test_the_last_row_is_the_planned_one_and_no_member() -> None:
    spread = spread_of(np.append(MEMBERS, 33.0))
    assert (spread.planned, spread.p10, spread.p50, spread.p90) == pytest.approx((33.0, 14.0, 30.0, 46.0))
    assert outcome().members == 5


def test_differences_are_paired_so_that_what_members_share_cancels() -> None:
    more = difference_of(outcome(MEMBERS + 2.0, 36.0), outcome(), "solar_wh")
    assert (more.planned, more.p10, more.p90) == pytest.approx((3.0, 2.0, 2.0))
    # the same figures in another order differ widely, member by member
    turned = difference_of(outcome(MEMBERS[::-1]), outcome(), "solar_wh")
    assert (turned.planned, turned.p10, turned.p50, turned.p90) == pytest.approx((0.0, -32.0, 0.0, 32.0))


def test_a_row_has_every_figure_and_every_difference() -> None:
    row = row_of("twice", outcome(2.0 * MEMBERS, 66.0), outcome())
    assert row.figures is not None
    assert row.difference is not None
    for each in fields(Figures):
        assert getattr(row.figures, each.name).p50 == pytest.approx(60.0)
        assert getattr(row.difference, each.name).p50 == pytest.approx(30.0)
    assert row.arrival == START + timedelta(days=9)


def test_another_number_of_members_cannot_be_paired() -> None:
    row = row_of("other forecast", outcome(MEMBERS[:3]), outcome())
    assert row.figures is None
    assert row.failure == "its forecast has 3 members, the base's 5."
    assert failed_row("none", "why") == replace(row, name="none", failure="why")


def test_members_sail_their_own_tracks_where_the_plan_does() -> None:
    plan, found = demo_plan(), outcome_of(demo_plan())
    assert plan.own_tracks is not None
    for name, own in (
        ("engine_h", plan.own_tracks.engine_hours),
        ("charging_h", plan.own_tracks.charging_hours),
        ("fuel_l", plan.own_tracks.fuel_l),
        ("min_soc", plan.own_tracks.min_soc),
        ("arrival_soc", plan.own_tracks.arrival_soc),
    ):
        spread = spread_of(getattr(found, name))
        assert (spread.p10, spread.p50, spread.p90) == pytest.approx((own.p10, own.p50, own.p90)), name
    assert found.charging_h[-1] == pytest.approx(plan.charging_hours.planned)
    assert found.passage_h[-1] == pytest.approx((plan.arrival - plan.passage.departure).total_seconds() / 3600.0)
    assert np.ptp(found.passage_h[:-1]) > 0.0


def test_the_lowest_charge_may_be_that_of_arrival() -> None:
    plan = demo_plan()
    ends = plan.planned["bank_soc_end"]
    flat = plan.planned.assign(bank_soc_end=(ends.dims, 0.0 * ends.values, ends.attrs))
    found = outcome_of(replace(plan, voyage=replace(plan.voyage, planned=flat)))
    assert found.min_soc[-1] == found.arrival_soc[-1] == 0.0
