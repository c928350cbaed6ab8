"""A clock that is put on or back under way: from the very moment of the change on it shows the other time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from planner.domain.ship_clock import ShipClock, clock_from, offset_at

NOON = datetime(2027, 5, 10, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
CLOCK = ShipClock(timedelta(hours=12), ((NOON, timedelta(hours=11)), (NOON + DAY, timedelta(hours=-13))))


def test_each_offset_holds_from_its_moment_on() -> None:
    instant = timedelta(seconds=1)
    assert [CLOCK.at(NOON - instant), CLOCK.at(NOON), CLOCK.at(NOON + DAY - instant), CLOCK.at(NOON + DAY)] == [
        timedelta(hours=hours) for hours in (12, 11, 11, -13)
    ]


def test_added_to_a_moment_it_gives_ships_time() -> None:
    assert NOON + timedelta(hours=11) == NOON + CLOCK
    assert NOON - DAY + timedelta(hours=12) == NOON - DAY + CLOCK


def test_a_naive_moment_is_utc() -> None:
    assert CLOCK.at(NOON.replace(tzinfo=None)) == timedelta(hours=11)


def test_a_fixed_offset_is_the_same_at_any_moment() -> None:
    fixed = clock_from(9.5, [])
    assert fixed == timedelta(hours=9, minutes=30)
    assert offset_at(fixed, NOON) == fixed


def test_a_clock_is_made_from_hours() -> None:
    assert clock_from(12.0, [(NOON, 11.0), (NOON + DAY, -13.0)]) == CLOCK
    assert offset_at(CLOCK, NOON) == timedelta(hours=11)
