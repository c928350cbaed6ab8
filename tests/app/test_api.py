"""The small interface: light to import, typed, and short to look at."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import planner
from planner.domain.errors import InputError
from planner.domain.inputs.given import Inputs
from planner.domain.results.plan import Plan
from planner.faces.cli import main

sys.path.insert(0, str(Path(__file__).parents[1] / "faces"))
from logged_plan import write_log
from tiny_passage import lay_out

PROJECT = Path(__file__).parents[2]
DEMO = PROJECT / "data" / "demo" / "passage.toml"


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


COARSE = {"model.points": 6, "model.roll_nodes": 1, "model.step_min": 10}
ON_ONE_TRACK = {**COARSE, "model.tracks": "control"}
PLANNED_OFTEN = ("compare", "panels")  # on a day's passage


def settings(keys: dict[str, object]) -> list[str]:
    return [word for key, value in keys.items() for word in ("--set", f"{key}={value}")]


@pytest.fixture(scope="module")
def passage() -> Inputs:
    return planner.read_passage(DEMO, COARSE)


@pytest.fixture(scope="module")
def planned(passage: Inputs, tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path]:
    made, folder = planner.plan(passage), tmp_path_factory.mktemp("call")
    planner.write(made, folder)
    return made, folder


def test_the_call_and_the_command_give_one_plan(planned: tuple[Plan, Path], tmp_path: Path) -> None:
    made, folder = planned
    assert len(repr(made).splitlines()) < 20
    assert main(["plan", str(DEMO), *settings(COARSE), "--out", str(tmp_path), "--quiet"]) == 0
    call, command = (json.loads((each / "plan.json").read_text(encoding="utf-8")) for each in (folder, tmp_path))
    assert set(call["files"]) == set(command["files"])
    assert {**call, "set": "", "files": {}} == {**command, "set": "", "files": {}}
    for name in ("report.html", "watch-bill.ics", "hourly.csv"):
        assert (folder / name).read_bytes() == (tmp_path / name).read_bytes(), name


FIX = {"fix": "33.9S 175.3E", "time": "day 2 10:00", "soc": "60%"}
CALLS: dict[str, tuple[Callable[[Inputs], object], list[str]]] = {
    "headings": (
        lambda passage: planner.headings(passage, at="day 2 11:00", hours=1.0, step_deg=90.0),
        ["--at", "day 2 11:00", "--hours", "1", "--step", "90"],
    ),
    "compare": (
        lambda passage: planner.compare(passage, {"boat.bank.capacity_ah": [300, 400]}),
        ["--vary", "boat.bank.capacity_ah=300,400", "--jobs", "1"],
    ),
    "panels": (lambda passage: planner.panels(passage, rating_w=50.0), ["--rating", "50"]),
    "replan": (
        lambda passage: planner.replan(passage, **FIX),
        [word for key, value in FIX.items() for word in (f"--{key}", value)],
    ),
}


@pytest.mark.parametrize("verb", CALLS)
def test_the_call_gives_what_the_command_gives(verb: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call, options = CALLS[verb]
    passage_file = lay_out(tmp_path) if verb in PLANNED_OFTEN else DEMO
    result = call(planner.read_passage(passage_file, ON_ONE_TRACK))
    assert len(repr(result).splitlines()) < 20
    assert main([verb, str(passage_file), *settings(ON_ONE_TRACK), *options, "--json", "--quiet"]) == 0
    assert planner.json_of(result) == capsys.readouterr().out
    files = planner.write(result, tmp_path / "written")
    assert all(path.is_file() for path in files)
    assert any(path.suffix == ".html" for path in files)
    assert planner.text_of(result).endswith("\n")


def test_readings_are_judged_and_the_boat_calibrated_by_call_and_command(
    planned: tuple[Plan, Path], passage: Inputs, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = write_log(planned[1] / "plan.nc", tmp_path / "log.csv", days=2.0)
    found = planner.reconcile(passage, log)
    assert main(["reconcile", str(DEMO), str(log), *settings(COARSE), "--json", "--quiet"]) == 0
    assert planner.json_of(found) == capsys.readouterr().out
    names = {path.name for path in planner.write(found, tmp_path / "found")}
    assert names == {"reconcile.html", "log-mapping.toml", "reconcile.json"}
    assert planner.reconcile(passage, [log], mapping=tmp_path / "found" / "log-mapping.toml").bank == found.bank
    change = planner.calibrate(found, passage)
    assert len(repr(change).splitlines()) < 20
    assert len(planner.write(change, tmp_path)) == bool(change.changes)


def test_a_forecast_is_looked_at_and_a_passage_checked(
    passage: Inputs, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    account = planner.weather(DEMO)
    assert main(["weather", str(DEMO), "--json", "--quiet"]) == 0
    assert planner.json_of(account) == capsys.readouterr().out
    assert {path.name for path in planner.write(account, tmp_path)} == {"weather.html", "weather.svg", "weather.json"}
    assert main(["check", str(DEMO), *settings(COARSE), "--json", "--quiet"]) == 0
    assert planner.json_of(planner.check(DEMO, COARSE)) == capsys.readouterr().out
    assert "All input is consistent." in planner.text_of(passage)
    for result in (account, passage):
        assert len(repr(result).splitlines()) < 20


def test_a_result_of_no_verb_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TypeError, match="a set is no result of a verb"):
        planner.write({1}, tmp_path / "none")


def test_nothing_to_vary_is_refused(passage: Inputs) -> None:
    with pytest.raises(InputError, match="nothing is varied"):
        planner.compare(passage)
