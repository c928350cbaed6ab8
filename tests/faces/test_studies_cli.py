"""The verbs of the studies: what they print, the page that they write, and exit status 2 with the message."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from planner import __version__
from planner.faces.cli import main

sys.path.insert(0, str(Path(__file__).parents[1] / "app"))
from tiny_passage import DEMO, lay_out

KEYS = ("model.points=6", "model.roll_nodes=1", "model.tracks=control")
COARSE = [*(word for key in KEYS for word in ("--set", key)), "--quiet"]


def test_headings_answers_tables_and_page(demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "made" / "headings.html"
    arguments = ["headings", str(demo), "--at", "day 2 11:00", "--hours", "1", "--step", "45", "--page", str(page)]
    assert main([*arguments, *COARSE]) == 0
    shown = capsys.readouterr()
    assert shown.out.splitlines()[1].startswith(("Hold your course", "Worth it"))
    assert "oming up 20 degrees" in shown.out or "cannot come up" in shown.out
    assert "Which tack to hold" in shown.out
    assert max(len(line) for line in shown.out.splitlines()) <= 110
    shown.out.encode("latin-1")
    assert shown.err == ""
    text = page.read_text(encoding="utf-8")
    assert "<svg" in text
    assert "http" not in text.replace("http-equiv", "")


def test_compare_shows_each_variant(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["compare", str(demo), "--vary", "boat.bank.capacity_ah=300,400", "--jobs", "1"]
    assert main([*arguments, *COARSE]) == 0
    out = capsys.readouterr().out
    assert "capacity_ah=400" in out
    assert "same 21 members" in out


@pytest.mark.parametrize(
    ("arguments", "key", "count"),
    [
        (["headings", "--at", "day 2 11:00", "--hours", "1", "--step", "90"], "options", None),
        (["compare", "--vary", "boat.bank.capacity_ah=300,400", "--jobs", "1"], "rows", 2),
        (["panels"], "aboard", 6),
        (["replan", "--fix", "33.9S 175.3E", "--time", "day 2 10:00", "--soc", "60%"], "changes", 0),
    ],
)
def test_each_study_as_json_alone_on_stdout(
    tmp_path: Path,
    arguments: list[str],
    key: str,
    count: int | None,
    capsys: pytest.CaptureFixture[str],
) -> None:
    verb, *rest = arguments
    passage = lay_out(tmp_path) if verb == "panels" else DEMO / "passage.toml"  # which plans many times: a day
    assert main([verb, str(passage), *rest, *COARSE, "--json"]) == 0
    shown = capsys.readouterr()
    content = json.loads(shown.out)
    assert (content["format"], content["planner_version"]) == (1, __version__)
    assert count is None or len(content[key]) == count
    assert content[key] or count == 0
    assert shown.err == ""


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["headings", "--hours", "99"], "99 is not above 0 and up to 48"),
        (["headings", "--at", "noonish"], "--at: 'noonish' is no moment"),
        (["compare"], "nothing is varied"),
        (["compare", "--vary", "boat.bank.capacity_ah"], "is not KEY=V1,V2"),
        (["compare", "--vary", "boat.bank.capacity_ah=300", "--jobs", "0"], "--jobs: 0 processes cannot be"),
        (["compare", "--variants", "nowhere.toml"], "there is no such file of variants"),
        (["panels", "--rating", "0"], "--rating: 0 W is not 5 to 1000 W"),
        (["replan", "--fix", "33.9S 175.3E", "--time", "day 2 10:00"], "nothing is said of the bank"),
        (
            ["replan", "--fix", "33.9S 175.3E", "--time", "day 2 10:00", "--soc", "0.6", "--failed", "pannels"],
            "--failed: there is no 'pannels'. Did you mean 'panels'?",
        ),
        (
            ["replan", "--fix", "33.9S 175.3E", "--time", "day 2 10:00", "--readings", "nowhere.csv"],
            "nowhere.csv: there is no file",
        ),
        (["replan", "--fix", "x", "--time", "day 2 10:00", "--soc", "0.6"], "--fix: 'x' is no latitude"),
    ],
)
def test_wrong_values_are_status_2_with_the_message(
    demo: Path, arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    verb, *rest = arguments
    assert main([verb, str(demo), *rest, "--quiet"]) == 2
    shown = capsys.readouterr()
    assert words in " ".join(shown.err.split())
    assert shown.out == ""
