"""What all typed inputs share: axes that rise, tables without holes, no unknown keys, no numbers beyond sense."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from planner.domain.inputs.fields import (
    Between,
    ClockTime,
    Finite,
    Fraction,
    Input,
    as_many,
    refuse,
    rising,
)


class Sample(Input):
    part: Fraction = 0.5
    length: Annotated[Finite, Between(1e-9, 10.0, "a hair to a boat", "Is it in metres?")] = 1.0
    at: ClockTime = "00:00"


@pytest.mark.parametrize(
    "given",
    [
        {"part": 1.01}, {"part": -0.01}, {"part": "0.5"},
        {"length": 0.0}, {"length": float("inf")}, {"length": float("nan")}, {"length": True},
        {"at": "24:00"}, {"at": "7:00"}, {"at": "12:60"},
        {"weight": 1.0},
    ],
)  # fmt: skip
def test_what_is_out_of_range_of_another_kind_or_unknown_is_refused(given: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        Sample.model_validate(given)


def test_the_ends_of_the_ranges_are_allowed() -> None:
    made = Sample.model_validate({"part": 1.0, "length": 1e-9, "at": "23:59"})
    assert (made.part, made.length, made.at) == (1.0, 1e-9, "23:59")


def test_inputs_are_frozen() -> None:
    with pytest.raises(ValidationError):
        Sample().part = 0.1  # type: ignore[misc]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"length": 11.0}, "11 is not 1e-09 to 10: a hair to a boat."),
        ({"part": 90.0}, "90 is not 0 to 1: from nothing to the whole."),
    ],
)
def test_a_refusal_says_both_ends_and_why_they_are_there(given: dict[str, object], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        Sample.model_validate(given)


@pytest.mark.parametrize("axis", [(0.0, 30.0, 30.0), (0.0, 40.0, 30.0)])
def test_an_axis_rises(axis: tuple[float, ...]) -> None:
    with pytest.raises(PydanticCustomError, match=f"30 follows {axis[1]:g}; angles rise."):
        rising(axis, "angles")


@pytest.mark.parametrize("axis", [(), (5.0,), (0.0, 90.0, 180.0)])
def test_a_rising_axis_is_returned_as_it_is(axis: tuple[float, ...]) -> None:
    assert rising(axis, "angles") == axis


def test_a_table_has_one_entry_a_node_unless_its_axis_is_itself_at_fault() -> None:
    with pytest.raises(PydanticCustomError, match="2 entries for 3 angles"):
        as_many((1.0, 2.0), (0.0, 1.0, 2.0), "angles")
    as_many((1.0, 2.0), None, "angles")
    as_many((1.0, 2.0), (0.0, 1.0), "angles")


def test_a_refusal_carries_problem_and_remedy_apart() -> None:
    error = refuse("it is wrong.", "Mend it.")
    assert str(error) == "it is wrong."
    assert error.context == {"problem": "it is wrong.", "remedy": "Mend it."}
