"""Evidence gathered from a history for one controller of the demo's boat."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from history_case import FIRST, history, judged

from planner.domain.boat import Boat
from planner.domain.errors import InputError
from planner.readers.config import read_configuration
from planner.studies.evidence import evidence

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"


@pytest.fixture(scope="module")
def boat() -> Boat:
    return read_configuration(DEMO).boat


def test_its_own_days_its_panels_and_the_others(boat: Boat) -> None:
    arch = [judged(FIRST + timedelta(days=each), 0.9, 0.02) for each in range(4)]
    bimini = [judged(FIRST + timedelta(days=each), 1.0, 0.02, "bimini") for each in range(6)]
    found = evidence(history(arch, bimini), "arch", boat)
    assert found.days == tuple(arch)
    assert [one.name for one in found.panels] == ["arch port", "arch starboard"]
    assert found.panels[0].max_power_w == 200.0
    assert found.trend.months[0].ratio.value == pytest.approx(0.9)
    assert [one.controller for one in found.others] == ["bimini"]
    assert (found.days_logged, found.aside.full_h, found.aside.shaded_h) == (6, 20.0, 12.0)


@pytest.mark.parametrize("name", ["arhc", "coachroof"])
def test_a_controller_that_is_not_in_both_is_refused(boat: Boat, name: str) -> None:
    with pytest.raises(InputError, match=rf"history: {name}: it and the boat file do not both have this controller"):
        evidence(history([judged(FIRST, 0.9, 0.02)]), name, boat)
