"""``check`` finds at once what reading and planning refuse, and what is odd."""

from __future__ import annotations

from pathlib import Path

import pytest
from tiny_passage import lay_out

import planner
from planner.domain.errors import InputError

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
WRONG = (
    "boat.bank.capacity_ah=3",  # a figure of the boat
    "start.state_of_charge=90",  # of the passage
    'boat.controller.arch.strings=[["arch port", "arch starbord"]]',  # what is held together: panels and controllers
    'watches.0.end="05:00"',  # the day's watches
    "boat.engine.min_run_min=500",
    'waits=[{at_waypoint="nowhere", hours=3.0}]',  # the route
    "current.source=forecast",  # the forecast, when she sails
)


def test_all_faults_come_at_once_from_both_files_the_route_and_the_forecast() -> None:
    with pytest.raises(InputError) as caught:
        planner.check(DEMO, typed=WRONG)
    said = str(caught.value)
    assert said.count("'nowhere'") == 1
    for words in (
        "bank.capacity_ah: 3 is not", "Did you mean 0.9?", "Did you mean 'arch starboard'?", "2 watches overlap",
        "500 min is more than max_run_min", "'nowhere'", "no forecast file holds currents",
    ):  # fmt: skip
        assert words in said


@pytest.mark.parametrize(
    ("wrong", "key"),
    [
        ("boat.bank.capacity_ah=3", "bank.capacity_ah"),
        ("start.state_of_charge=90", "start.state_of_charge"),  # or it were under the bank's reserve
        ("boat.engine.tank_l=many", "engine.tank_l"),  # or it held less than is kept for landfall
    ],
)
def test_what_is_found_stands_whatever_was_meant_by_what_is_wrong(tmp_path: Path, wrong: str, key: str) -> None:
    """With one figure unknown, nothing is said that hangs on it."""
    with pytest.raises(InputError) as caught:
        planner.check(lay_out(tmp_path), typed=[wrong])
    (fault,) = caught.value.faults
    assert fault.key == key


def test_a_sound_passage_is_shown_with_what_is_odd(tmp_path: Path) -> None:
    found = planner.check(lay_out(tmp_path), {"boat.engine.max_heel_deg": 2.0})
    text = planner.text_of(found)
    assert "boat.engine.max_heel_deg = 2 is beyond what boats have" in text
    assert "acknowledged = [" in text
    assert '"key": "boat.engine.max_heel_deg"' in planner.json_of(found)
    known = planner.check(
        tmp_path / "passage.toml", {"boat.engine.max_heel_deg": 2.0, "acknowledged": ["boat.engine.max_heel_deg"]}
    )
    assert "All input is consistent." in planner.text_of(known)
