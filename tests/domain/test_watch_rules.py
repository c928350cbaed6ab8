"""Watches fill the day: gaps and overlaps are told with their hours."""

from __future__ import annotations

import pytest

from planner.domain.inputs.passage import Watch
from planner.domain.inputs.watch_rules import clock_time, minute_of_day, span_minutes, watch_faults


def problems(*spans: tuple[str, str]) -> list[str]:
    watches = [Watch(start=start, end=end, role="mate") for start, end in spans]
    return [fault.problem for fault in watch_faults(watches, "passage.toml")]


@pytest.mark.parametrize(("clock", "minute"), [("00:00", 0), ("06:30", 390), ("23:59", 1439)])
def test_minutes_and_clock_are_each_others_reverse(clock: str, minute: int) -> None:
    assert minute_of_day(clock) == minute
    assert clock_time(minute) == clock


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [("08:00", "12:00", 240), ("22:00", "02:00", 240), ("04:00", "04:00", 1440), ("20:00", "00:00", 240)],
)
def test_a_span_may_pass_midnight_and_equal_ends_are_the_whole_day(start: str, end: str, minutes: int) -> None:
    assert span_minutes(start, end) == minutes


@pytest.mark.parametrize(
    "spans",
    [(("00:00", "00:00"),), (("20:00", "08:00"), ("08:00", "20:00")), (("18:00", "00:00"), ("00:00", "18:00"))],
)
def test_watches_that_fill_the_day_have_no_fault(spans: tuple[tuple[str, str], ...]) -> None:
    assert problems(*spans) == []


def test_a_gap_is_told_with_its_hours() -> None:
    assert problems(("00:00", "11:00"), ("12:30", "00:00")) == ["nobody is on watch 11:00-12:30 ship's time."]


def test_an_overlap_is_told_with_its_hours_and_how_many_stand() -> None:
    assert problems(("00:00", "14:00"), ("12:00", "00:00")) == ["2 watches overlap 12:00-14:00 ship's time."]


def test_a_gap_across_midnight_is_told_on_either_side() -> None:
    assert problems(("01:00", "23:00")) == [
        "nobody is on watch 00:00-01:00 ship's time.",
        "nobody is on watch 23:00-00:00 ship's time.",
    ]
