"""What planning refuses is found without it: a track that does not end, a forecast that does not reach, no memory."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from planner.app.inputs import read_inputs
from planner.domain.errors import Fault
from planner.domain.inputs.given import Inputs, Override
from planner.flow import plan as flow
from planner.flow.recall import Recall
from planner.flow.rehearsal import refusals

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"


@pytest.fixture(scope="module")
def recall() -> Recall:
    return Recall()


def told(recall: Recall, **overrides: object) -> list[Fault]:
    given = [Override(key.replace("__", "."), value) for key, value in overrides.items()]
    return refusals(read_inputs(DEMO, given, recall=recall), recall)


def test_the_demo_is_not_refused(recall: Recall) -> None:
    assert told(recall) == []


def test_a_forecast_that_ends_on_the_way_is_refused_as_planning_does(recall: Recall) -> None:
    inputs = read_inputs(DEMO, recall=recall)
    late = inputs.passage.model_copy(update={"departure": inputs.passage.departure + timedelta(days=7)})
    inputs = Inputs(**{**vars(inputs), "passage": late})
    (fault,) = refusals(inputs, recall)
    assert "lies outside the forecast's times" in fault.problem
    with pytest.raises(ValueError, match="lies outside the forecast's times"):
        flow.plan_from(inputs, progress=lambda _: None)


def test_a_boat_that_does_not_arrive_is_refused(recall: Recall) -> None:
    (fault,) = told(recall, current__set_deg=216.0, current__drift_kn=20.0)
    assert fault.where


def test_a_table_that_memory_cannot_hold_is_refused(recall: Recall, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.decision.policy.table.MOST_BYTES", 2**20)
    (fault,) = told(recall)
    assert "ask for a table of" in fault.problem
