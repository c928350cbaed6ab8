"""The passage hour by hour: clock, means, nights and engine of the invented plan."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from plan_fixture import DEPARTURE, SHIP_OFFSET, STEPS, make_plan

from planner.domain.ship_clock import ShipClock
from planner.presentation.drawing.plots import engine_runs
from planner.presentation.words.hours import PassageHours, clock_changes, engine_words, hours_of, nights, spans

NOON = datetime(2027, 5, 10, 12, 0)  # noqa: DTZ001  # naive moments are UTC here


def hours_by_hand(*, steps: int = 14, start: datetime = NOON) -> PassageHours:
    """Steps of ten minutes; the last hour holds two of them alone."""
    return PassageHours(start, timedelta(hours=12), 1.0 / 6.0, steps, np.arange(0, steps, 6), last_day=1)


def test_edges_are_whole_hours_and_the_arrival() -> None:
    assert hours_by_hand().edges_h == pytest.approx([0.0, 1.0, 2.0, 14.0 / 6.0])


def test_a_last_part_of_an_hour_has_the_mean_of_its_own_steps() -> None:
    assert hours_by_hand().mean(np.arange(14.0)) == pytest.approx([2.5, 8.5, 12.5])


def test_days_are_counted_from_departure_and_end_as_the_plan_counts_them() -> None:
    hours = PassageHours(NOON, timedelta(), 1.0, 52, np.arange(52), last_day=2)
    assert [hours.day(at) for at in (0.0, 23.99, 24.0, 51.0)] == [1, 1, 2, 2]  # four hours over are no third day


def test_names_give_day_and_ships_time() -> None:
    assert hours_by_hand().names()[:2] == ["Day 1, Tue 11 May 00:00", "Day 1, Tue 11 May 01:00"]


@pytest.mark.parametrize("moment", [NOON + timedelta(hours=3), datetime(2027, 5, 10, 15, tzinfo=UTC)])
def test_a_moment_is_told_in_hours_since_the_first_step(moment: datetime) -> None:
    assert hours_by_hand().since_start(moment) == 3.0


def test_a_moment_of_another_zone_is_the_same_moment() -> None:
    ahead = datetime(2027, 5, 11, 3, tzinfo=timezone(timedelta(hours=12)))
    assert hours_by_hand().since_start(ahead) == 3.0


def test_clock_changes_are_in_hours_of_the_passage_and_those_before_it_are_left_out() -> None:
    begun = NOON.replace(tzinfo=UTC)
    later = (
        (begun - timedelta(hours=5), timedelta(hours=11)),
        (begun + timedelta(hours=30), timedelta(hours=12)),
        (begun + timedelta(hours=60), timedelta(hours=-12)),
    )
    assert clock_changes(NOON, ShipClock(timedelta(hours=10), later)) == ((30.0, 1.0), (60.0, -24.0))
    assert clock_changes(NOON, timedelta(hours=12)) == ()


@pytest.mark.parametrize(
    ("flags", "found"),
    [
        ([], ()),
        ([False, False], ()),
        ([True, True], ((0.0, 1.0),)),
        ([False, True, True, False, True], ((0.5, 1.5), (2.0, 2.5))),
    ],
)
def test_spans_run_from_the_first_flag_to_the_end_of_the_last(flags: list[bool], found: tuple[object, ...]) -> None:
    assert spans(np.array(flags, dtype=bool), 0.5) == found


def test_the_plans_clock_is_that_of_its_track() -> None:
    hours = hours_of(make_plan())
    assert hours.start == DEPARTURE.replace(tzinfo=None)
    assert (hours.offset, hours.steps, hours.last_day) == (SHIP_OFFSET, STEPS, 7)
    assert hours.total_h == 168.0
    assert hours.first_steps[:3].tolist() == [0, 6, 12]


def test_nights_are_where_the_sun_is_down() -> None:
    plan = make_plan()
    dark = sum(end - start for start, end in nights(plan, hours_of(plan)))
    assert dark == pytest.approx(float((plan.harvest["sun_elevation_deg"] < 0.0).sum()) / 6.0)
    assert len(nights(plan, hours_of(plan))) == 7  # one each day, departure is by day


def test_engine_runs_are_the_plans_windows_told_apart_by_what_they_do() -> None:
    plan = make_plan()
    runs = engine_runs(plan, hours_of(plan))
    assert len(runs) == len(plan.windows)
    for run, window in zip(runs, plan.windows, strict=True):
        assert run.start_h == (window.start - DEPARTURE) / timedelta(hours=1)
        assert run.stop_h == (window.stop - DEPARTURE) / timedelta(hours=1)
    assert {run.css for run in runs if run.start_h == 100.0} == {"drives"}  # the calm


def test_each_hour_that_an_engine_run_touches_says_so() -> None:
    plan = make_plan()
    words = engine_words(plan, hours_of(plan))
    calm = next(window for window in plan.windows if window.propels)
    assert [word.startswith("drives 12:00") for word in words[100:106]] == [True] * 6  # 100 h after 08:00
    assert calm.stop - calm.start == timedelta(hours=6)
    touched = sum(bool(word) for word in words)
    running = plan.planned["engine_on"].values[0].astype(bool).reshape(-1, 6).any(axis=1).sum()
    assert touched == running
