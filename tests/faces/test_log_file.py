"""The log of a run: a line an event, UTC, what went wrong among them, and never over another file."""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from planner.app.stages import along
from planner.faces.cli import main
from planner.faces.log_file import logged

LINE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ (INFO|WARNING|ERROR) planner[.a-z_]*: \S.*")


def test_each_event_is_a_line_in_utc(tmp_path: Path) -> None:
    with logged(tmp_path / "run.log"):
        along(lambda *_: None, {})("sailing the track")
        try:
            raise ValueError("over\ntwo lines")
        except ValueError:
            logging.getLogger("planner.app").exception("it failed")
    first, second = (tmp_path / "run.log").read_text(encoding="utf-8").splitlines()
    written = datetime.fromisoformat(first.split()[0])
    assert abs(datetime.now(UTC) - written) < timedelta(minutes=1)
    assert first.endswith("Z INFO planner.app.stages: sailing the track")
    assert "Z ERROR planner.app: it failed | Traceback" in second
    assert second.endswith("ValueError: over | two lines")


def test_a_verb_notes_what_it_does_and_what_is_wrong(demo: Path, tmp_path: Path) -> None:
    log = tmp_path / "run.log"
    coarse = ["--set", "model.points=6", "--set", "model.roll_nodes=1"]
    assert main(["headings", str(demo), *coarse, "--hours", "1", "--step", "90", "--quiet", "--log", str(log)]) == 0
    assert main(["check", str(demo), "--set", "boat.bank.capacity_ah=-1", "--log", str(log)]) == 2
    lines = log.read_text(encoding="utf-8").splitlines()
    assert all(LINE.fullmatch(line) for line in lines)
    told = [line.split(": ", 1)[1] for line in lines]
    assert told[0].endswith(f"headings {demo} {' '.join(coarse)} --hours 1 --step 90 --quiet --log {log}")
    assert "sailing the track" in told
    assert told.index("holding other headings") < told.index("ended with status 0")
    assert told[-2].startswith("boat.toml: bank.capacity_ah: -1 is not")
    assert told[-1] == "ended with status 2"
    assert logging.getLogger("planner").level == logging.NOTSET


@pytest.mark.parametrize(("name", "words"), [("engine.csv", "is a table by its name"), ("none/run.log", "cannot be")])
def test_a_log_that_cannot_be_is_refused(
    name: str, words: str, demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(demo), "--log", str(tmp_path / name)]) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / name).exists()


def test_without_a_log_nothing_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    along(lambda *_: None, {})("sailing the track")
    logging.getLogger("planner").error("nobody hears")
    assert capsys.readouterr() == ("", "")
