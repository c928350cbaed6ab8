"""What is at fault is stood in for at both ends, so that the rest is read all the same."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from planner.domain.errors import Fault
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Override
from planner.readers.config import read_whatever_holds
from planner.readers.stand_in import stand_ins

DEMO = Path(__file__).parents[2] / "data" / "demo"


def boat(**changes: Any) -> dict[str, Any]:
    table = tomllib.loads((DEMO / "boat.toml").read_text(encoding="utf-8"))
    for key, value in changes.items():
        node, _, last = key.rpartition("__")
        (table[node] if node else table)[last] = value
    return table


def test_a_figure_beyond_its_range_is_read_at_either_end_of_what_is_usual() -> None:
    low, high = stand_ins(Boat, boat(bank__capacity_ah=-5.0))
    assert (low.bank.capacity_ah, high.bank.capacity_ah) == (50.0, 2500.0)
    assert low.panel == high.panel


@pytest.mark.parametrize(
    "changes",
    [
        {"bank__capacty": 3.0},
        {"bank__chemistry": "lead"},
        {"bank": 5},
        {"engine__alternator_a": "90 A"},
        {"length_m": float("nan")},
        {"load": [{"name": "fridge", "watts": -1.0}]},
        {"panel": "none"},
    ],
)
def test_whatever_is_wrong_a_boat_is_read(changes: dict[str, Any]) -> None:
    assert len(stand_ins(Boat, boat(**changes))) == 2


def test_what_cannot_be_stood_in_for_leaves_nothing() -> None:
    table = boat()
    del table["sailing"]["polar"]  # a table of rising axes
    assert stand_ins(Boat, table) == []


def told(*overrides: Override) -> tuple[int, list[Fault]]:
    read, faults = read_whatever_holds(DEMO / "passage.toml", overrides)
    return len(read), faults


def test_both_files_are_read_twice_where_one_is_at_fault() -> None:
    assert told() == (1, [])
    count, faults = told(Override("boat.bank.health", 80.0), Override("start.state_of_charge", 92.0))
    assert count == 2
    assert [fault.key for fault in faults] == ["start.state_of_charge", "bank.health"]
    count, faults = told(Override("boat.sailing.polar", "none.csv"))
    assert count == 2
    assert len(faults) == 1
