"""The calendar: what it holds, and that the same plan gives the same bytes."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Event
from plan_fixture import make_plan

from planner.presentation.files.calendar import ENGINE_ALARM, WATCH_ALARM, to_calendar


def events(kind: str) -> list[Event]:
    calendar = Calendar.from_ical(to_calendar(make_plan()))
    return [event for event in calendar.walk("VEVENT") if event.categories == [kind]]


def test_every_watch_and_engine_run_is_an_event_with_its_times() -> None:
    plan = make_plan()
    assert [(e.start, e.end) for e in events("watch")] == [(row.start, row.end) for row in plan.watches]
    assert [(e.start, e.end) for e in events("engine")] == [(w.start, w.stop) for w in plan.windows]


def test_alarms_ring_before_the_event() -> None:
    for kind, before in (("watch", WATCH_ALARM), ("engine", ENGINE_ALARM)):
        for event in events(kind):
            (alarm,) = event.walk("VALARM")
            assert alarm["trigger"].dt == before < timedelta(0)


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert to_calendar(make_plan()) == to_calendar(make_plan())


def test_the_stamp_changes_nothing_but_itself() -> None:
    later = to_calendar(make_plan(), stamp=datetime(2026, 5, 1, 6, 30, tzinfo=UTC))
    assert b"DTSTAMP:20260501T063000Z" in later
    assert later.replace(b"DTSTAMP:20260501T063000Z", b"DTSTAMP:20260509T200000Z") == to_calendar(make_plan())


def test_words_give_ships_time_and_the_ladder() -> None:
    first = events("watch")[0]
    assert "ship's time 08:00 to 12:00 (UTC+12)" in first["description"]
    assert "65 % or more no run / 55-64 % 1 h / below 55 % 2 h" in first["description"]
    assert first["summary"] == "Watch: hand"


def test_runs_that_drive_are_named_apart() -> None:
    names = [event["summary"] for event in events("engine")]
    assert any(name.startswith("Under engine, 6 h") for name in names)
    assert any(name.startswith("Engine to charge, 1 h") for name in names)
