"""What the verbs report of their work: a bar at a terminal, lines elsewhere, nothing when quiet; the shares rise."""

from __future__ import annotations

import io
import sys
from itertools import pairwise

import pytest

from planner.app.stages import HEADINGS, PLANNING, RECONCILING, REPLANNING, WRITING, along
from planner.faces.running import StageLine
from planner.flow.progress import StageShares


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("course", [PLANNING, HEADINGS, REPLANNING, RECONCILING])
def test_the_shares_of_a_course_rise_to_less_than_all(course: StageShares) -> None:
    shares = list(course.values())
    assert shares[0] >= 0.0
    assert all(before <= after for before, after in pairwise(shares))
    assert shares[-1] < WRITING < 1.0


def test_a_stage_is_told_with_its_share_and_an_unknown_one_with_the_last() -> None:
    told: list[tuple[str, float]] = []
    progress = along(lambda stage, share: told.append((stage, share)), {"one": 0.2, "two": 0.6})
    for stage in ("one", "two", "more"):
        progress(stage)
    assert told == [("one", 0.2), ("two", 0.6), ("more", 0.6)]


def test_lines_where_there_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    with StageLine(quiet=False) as on_stage:
        on_stage("reading", 0.0)
        on_stage("writing")
    shown = capsys.readouterr()
    assert shown.err == "reading ...\nwriting ...\n"
    assert shown.out == ""


def test_a_bar_with_stage_share_and_time_at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with StageLine(quiet=False) as on_stage:
        on_stage("casting [shadows]", 0.25)
        assert on_stage._bar is not None
        on_stage._bar.refresh()
        shown = terminal.getvalue()
    assert "casting [shadows]" in shown
    assert "25%" in shown
    assert "0:00:0" in shown


def test_quiet_is_quiet_even_at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with StageLine(quiet=True) as on_stage:
        on_stage("reading", 0.0)
    assert terminal.getvalue() == ""
