"""A boat file is edited in place: comments and order stay, and only what was to change has changed."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.power import Load
from planner.domain.results.calibration import BoatChange, Calibration
from planner.domain.results.note import Note
from planner.presentation.files.boat_toml import changed_text, changes_page
from planner.presentation.files.starter import starter_files
from planner.presentation.words.notes import said

BOAT = Path(__file__).parents[2] / "data" / "demo" / "boat.toml"
LOAD = Load(name="not on the list", watts=25.0, when="hours", hours=(("19:00", "06:00"),))
CHANGES = (
    BoatChange("panel.bimini port.measured_fraction", 1.0, 0.8, Note("each_gets_the_mean")),
    BoatChange("bank.health", 0.95, 0.8, Note("bank_unknown")),
    BoatChange("bank.meter.capacity_ah", None, 285.0, Note("monitor_counts", {"listed_ah": 285.0})),
    BoatChange("engine.marginal_l_per_kwh", 0.5, 0.4, Note("wash_it")),
    BoatChange("load.not on the list", None, LOAD, Note("loads_less")),
)


def flat(node, path=""):
    """Every figure of a file by its path."""
    if isinstance(node, dict):
        return {key: value for name, inner in node.items() for key, value in flat(inner, f"{path}.{name}").items()}
    if isinstance(node, list) and node and isinstance(node[0], dict):
        return {key: value for item in node for key, value in flat(item, f"{path}.{item['name']}").items()}
    return {path: node}


def test_only_the_changed_figures_differ():
    text = BOAT.read_text(encoding="utf-8")
    before, after = flat(tomllib.loads(text)), flat(tomllib.loads(changed_text(text, CHANGES, heading="h")))
    differ = {key: value for key, value in after.items() if before.get(key) != value}
    assert differ == {
        ".panel.bimini port.measured_fraction": 0.8,
        ".bank.health": 0.8,
        ".bank.meter.capacity_ah": 285.0,
        ".engine.marginal_l_per_kwh": 0.4,
        ".load.not on the list.name": "not on the list",
        ".load.not on the list.watts": 25.0,
        ".load.not on the list.when": "hours",
        ".load.not on the list.hours": [["19:00", "06:00"]],
    }
    assert set(before) <= set(after)


def test_lines_that_were_not_changed_stand_as_they_stood_in_their_order():
    text = BOAT.read_text(encoding="utf-8")
    lines = changed_text(text, CHANGES, heading="Calibrated by hand.").splitlines()
    assert lines[0] == "# Calibrated by hand."
    kept = [line for line in text.splitlines() if not line.startswith(("health", "marginal_l_per_kwh"))]
    following = iter(lines)
    assert all(any(line == each for each in following) for line in kept)
    assert "health = 0.8  # measured; was 0.95" in lines
    assert "marginal_l_per_kwh = 0.4  # measured; was 0.5; what charging adds to motoring" in lines


def test_a_boat_without_loads_gets_a_list():
    text = changed_text("length_m = 12.0\n", CHANGES[-1:], heading="h")
    assert tomllib.loads(text)["load"] == [
        {"name": "not on the list", "watts": 25.0, "when": "hours", "hours": [["19:00", "06:00"]]}
    ]


def test_a_starter_whose_loads_stand_in_one_list_is_edited_too():
    text = starter_files()["boat.toml"]
    panel = BoatChange("panel.port.measured_fraction", None, 0.8, Note("each_gets_the_mean"))
    edited = changed_text(text, (panel, *CHANGES[1:3], CHANGES[4]), heading="h")
    boat = Boat.model_validate(tomllib.loads(edited))
    assert boat.load[-1] == LOAD
    assert (boat.panel[0].measured_fraction, boat.bank.meter.capacity_ah) == (0.8, 285.0)
    assert f"# {said(CHANGES[4].why)}" in edited


@pytest.mark.parametrize("row", [0, 1, 2, 4])
def test_each_difference_is_shown_with_its_reason(row: int):
    line = 'boat = "boat-2.toml"'
    (table,) = changes_page(Calibration(Path("boat.toml"), Path("boat-2.toml"), CHANGES, line, text="")).tables
    assert table.rows[row][0] == CHANGES[row].key
    assert table.rows[row][3] == said(CHANGES[row].why)
    assert line in table.note
    assert table.rows[4][2] == "25 W 19:00 to 06:00"
