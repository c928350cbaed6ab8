"""Positions as navigators write them."""

from __future__ import annotations

import pytest

from planner.readers.positions import in_range, read_angle

SOUTH = -(35 + 18.7 / 60)


@pytest.mark.parametrize(
    "text",
    [
        "35-18.7S",
        "35 18.7' S",
        "35\N{DEGREE SIGN}18.7'S",
        "S 35 18.7",
        "-35 18.7",
        "35-18-42s",
        " 35 18 42 S ",
        f"{SOUTH}",
    ],
)
def test_one_latitude_in_many_hands(text: str) -> None:
    assert read_angle(text, "lat") == pytest.approx(SOUTH, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "expected"), [("174-07.4E", 174 + 7.4 / 60), ("175 30 W", -175.5), ("185.5", -174.5), ("180", -180.0)]
)
def test_longitudes_come_into_half_turns(text: str, expected: float) -> None:
    assert read_angle(text, "lon") == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("35-61.0S", "61 minutes; they end below 60"),
        ("35-18-75S", "75 seconds; they end below 60"),
        ("35-18.7X", "hemisphere 'X'; latitude takes N or S"),
        ("35-18.7E", "latitude and longitude swapped"),
        ("-35 18.7 S", "minus sign and a hemisphere letter"),
        ("35-18.7", "no hemisphere letter"),
        ("35.5 18.7 S", "decimals before its last part"),
        ("35,5", "Write the decimals with a point"),
        ("somewhere", "is no latitude"),
        ("", "is no latitude"),
        ("174.1", "outside -90 to 90. Are latitude and longitude swapped"),
    ],
)
def test_what_is_wrong_is_said(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        read_angle(text, "lat")


def test_a_longitude_past_a_full_turn_is_refused() -> None:
    with pytest.raises(ValueError, match="longitude 361 is outside -180 to 360"):
        in_range(361.0, "lon")


def test_no_number_is_no_position() -> None:
    with pytest.raises(ValueError, match="latitude nan is no position"):
        in_range(float("nan"), "lat")
