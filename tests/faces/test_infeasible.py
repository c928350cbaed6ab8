"""What cannot be is planned as far as it goes and explained; what makes no sense is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from planner.faces.cli import main


def planned(demo: Path, out: Path, capsys: pytest.CaptureFixture[str], *overrides: str) -> tuple[str, dict]:
    """Plan with overrides; return the warnings as one text, and plan.json."""
    settings = [word for text in ("model.points=8", *overrides) for word in ("--set", text)]
    assert main(["plan", str(demo), "--out", str(out), *settings]) == 0
    assert capsys.readouterr().out
    plan = json.loads((out / "plan.json").read_text())
    return " ".join(plan["warnings"]), plan


def refused(demo: Path, out: Path, capsys: pytest.CaptureFixture[str], *overrides: str) -> str:
    settings = [word for text in overrides for word in ("--set", text)]
    assert main(["plan", str(demo), "--out", str(out), *settings]) == 2
    assert not out.exists()
    return capsys.readouterr().err


def test_an_engine_out_of_service_neither_charges_nor_drives(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words, plan = planned(demo, tmp_path / "out", capsys, "boat.engine.available=false")
    assert plan["engine_hours"]["p90"] == plan["fuel_l"]["p90"] == 0.0
    assert plan["engine_windows"] == []
    assert all(row["under_engine_min"] == 0 and row["earliest"] is None for row in plan["policy"])
    assert all(row["reason"].startswith("Engine out of service.") for row in plan["policy"])
    assert "The engine is out of service." in words
    assert "saves it, if begun by" in words
    assert plan["min_soc"]["planned"] < 0.3


@pytest.mark.parametrize("ampere", ["0", "2"])
def test_a_dead_alternator_is_not_run_for(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], ampere: str
) -> None:
    words, plan = planned(demo, tmp_path / "out", capsys, f"boat.engine.alternator_a={ampere}")
    assert plan["charging_hours"]["p90"] == 0.0
    assert plan["engine_hours"]["planned"] > 0.0  # it still drives the boat
    assert "The alternator adds too little for any run to be worth it." in words


def test_a_tiny_bank_says_that_nothing_saves_it(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words, plan = planned(demo, tmp_path / "out", capsys, "boat.bank.capacity_ah=15")
    assert plan["reserve_kept"]["kept"] == 0
    assert "cannot be kept as surely as asked" in words
    assert "the first on Sun 9 May" in words
    assert "Shedding every load that may be shed does not save it" in words


def test_too_little_fuel_says_when_it_is_used_up_and_what_it_is_enough_for(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words, plan = planned(demo, tmp_path / "out", capsys, "boat.engine.tank_l=40")
    assert plan["fuel_l"]["planned"] > 10.0
    assert "as planned it is used up on" in words
    assert "6.2 h of charging" in words  # 10 L above what landfall needs at 1.6 L an hour


def test_quiet_hours_round_the_clock_are_refused(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = refused(demo, tmp_path / "out", capsys, 'wishes.quiet_hours=[["00:00", "00:00"]]')
    assert "wishes.quiet_hours: they leave 0 min a day in which the engine may charge" in words
    assert "Shorten the quiet hours, or set engine.available = false." in words


def test_a_shortest_run_over_the_longest_is_refused(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = refused(demo, tmp_path / "out", capsys, "boat.engine.min_run_min=240")
    assert "engine.min_run_min: 240 min is more than max_run_min, 180 min. Swap the two?" in words


def test_watches_that_do_not_fill_the_day_or_overlap_are_refused(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    watches = '[{start="00:00", end="08:00", role="a"}, {start="10:00", end="18:00", role="b"}, '
    words = refused(demo, tmp_path / "out", capsys, f'watches={watches}{{start="17:00", end="00:00", role="a"}}]')
    assert "nobody is on watch 08:00-10:00 ship's time. Let the watches fill the day." in words
    assert "2 watches overlap 17:00-18:00 ship's time. End each watch where the next begins." in words


def test_keepers_in_turn_reach_the_bill(demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    starts = ["00:00", "05:00", "10:00", "15:00", "20:00"]
    spans = ", ".join(
        f'{{start="{start}", end="{end}"}}' for start, end in zip(starts, [*starts[1:], "00:00"], strict=True)
    )
    _, plan = planned(demo, tmp_path / "out", capsys, f"watches=[{spans}]", 'watchkeepers=["mate", "skipper"]')
    roles = [row["role"] for row in plan["policy"]]
    assert roles[:7] == ["mate", "skipper", "mate", "skipper", "mate", "skipper", "mate"]
    assert plan["policy"][5]["start"] == "2027-05-09T22:00:00Z"  # 10:00 a day on, the other one's turn
