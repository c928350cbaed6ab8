"""Ranges found again on the fields, and what stands in for what is at fault."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest

from planner.domain.inputs.fields import Between, Finite, Fraction, Input, Usual
from planner.domain.inputs.ranges import annotated, figures_of, ranges_in, stand_in

Length = Annotated[Finite, Between(0.0, 100.0, "a dinghy to a ship"), Usual(5.0, 20.0, "what is sailed by two")]


class Part(Input):
    name: str
    length: Length = 10.0
    kind: Literal["open", "closed"] = "open"


class Whole(Input):
    part: tuple[Part, ...] = ()
    bounds: tuple[Length, Length] = (6.0, 7.0)
    share: Fraction = 0.5
    best: Length | None = None


def test_figures_that_say_what_is_usual_are_found_by_the_names_of_their_parts() -> None:
    whole = Whole(part=(Part(name="fore", length=30.0), Part(name="aft")), best=3.0)
    found = {key: given for key, given, usual in figures_of(whole, "boat.") if not usual.holds(given)}
    assert found == {"boat.part.fore.length": 30.0, "boat.best": 3.0}
    assert len(list(figures_of(whole))) == 5  # share has no usual range


def test_the_kinds_of_range_are_kept_apart() -> None:
    field = annotated(Whole.model_fields["best"])
    assert [found.high for found in ranges_in(field, Between)] == [100.0]
    assert [found.high for found in ranges_in(field, Usual)] == [20.0]


@pytest.mark.parametrize("model", [Whole, Part])
def test_what_stands_in_is_valid_and_differs_at_both_ends(model: type[Input]) -> None:
    low, high = (model.model_validate(stand_in(model, end)) for end in (0, 1))
    assert (low == high) == (model is Whole)  # of which nothing is needed
    assert stand_in(Length, 0) == 5.0
    assert stand_in(Length | None, 1) == 20.0
    assert stand_in(tuple[Length, Length], 1) == [20.0, 20.0]
