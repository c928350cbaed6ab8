"""Rows of weather typed by hand: what each word is taken for, and the message for each fault."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from pydantic import ValidationError

from planner.domain.inputs.hand_weather import POINTS, WeatherRow, in_order

ROW: dict[str, Any] = {"from": "2027-05-09T10:00:00+12:00", "sky": "broken", "wind_from": "SE", "wind_kn": 18.0}


def row(**changes: Any) -> WeatherRow:
    kept = {key: value for key, value in (ROW | changes).items() if value is not None}
    return WeatherRow.model_validate(kept)


def refused(**changes: Any) -> tuple[str, str, str]:
    """Key, problem and remedy of the one fault."""
    with pytest.raises(ValidationError) as caught:
        row(**changes)
    (error,) = caught.value.errors()
    said = error.get("ctx", {})
    return ".".join(map(str, error["loc"])), said.get("problem", error["msg"]), said.get("remedy", "")


@pytest.mark.external(
    source="ICAO Annex 3, cloud amount: FEW 1-2, SCT 3-4, BKN 5-7, OVC 8", kind="standard", recalled=True
)
@pytest.mark.parametrize(
    ("sky", "fewest", "most"),
    [("clear", 0, 0), ("few", 1, 2), ("scattered", 3, 4), ("broken", 5, 7), ("overcast", 8, 8)],
)
def test_a_word_is_the_middle_of_its_oktas(sky: str, fewest: int, most: int) -> None:
    assert row(sky=sky).cover == (fewest + most) / 2.0 / 8.0


def test_oktas_are_eighths() -> None:
    assert row(sky=None, oktas=3).cover == 0.375


@pytest.mark.parametrize("number", range(16))
def test_each_point_of_the_compass_is_where_the_wind_blows_from(number: int) -> None:
    assert row(wind_from=POINTS[number]).blows_from_deg == 22.5 * number


@pytest.mark.parametrize(
    ("word", "degrees"),
    [
        ("se", 135.0),
        ("southeast", 135.0),
        ("South-East", 135.0),
        ("southeasterly", 135.0),
        ("NNW", 337.5),
        ("west", 270.0),
    ],
)
def test_a_direction_as_a_voice_says_it(word: str, degrees: float) -> None:
    assert row(wind_from=word).blows_from_deg == degrees


def test_a_direction_in_degrees() -> None:
    assert row(wind_from=None, wind_from_deg=120.0).blows_from_deg == 120.0


def test_a_row_may_leave_the_wind_to_a_file() -> None:
    assert row(wind_from=None, wind_kn=None).blows_from_deg is None


@pytest.mark.parametrize(
    ("changes", "key", "problem", "remedy"),
    [
        ({"oktas": 6}, "oktas", "the row has both sky and oktas.", 'Write sky = "broken", or oktas = 6.'),
        ({"sky": None}, "oktas", "the row has neither sky nor oktas.", 'Write sky = "broken", or oktas = 6.'),
        ({"sky": None, "oktas": 9}, "oktas", "the sky is obscured (WMO code table 2700)", "In fog write oktas = 8"),
        ({"sky": None, "oktas": 60}, "oktas", "60 is not 0 to 8.", "is it tenths, or percent?"),
        ({"sky": None, "oktas": -1}, "oktas", "-1 is not 0 to 8.", ""),
        ({"sky": "cloudy"}, "sky", "'clear', 'few', 'scattered', 'broken' or 'overcast'", ""),
        (
            {"wind_from": "variable"},
            "wind_from",
            "'variable' is no point of the compass.",
            "the direction it blows from",
        ),
        ({"wind_from": "SEE"}, "wind_from", "'SEE' is no point of the compass.", "Did you mean"),
        ({"wind_from_deg": 120.0}, "wind_from_deg", "both wind_from and wind_from_deg.", "Keep one of them."),
        ({"wind_from": None, "wind_from_deg": 400.0}, "wind_from_deg", "400 is not 0 to 360:", "blows from"),
        ({"wind_kn": None}, "wind_kn", "where the wind blows from, but not how hard.", "Add wind_kn."),
        ({"wind_from": None}, "wind_kn", "how hard it blows, but not from where.", "Add wind_from"),
        ({"air_temp_c": 290.0}, "air_temp_c", "290 is not -40 to 55:", "Is it in degrees Celsius?"),
        ({"until": "2027-05-09T09:00:00+12:00"}, "until", "is not after the row's from", "both offsets from UTC"),
    ],
)
def test_each_fault_of_a_row(changes: dict[str, Any], key: str, problem: str, remedy: str) -> None:
    found = refused(**changes)
    assert found[0] == key
    assert problem in found[1]
    assert remedy in found[2]


def rows_of(*spans: tuple[str, str | None]) -> tuple[WeatherRow, ...]:
    """Rows of 9 to 12 May by their first and last hours in UTC."""
    return tuple(
        row(**{"from": f"2027-05-{begin}:00:00Z", "until": end and f"2027-05-{end}:00:00Z"}) for begin, end in spans
    )


@pytest.mark.parametrize(
    ("spans", "problem", "remedy"),
    [
        ((("09T00", None), ("09T06", None)), "the last row has no until.", "Say until when it holds"),
        ((("09T06", None), ("09T00", "10T00")), "the row from 2027-05-09T00:00:00+00:00 follows", "Sort the rows"),
        ((("09T00", None), ("09T00", "10T00")), "and is not later.", "Sort the rows"),
        ((("09T00", "09T12"), ("09T06", "10T00")), "and the next begins before", "Drop the earlier until"),
        ((("09T00", "09T06"), ("09T12", "10T00")), "nothing is said from 2027-05-09T06:00:00+00:00", "or add a row"),
    ],
)
def test_each_fault_between_rows(spans: tuple[tuple[str, str | None], ...], problem: str, remedy: str) -> None:
    from pydantic_core import PydanticCustomError

    with pytest.raises(PydanticCustomError) as caught:
        in_order(rows_of(*spans))
    said = caught.value.context or {}
    assert problem in said["problem"]
    assert remedy in said["remedy"]


def test_all_faults_between_rows_come_together() -> None:
    from pydantic_core import PydanticCustomError

    with pytest.raises(PydanticCustomError) as caught:
        in_order(rows_of(("09T00", "09T06"), ("09T12", "10T06"), ("10T00", None)))
    problem = (caught.value.context or {})["problem"]
    assert problem.count(".") == 3
    assert "nothing is said" in problem
    assert "no until" in problem


def test_rows_that_touch_are_in_order() -> None:
    rows = rows_of(("09T00", "09T06"), ("09T06", None), ("09T18", "10T00"))
    assert in_order(rows) == rows


def test_a_time_without_an_offset_is_refused() -> None:
    naive = tomllib.loads('from = 2027-05-09T10:00:00\nsky = "few"')
    with pytest.raises(ValidationError, match="timezone"):
        WeatherRow.model_validate(naive)
