"""How a log is to be read: offsets as they are written, headings under known names."""

from __future__ import annotations

from datetime import timedelta

import pytest
from pydantic import ValidationError

from planner.domain.inputs.log_mapping import LogMapping, as_headings, fixed_offset


@pytest.mark.parametrize(
    ("zone", "minutes"),
    [("utc", 0), ("+12:00", 720), ("-3:30", -210), ("+05:45", 345), ("ship", None), ("+15:00", None), ("12:00", None),
     ("+12", None), (None, None)],
)  # fmt: skip
def test_an_offset_is_read_with_its_sign(zone: str | None, minutes: int | None) -> None:
    assert fixed_offset(zone) == (None if minutes is None else timedelta(minutes=minutes))


def test_one_heading_and_several_are_both_a_tuple() -> None:
    assert as_headings("V") == ("V",)
    assert as_headings(("V", "Volts")) == ("V", "Volts")


def test_every_heading_that_is_named_is_listed() -> None:
    mapping = LogMapping(
        columns={"time": "When", "bank_voltage_v": ("V", "Volts")}, controllers={"arch": "W"}, ignore=("note",)
    )
    assert mapping.headings() == ("When", "V", "Volts", "W", "note")


def test_what_is_not_read_and_what_is_no_clock_are_refused_with_what_is_allowed() -> None:
    with pytest.raises(ValidationError, match="'tide' is nothing that is read"):
        LogMapping(columns={"tide": "T"})
    with pytest.raises(ValidationError, match="'noon' is no clock"):
        LogMapping(time_zone="noon")
