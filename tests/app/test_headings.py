"""The fan's moment, hours and step: what is read, and what is refused."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from coarse_demo import coarse_inputs, quietly

from planner.app.headings import fan_of
from planner.app.moments import read_moment
from planner.domain.errors import InputError

DEPARTURE = datetime.fromisoformat("2027-05-09T10:00:00+12:00")
OFFSET = timedelta(hours=12)


def moment(text: str) -> datetime:
    return read_moment(text, option="--at", departure=DEPARTURE, ship_offset=OFFSET)


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


def test_a_moment_after_arrival_is_refused_with_the_passage() -> None:
    with pytest.raises(InputError, match="is outside the passage, Sun 09 May 10:00 to"):
        fan_of(coarse_inputs(), at="2027-06-10T09:00:00+12:00", progress=quietly)


def test_hours_and_step_are_refused_together() -> None:
    with pytest.raises(InputError) as caught:
        fan_of(coarse_inputs(), hours=0.0, step_deg=0.5, at="soon", progress=quietly)
    assert [fault.where for fault in caught.value.faults] == ["--hours", "--step", "--at"]


def test_departure_is_the_default_and_hours_end_at_arrival() -> None:
    fan = fan_of(coarse_inputs(), hours=1.0, step_deg=60.0, progress=quietly)
    assert fan.start == DEPARTURE
    assert fan.hours == 1.0
