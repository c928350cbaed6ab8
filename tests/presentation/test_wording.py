"""Figures as a crew reads them, against what the words must say."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from plan_fixture import make_plan, with_inputs

from planner.domain.results.bill import Rung, Stop
from planner.domain.results.figures import Spread
from planner.domain.ship_clock import ShipClock
from planner.presentation.words.wording import (
    EN_DASH,
    MINUS,
    NO_BREAK,
    bearing,
    boat_file_words,
    clock,
    date_words,
    duration,
    duration_span,
    ladder_lines,
    latitude,
    longitude,
    moment_words,
    offset_words,
    percent,
    percent_span,
    ship_clock,
    stop_lines,
    tens,
    whole,
)

NEW_YEAR = datetime(2027, 12, 31, 23, 0, tzinfo=UTC)
AHEAD = timedelta(hours=12)


def plain(text: str) -> str:
    """Return words with the typesetter's blanks and dashes as a keyboard has them."""
    return text.replace(NO_BREAK, " ").replace(EN_DASH, "-").replace(MINUS, "-").replace("\N{THIN SPACE}", " ")


@pytest.mark.parametrize(("fraction", "words"), [(0.0, "0 %"), (0.424, "42 %"), (0.996, "100 %"), (1.0, "100 %")])
def test_a_fraction_is_shown_in_whole_percent(fraction: float, words: str) -> None:
    assert plain(percent(fraction)) == words


@pytest.mark.parametrize(("low", "high", "words"), [(0.34, 0.47, "34-47 %"), (0.401, 0.399, "40 %")])
def test_a_span_that_rounds_to_one_figure_is_one(low: float, high: float, words: str) -> None:
    assert plain(percent_span(Spread(0.4, low, 0.4, high))) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [(1234567.4, "1 234 567"), (-0.4, "0"), (-1234.0, "-1 234"), (999.5, "1 000"), (12.0, "12")],
)
def test_whole_numbers_are_parted_by_thousands_and_nought_has_no_sign(value: float, words: str) -> None:
    assert plain(whole(value)) == words


def test_watt_hours_are_read_in_tens() -> None:
    assert [tens(1236.0), tens(-14.0), tens(4.0)] == [whole(1240), whole(-10), "0"]


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.0, "none"),
        (2.4, "none"),
        (2.6, "5 min"),
        (57.4, "55 min"),
        (58.0, "1 h"),
        (92.0, "1 h 30"),
        (123.0, "2 h 05"),
    ],
)
def test_minutes_are_rounded_to_five(minutes: float, words: str) -> None:
    assert plain(duration(minutes)) == words


def test_a_span_of_hours_is_one_where_both_ends_read_alike() -> None:
    assert plain(duration_span(Spread(1.0, 0.5, 1.0, 1.5))) == "30 min to 1 h 30"
    assert plain(duration_span(Spread(1.0, 0.99, 1.0, 1.01))) == "1 h"


@pytest.mark.parametrize(
    ("rungs", "lines"),
    [
        ([(65, 0), (55, 60), (0, 120)], [("65 % or more", "no run"), ("55-64 %", "1 h"), ("below 55 %", "2 h")]),
        ([(0, 120), (55, 60), (65, 0)], [("65 % or more", "no run"), ("55-64 %", "1 h"), ("below 55 %", "2 h")]),
        ([(56, 0), (55, 60), (0, 120)], [("56 % or more", "no run"), ("55 %", "1 h"), ("below 55 %", "2 h")]),
        ([(70, 60), (60, 60), (0, 90)], [("60 % or more", "1 h"), ("below 60 %", "1 h 30")]),
        ([(40, 30), (0, 30)], [("any", "30 min")]),
    ],
)
def test_a_ladder_gives_readings_from_high_to_low_and_joins_what_agrees(
    rungs: list[tuple[int, int]], lines: list[tuple[str, str]]
) -> None:
    read = ladder_lines([Rung(from_percent, minutes) for from_percent, minutes in rungs])
    assert [(plain(readings), plain(action)) for readings, action in read] == lines


def test_a_run_stops_at_the_first_of_three() -> None:
    assert [plain(line) for line in stop_lines(Stop(85, 62, 8))] == ["85 %", "62 Ah in", "8 A tail"]


@pytest.mark.parametrize(("degrees", "words"), [(7.4, "007"), (359.6, "000"), (-10.0, "350"), (123.0, "123")])
def test_a_bearing_has_three_figures(degrees: float, words: str) -> None:
    assert bearing(degrees) == f"{words}\N{DEGREE SIGN}"


@pytest.mark.parametrize(
    ("lat", "lon", "words"),
    [
        (-35.3117, 174.1233, ("35\N{DEGREE SIGN}19\N{PRIME} S", "174\N{DEGREE SIGN}07\N{PRIME} E")),
        (5.999, -179.995, ("06\N{DEGREE SIGN}00\N{PRIME} N", "180\N{DEGREE SIGN}00\N{PRIME} W")),
        (0.0, 185.5, ("00\N{DEGREE SIGN}00\N{PRIME} N", "174\N{DEGREE SIGN}30\N{PRIME} W")),
    ],
)
def test_a_place_is_in_degrees_and_whole_minutes(lat: float, lon: float, words: tuple[str, str]) -> None:
    assert (plain(latitude(lat)), plain(longitude(lon))) == words


def test_ships_time_is_utc_and_the_offset_and_turns_the_date_with_it() -> None:
    assert clock(NEW_YEAR, AHEAD) == "11:00"
    assert date_words(NEW_YEAR, AHEAD) == "Sat 1 Jan"
    assert moment_words(NEW_YEAR, -AHEAD) == "Fri 31 Dec 11:00"


@pytest.mark.parametrize(("minute", "second", "shown"), [(2, 29, "00"), (2, 30, "05"), (57, 31, "00"), (5, 0, "05")])
def test_ships_time_is_rounded_to_five_minutes_half_up(minute: int, second: int, shown: str) -> None:
    assert clock(NEW_YEAR.replace(minute=minute, second=second), timedelta()).split(":")[1] == shown


def test_a_moment_in_any_zone_is_the_same_and_a_naive_one_is_utc() -> None:
    elsewhere = NEW_YEAR.astimezone(timezone(timedelta(hours=-5)))
    assert ship_clock(elsewhere, AHEAD) == ship_clock(NEW_YEAR, AHEAD) == ship_clock(
        NEW_YEAR.replace(tzinfo=None), AHEAD
    )  # fmt: skip


@pytest.mark.parametrize(
    ("offset", "words"),
    [
        (timedelta(hours=12), "UTC+12"),
        (timedelta(), "UTC+0"),
        (timedelta(hours=-3, minutes=-30), "UTC-3:30"),
        (ShipClock(timedelta(hours=12), ((NEW_YEAR, timedelta(hours=-12)),)), "UTC+12, then UTC-12"),
    ],
)
def test_the_offset_is_said_as_a_crew_writes_it(offset: timedelta, words: str) -> None:
    assert plain(offset_words(offset)) == words


def test_the_boat_file_is_named_without_its_folder_and_with_the_start_of_its_checksum() -> None:
    plan = make_plan()
    aboard = plan.passage.model_copy(update={"boat": "somewhere/boat.toml"})
    assert boat_file_words(with_inputs(plan, passage=aboard)) == f"boat.toml (SHA-256 {'b' * 12})"
    assert boat_file_words(with_inputs(plan, passage=aboard, files={})) == "boat.toml"
