"""The reference of plan.json knows every field, and no other."""

from __future__ import annotations

from plan_fixture import make_plan

from planner.presentation.files.summary_json import summarise
from planner.presentation.words.plan_json import PLAN_JSON

OF_THE_SET = {"format", "planner_version", "set", "files"}


def test_the_fields_that_are_told_are_those_that_are_written() -> None:
    assert set(summarise(make_plan())) | OF_THE_SET == set(PLAN_JSON)
