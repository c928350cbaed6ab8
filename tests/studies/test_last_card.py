"""The last plan's ladders by the clock of a later one, and whether the crew may go on by them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import cast

import numpy as np
import pytest
import xarray as xr

from planner.domain.policy import Policy, StandingOrder
from planner.domain.results.figures import ReserveKept
from planner.domain.results.replan import LastCard, LastLadder, LastPlan
from planner.presentation.pages.replan import card_sentence
from planner.studies.replan.last_card import policy_of

START = datetime(2027, 5, 8, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)
EVENING = LastLadder(START, START + 12 * HOUR, ((60, 0), (40, 30), (0, 90)), 80)
MORNING = LastLadder(START + 12 * HOUR, START + 24 * HOUR, ((50, 0), (0, 60)), 95)
NEXT_EVENING = LastLadder(START + 24 * HOUR, START + 36 * HOUR, ((70, 0), (0, 120)), 85)


class _Last:
    ladders = (EVENING, MORNING, NEXT_EVENING)
    standing = (33, 45)


LAST = cast("LastPlan", _Last)
TRACK = xr.Dataset(
    coords={"time": np.datetime64("2027-05-09T02:00", "ns") + np.arange(60) * np.timedelta64(1, "h")},
    attrs={"step_s": 3600.0},
)
EVERYWHERE = np.ones((2, 60), dtype=np.bool_)
ANEW = Policy(
    first_step=np.array([0, 6, 18, 30, 42]),
    end_step=np.array([6, 18, 30, 42, 60]),
    minutes=np.zeros((5, 101), dtype=np.int64),
    stop_soc=np.full(5, 0.7),
    allowed=EVERYWHERE,
    standing=StandingOrder(31, 40, EVERYWHERE),
)


def test_a_watch_has_the_ladder_in_force_as_it_begins_and_past_the_end_that_of_the_same_time_a_day_before() -> None:
    policy = policy_of(LAST, ANEW, TRACK)
    assert policy.minutes[:, 0].tolist() == [90, 60, 120, 60, 120]
    assert policy.stop_soc.tolist() == [0.80, 0.95, 0.85, 0.95, 0.85]
    assert policy.minutes[0, [39, 40, 59, 60, 100]].tolist() == [90, 30, 30, 0, 0]
    assert policy.allowed is ANEW.allowed
    assert policy.standing is not None
    assert (policy.standing.start_percent, policy.standing.stop_percent) == (33, 45)


def test_a_boat_that_may_start_for_nothing_has_no_standing_order_of_the_last_plan() -> None:
    assert policy_of(LAST, replace(ANEW, standing=None), TRACK).standing is None


def card(kept: int, anew: int, run_min: float, run_anew_min: float) -> LastCard:
    def of(count: int) -> ReserveKept:
        return ReserveKept(kept=count, members=21, low=0.0, high=1.0, confidence=0.9)

    return LastCard(of(kept), of(anew), run_min, run_anew_min)


@pytest.mark.parametrize(
    ("tried", "begins", "ends"),
    [
        (
            card(19, 20, 430.0, 405.0),
            "The last plan's card holds: from here it keeps the reserve in 19",
            "by it.",
        ),
        (card(17, 17, 430.0, 430.0), "The last plan's card holds:", "Go on by it."),  # no new one keeps it more often
        (card(20, 20, 465.0, 425.0), "The last plan's card holds, yet a new one saves engine:", "the old one."),
        (card(14, 19, 400.0, 430.0), "The last plan's card holds no longer:", "Strike out the old one."),
    ],
)
def test_the_crew_are_told_to_go_on_by_a_card_or_to_strike_it_out(tried: LastCard, begins: str, ends: str) -> None:
    said = card_sentence(tried)
    assert said.startswith(begins)
    assert said.endswith(ends)
