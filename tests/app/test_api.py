"""The small interface: light to import, typed, and short to look at."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import planner

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


def test_nothing_to_vary_is_refused() -> None:
    passage = planner.read_passage(PROJECT / "data" / "demo" / "passage.toml")
    with pytest.raises(ValueError, match="nothing is varied"):
        planner.compare(passage)
