"""The command line: what each verb prints, and exit status 0, 2 or 1."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from planner import __version__
from planner.domain.errors import PlannerError
from planner.faces.cli import main

PROJECT = Path(__file__).parents[2]


def test_check_says_what_was_understood(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(demo)]) == 0
    assert "6 panels" in capsys.readouterr().out


def test_plan_writes_the_set_and_names_the_report(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(demo), "--out", str(tmp_path / "out"), "--set", "model.points=15"]) == 0
    shown = capsys.readouterr()
    assert f"Page: {tmp_path / 'out' / 'report.html'}" in shown.out
    assert "Day 1" in shown.out
    assert "sailing the track" in shown.err
    assert json.loads((tmp_path / "out" / "plan.json").read_text())["members"] == 21


def test_plan_as_json_is_the_manifest_without_its_files_and_nothing_else(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    coarse = ["--set", "model.points=6", "--set", "model.roll_nodes=1"]
    assert main(["plan", str(demo), "--out", str(tmp_path), "--json", "--quiet", *coarse]) == 0
    shown = capsys.readouterr()
    manifest = json.loads((tmp_path / "plan.json").read_text())
    assert json.loads(shown.out) == {key: value for key, value in manifest.items() if key not in {"set", "files"}}
    assert shown.err == ""


def test_check_as_json_is_what_was_understood(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(demo), "--json", "--set", "start.state_of_charge=0.8"]) == 0
    shown = capsys.readouterr()
    content = json.loads(shown.out)
    assert (content["format"], content["planner_version"]) == (1, __version__)
    assert content["passage"]["start"]["state_of_charge"] == 0.8
    assert len(content["boat"]["panel"]) == 6
    assert shown.err == "reading ...\nsailing the tracks ...\n"


def test_wrong_input_is_status_2_on_stderr_with_nothing_written(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    overrides = ["--set", "boat.bank.capacity_ah=-1", "--set", "wishes.confidense=0.9"]
    assert main(["plan", str(demo), "--out", str(tmp_path / "out"), *overrides]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "2 faults in the input" in shown.err
    assert "Did you mean 'confidence'?" in shown.err
    assert not (tmp_path / "out").exists()


OUT_ALONE = {
    "plan": ["--out", "{}"],
    "replan": ["--fix", "-30 177", "--time", "day 2 08:00", "--out", "{}"],
    "headings": ["--page", "{}/page.html"],
    "compare": ["--vary", "boat.bank.capacity_ah=300", "--page", "{}/page.html"],
    "panels": ["--page", "{}/page.html"],
    "reconcile": ["log.csv", "--out", "{}"],
    "weather": ["--out", "{}"],
}


def test_what_fails_must_be_aboard(demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    failed = ["--failed", "engine", "--failed", "bimni"]
    assert main(["plan", str(demo), "--out", str(tmp_path / "out"), *failed, "--quiet"]) == 2
    assert "--failed: there is no 'bimni'. Did you mean 'bimini'?" in capsys.readouterr().err


@pytest.mark.parametrize("verb", OUT_ALONE)
def test_outputs_that_cannot_be_written_are_refused_before_anything_is_computed(
    verb: str, demo: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def compute(*_: object, **__: object) -> None:
        raise AssertionError("it was begun")

    for name in ("inputs.read_passage", "verbs.weather.weather"):
        monkeypatch.setattr(f"planner.app.{name}", compute)
    file = demo.with_name("file")
    file.write_text("mine")
    assert main([verb, str(demo), *(word.format(file) for word in OUT_ALONE[verb])]) == 2
    said = capsys.readouterr().err
    assert "1 fault in the input" in said
    assert str(file) in said
    assert "a file" in said
    assert file.read_text() == "mine"


def test_a_full_disk_is_status_1_and_one_sentence(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "kernel.nbc")

    monkeypatch.setattr("planner.app.verbs.plan.plan", full)
    assert main(["plan", str(demo), "--out", str(tmp_path / "out"), "--quiet"]) == 1
    assert capsys.readouterr().err == "passage-energy: 'kernel.nbc': No space left on device\n"
    assert not (tmp_path / "out").exists()


def test_any_other_failure_is_status_1(
    demo: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(passage: Path, *, typed: list[str], on_stage: object) -> str:
        raise PlannerError("the sky fell in")

    monkeypatch.setattr("planner.app.verbs.check.check", fail)
    assert main(["check", str(demo)]) == 1
    assert "the sky fell in" in capsys.readouterr().err


def test_help_comes_without_the_heavy_libraries() -> None:
    program = (
        "import sys; from planner.faces.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'pandas', 'xarray', 'pvlib', 'numba', 'matplotlib', 'pydantic'} & set(sys.modules)\n"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", program], cwd=PROJECT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "plan" in done.stdout
    assert time.perf_counter() - start < 10  # a generous bound against a hang, not a benchmark


@pytest.mark.parametrize("verb", ["plan", "check", "headings", "compare", "panels", "replan"])
def test_each_verb_has_help(verb: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main([verb, "--help"])
    assert done.value.code == 0
    assert "PASSAGE.toml" in capsys.readouterr().out
