"""The small interface: light to import, typed, and short to look at."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

import planner
from planner.faces.cli import main

PROJECT = Path(__file__).parents[2]


def test_importing_the_package_loads_nothing_heavy() -> None:
    program = (
        "import sys, planner\n"
        "heavy = {'numpy', 'pandas', 'xarray', 'numba', 'pydantic'} & set(sys.modules)\n"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=PROJECT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_every_name_is_there_and_documented() -> None:
    for name in planner.__all__:
        assert getattr(planner, name).__doc__
    assert set(planner.__all__) <= set(dir(planner))


def test_an_unknown_name_is_said_so() -> None:
    with pytest.raises(AttributeError, match="no attribute 'sail'"):
        _ = planner.sail


def test_ten_lines_read_plan_and_compare() -> None:
    passage = planner.read_passage(
        PROJECT / "data" / "demo" / "passage.toml", {"model.points": 6, "model.roll_nodes": 1}
    )
    comparison = planner.compare(passage, {"boat.bank.capacity_ah": [300.0, 400.0]})
    assert "2 variants beside" in repr(comparison)
    assert len(repr(comparison).splitlines()) == 4
    assert "<table>" in comparison._repr_html_()


def test_the_call_and_the_command_give_one_plan(tmp_path: Path) -> None:
    demo = PROJECT / "data" / "demo" / "passage.toml"
    coarse = {"model.points": 6, "model.roll_nodes": 1, "model.step_min": 10}
    made = planner.plan(planner.read_passage(demo, coarse))
    assert len(repr(made).splitlines()) < 20
    planner.write(made, tmp_path / "call")
    settings = [word for key, value in coarse.items() for word in ("--set", f"{key}={value}")]
    assert main(["plan", str(demo), *settings, "--out", str(tmp_path / "command"), "--quiet"]) == 0
    call, command = (
        json.loads((tmp_path / name / "plan.json").read_text(encoding="utf-8")) for name in ("call", "command")
    )
    assert set(call["files"]) == set(command["files"])
    assert {**call, "set": "", "files": {}} == {**command, "set": "", "files": {}}
    for name in ("report.html", "watch-bill.ics", "hourly.csv"):
        assert (tmp_path / "call" / name).read_bytes() == (tmp_path / "command" / name).read_bytes(), name


def test_nothing_to_vary_is_refused() -> None:
    passage = planner.read_passage(PROJECT / "data" / "demo" / "passage.toml")
    with pytest.raises(ValueError, match="nothing is varied"):
        planner.compare(passage)
