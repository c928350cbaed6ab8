"""The demo passage, coarsely computed once, for every test of a study."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from planner.app.inputs import read_inputs
from planner.domain.inputs.given import Inputs, Override
from planner.domain.results.plan import Plan
from planner.flow.plan import plan_from

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
COARSE = (Override("model.points", 6), Override("model.roll_nodes", 1))


@lru_cache(maxsize=1)
def demo_inputs() -> Inputs:
    return read_inputs(DEMO, COARSE)


@lru_cache(maxsize=1)
def demo_plan() -> Plan:
    return plan_from(demo_inputs(), progress=lambda _: None)


def quietly(_stage: str, _share: float = 0.0) -> None:
    """Take a stage's name and say nothing."""
