"""Watches past the arrival of the track that is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from bill_case import STEPS, make_case

from planner.decision.bill.ladders.later import later_watches


def longer(hours: float):  # type: ignore[no-untyped-def]
    """The case, and its policy with watches of four hours for so many hours more."""
    case = make_case()
    policy = case.policy
    more = np.arange(STEPS, STEPS + round(6 * hours), 24)
    return case, replace(
        policy,
        first_step=np.append(policy.first_step, more),
        end_step=np.append(policy.end_step, np.minimum(more + 24, STEPS + round(6 * hours))),
        minutes=np.vstack([policy.minutes, np.tile(np.where(np.arange(101) < 60, 90, 0), (more.size, 1))]),
        stop_soc=np.append(policy.stop_soc, np.full(more.size, 0.8)),
    )


def test_none_where_nobody_comes_later() -> None:
    case = make_case()
    assert later_watches(case, case.policy) == ()


def test_each_has_its_hours_ladder_and_stop() -> None:
    rows = later_watches(*longer(9.0))
    case = make_case()
    assert [(row.start, row.end) for row in rows] == [
        (case.at(STEPS), case.at(STEPS + 24)),
        (case.at(STEPS + 24), case.at(STEPS + 48)),
        (case.at(STEPS + 48), case.at(STEPS + 54)),
    ]
    assert [(rung.from_percent, rung.minutes) for rung in rows[0].ladder] == [(60, 0), (0, 90)]
    assert rows[0].stop_percent == 80


def test_a_watch_cut_by_the_drawn_arrival_goes_on() -> None:
    case, policy = longer(8.0)
    end = policy.end_step.copy()
    end[len(case.policy.end_step) - 1] += 6
    first = later_watches(case, replace(policy, end_step=end))[0]
    assert (first.start, first.end) == (case.at(STEPS), case.at(STEPS + 6))
