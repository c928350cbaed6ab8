"""A stage is called again only when what it reads has changed."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from planner.domain.inputs.passage import Passage
from planner.flow.recall import Recall
from planner.flow.stages import NOT_SAILED, sailing_orders


def double(values: object, *, times: float = 2.0) -> float:
    return float(np.sum(np.asarray(values))) * times


def test_equal_inputs_are_not_computed_again() -> None:
    recall = Recall()
    assert recall(double, (1, 2), times=3.0) == recall(double, (1, 2), times=3.0) == 9.0
    assert recall.calls == {"double": 1}


def test_an_array_is_the_same_only_as_itself() -> None:
    recall = Recall()
    values = np.ones(3)
    recall(double, values)
    recall(double, values)
    recall(double, values.copy())
    assert recall.calls == {"double": 2}


def test_numbers_of_other_types_are_other_inputs() -> None:
    recall = Recall()
    for value in (1, 1.0, True):
        recall(double, value)
    assert recall.calls == {"double": 3}


def test_only_the_parts_named_count() -> None:
    recall = Recall()
    recall.of(("same",), double, 1.0)
    assert recall.of(("same",), double, 5.0) == 2.0


def test_the_oldest_is_forgotten() -> None:
    recall = Recall(depth=2)
    for value in (1, 2, 1, 3, 1, 2):
        recall(double, value)
    assert recall.calls == {"double": 4}  # 1, 2, 3, and 2 again


def test_what_does_not_move_the_boat_is_still_there() -> None:
    assert set(Passage.model_fields) >= NOT_SAILED


def test_departure_moves_the_boat_and_the_start_charge_does_not(demo: Path) -> None:
    from planner.readers.config import parse_override, read_configuration

    def orders(*overrides: str) -> tuple[object, ...]:
        return sailing_orders(read_configuration(demo, [parse_override(text) for text in overrides]).passage)

    assert orders() == orders("start.state_of_charge=0.5", "wishes.confidence=0.8", "model.points=9")
    assert orders() != orders("departure=2027-05-09T11:00:00+12:00")
    assert orders() != orders("model.step_min=5")
