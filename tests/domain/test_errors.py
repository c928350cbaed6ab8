"""Faults as they are read: place first, then the problem, then what to do."""

from __future__ import annotations

import pytest

from planner.domain.errors import Fault, InputError, PlannerError, suggest


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (Fault("boat.toml", "bank.health", "2 is above 1.", "Write a fraction."),
         "boat.toml: bank.health: 2 is above 1. Write a fraction."),
        (Fault("route.gpx", "", "it is empty."), "route.gpx: it is empty."),
    ],
)  # fmt: skip
def test_a_fault_names_file_key_problem_and_remedy(fault: Fault, words: str) -> None:
    assert str(fault) == words


def test_an_input_error_lists_every_fault_and_is_both_the_planners_and_a_value_error() -> None:
    faults = [Fault("a", "", "first."), Fault("b", "", "second.")]
    error = InputError(fault for fault in faults)
    assert error.faults == tuple(faults)
    assert str(error) == "a: first.\nb: second."
    assert isinstance(error, PlannerError)
    assert isinstance(error, ValueError)


def test_the_near_match_is_named_or_else_what_is_allowed() -> None:
    assert suggest("capacty_ah", ["capacity_ah", "chemistry"]) == "Did you mean 'capacity_ah'?"
    assert suggest("xyz", ["b", "a"]) == "Allowed: a, b."
    assert suggest("xyz", []) == ""
