"""The demo passage, coarsely computed once, for every test of a study."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from planner.app.inputs import read_inputs
from planner.domain.inputs.given import Inputs, Override
from planner.domain.results.plan import Plan
from planner.domain.voyage import Course
from planner.flow.plan import courses_of, plan_from
from planner.flow.recall import Recall

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
COARSE = (Override("model.points", 6), Override("model.roll_nodes", 1))
RECALL = Recall()


@lru_cache(maxsize=1)
def demo_courses() -> dict[int, Course]:
    """Each member's course on its own track."""
    return dict(enumerate(courses_of(demo_plan(), RECALL)))


@lru_cache(maxsize=1)
def demo_inputs() -> Inputs:
    return read_inputs(DEMO, COARSE)


@lru_cache(maxsize=1)
def demo_plan() -> Plan:
    return plan_from(demo_inputs(), progress=lambda _: None, recall=RECALL)


def quietly(_stage: str, _share: float = 0.0) -> None:
    """Take a stage's name and say nothing."""
