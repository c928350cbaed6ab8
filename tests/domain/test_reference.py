"""Every key of the input is documented where it is defined: meaning, range, unit."""

from __future__ import annotations

import pytest

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.described import inner_model, meaning_of
from planner.domain.inputs.fields import Between, Input, Usual
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.power import Bank
from planner.domain.inputs.ranges import annotated, ranges_in
from planner.domain.inputs.reference import reference

ENTRIES = [*reference(Passage), *reference(Boat, "boat.")]
TABLED = {"value", "oktas", "lat", "lon"}  # by the table's own key; by the eighths; by the reader of positions


def test_there_are_all_keys() -> None:
    assert len(ENTRIES) > 300
    assert len({entry.key for entry in ENTRIES}) == len(ENTRIES)


def test_no_key_is_without_a_meaning_and_a_value() -> None:
    assert [entry.key for entry in ENTRIES if len(entry.meaning) < 4 or not entry.default] == []


def models(model: type[Input]) -> dict[str, type[Input]]:
    """Return a model and all that it is made of, by name."""
    found = {model.__name__: model}
    for field in model.model_fields.values():
        inner = inner_model(field.annotation)
        if inner is not None and inner.__name__ not in found:
            assert issubclass(inner, Input)
            found |= models(inner)
    return found


@pytest.mark.parametrize("model", [*{**models(Boat), **models(Passage)}.values()], ids=lambda model: model.__name__)
def test_every_figure_has_a_range_with_a_reason_and_what_is_usual_lies_within_it(model: type[Input]) -> None:
    for name, field in model.model_fields.items():
        whole = annotated(field)
        possible, usual = ranges_in(whole, Between), ranges_in(whole, Usual)
        if "float" in repr(field.annotation) or "int" in repr(field.annotation).replace("Point", ""):
            named = "Literal" in repr(field.annotation) or "WaypointKey" in repr(field.annotation)
            assert possible or named or name in TABLED or name.endswith("waypoint"), name
        for each in (*possible, *usual):
            assert len(each.reason) > 6
            assert each.low < each.high
        for each in usual:
            assert possible[-1].low <= each.low
            assert each.high <= possible[-1].high


def test_an_entry_says_what_its_field_does() -> None:
    (capacity,) = [entry for entry in ENTRIES if entry.key == "boat.bank.capacity_ah"]
    assert (capacity.unit, capacity.default) == ("Ah", "needed")
    assert capacity.allowed.startswith("5 to 20000 (")
    assert capacity.usual.startswith("50 to 2500 (")
    (mounting,) = [entry for entry in ENTRIES if entry.key == "boat.panel.NAME.mounting"]
    assert mounting.allowed == 'one of "open", "ventilated", "on_canvas", "on_deck"'


def test_a_meaning_is_that_of_the_docstring_and_of_a_table_its_own() -> None:
    assert meaning_of(Bank, "temp_c").text == "Bank temperature [degree Celsius]."
    assert meaning_of(Boat, "bank").text == "The house bank."
    assert meaning_of(Boat, "format").text.startswith("Of the file")
    assert meaning_of(Boat, "no such key").text == ""
