"""The fan's moment, hours and step: what is read, and what is refused."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from coarse_demo import coarse_inputs

from planner.app.typed_values import moment_of, read_moment
from planner.app.verbs.headings import headings
from planner.domain.errors import InputError
from planner.domain.ship_clock import ShipClock
from planner.flow.recall import Recall

DEPARTURE = datetime.fromisoformat("2027-05-09T10:00:00+12:00")
OFFSET = timedelta(hours=12)
BOTH = Recall(depth=2)  # the demo with a sound engine and without


def moment(text: str) -> datetime:
    return moment_of(read_moment(text, option="--at"), departure=DEPARTURE, ship_offset=OFFSET)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2027-05-10T09:00:00+12:00", "2027-05-09T21:00"),
        ("2027-05-09T21:00Z", "2027-05-09T21:00"),
        ("10:00", "2027-05-08T22:00"),
        ("09:00", "2027-05-09T21:00"),
        ("day 3 09:00", "2027-05-11T21:00"),
        ("day 3 12:30", "2027-05-11T00:30"),
    ],
)
def test_moments_are_read(text: str, utc: str) -> None:
    assert moment(text) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2027-05-10T09:00:00", "no offset from UTC"),
        ("tomorrow", "is no moment"),
        ("25:00", "is no moment"),
        ("day 0 09:00", "counted from 1"),
    ],
)
def test_what_is_no_moment_is_refused(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        moment(text)


def by_clock(text: str, *, put_on_h: float) -> datetime:
    """The clock is changed on the second day at 16:00 by the old one."""
    change = DEPARTURE.astimezone(UTC) + timedelta(hours=30)
    clock = ShipClock(OFFSET, ((change, OFFSET + timedelta(hours=put_on_h)),))
    return moment_of(read_moment(text, option="--at"), departure=DEPARTURE, ship_offset=clock)


@pytest.mark.parametrize(
    ("text", "put_on_h", "utc"),
    [
        ("day 2 11:00", -1.0, "2027-05-09T23:00"),  # before the change
        ("day 2 15:30", -1.0, "2027-05-10T03:30"),  # shown twice: the first
        ("day 3 09:00", -1.0, "2027-05-10T22:00"),
        ("day 3 09:30", 1.0, "2027-05-11T20:30"),
        ("day 2 16:30", 1.0, "2027-05-11T03:30"),  # left out: as it is the day after
        ("day 3 09:00", -24.0, "2027-05-11T21:00"),
    ],
)
def test_a_ships_time_is_that_of_the_clock_at_its_own_moment(text: str, put_on_h: float, utc: str) -> None:
    assert by_clock(text, put_on_h=put_on_h) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


def test_a_moment_after_arrival_is_refused_with_the_passage() -> None:
    with pytest.raises(InputError, match="is outside the passage, Sun 09 May 10:00 to"):
        headings(coarse_inputs(), at="2027-06-10T09:00:00+12:00", recall=BOTH)


def test_hours_and_step_are_refused_together() -> None:
    with pytest.raises(InputError) as caught:
        headings(coarse_inputs(), hours=0.0, step_deg=0.5, at="soon")
    assert [fault.where for fault in caught.value.faults] == ["--hours", "--step", "--at"]


def test_departure_is_the_default_and_hours_end_at_arrival() -> None:
    fan = headings(coarse_inputs(), hours=1.0, step_deg=60.0, recall=BOTH)
    assert fan.start == DEPARTURE
    assert fan.hours == 1.0


def test_an_engine_out_of_service_drives_on_no_heading() -> None:
    """In the light air of the fifth night, in which a sound engine drives on every heading near the planned one."""
    fan = headings(coarse_inputs(boat__engine__available=False), at="day 5 21:00", step_deg=30.0, recall=BOTH)
    assert {option.engine_driving_h for option in fan.options} == {0.0}
    sound = headings(coarse_inputs(), at="day 5 21:00", step_deg=30.0, recall=BOTH)
    assert max(option.engine_driving_h for option in sound.options) > 1.0
    # she drifts on at what the polar gives in so little wind
    assert fan.planned.speed_kn < sound.planned.speed_kn - 1.0


def test_nearer_the_wind_than_she_sails_no_heading_is_held_but_under_engine() -> None:
    fans = [
        headings(
            coarse_inputs(boat__engine__available=sound), at="day 4 09:00", hours=1.0, step_deg=15.0, recall=BOTH
        )
        for sound in (True, False)
    ]
    nearest = [min(abs(option.true_wind_angle_deg) for option in fan.options) for fan in fans]
    assert nearest[0] < 10.0
    assert nearest[1] > 44.0
