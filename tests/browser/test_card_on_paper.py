"""The printed card: one side of paper, and the answer to a reading is found on it."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from planner.presentation.pages.report import render

sys.path.insert(0, str(Path(__file__).parents[1] / "presentation"))
from card_reader import minutes_asked
from failures_fixture import with_failures
from plan_fixture import make_plan, with_card

READINGS = 20  # made readings: a watch of the day and what the meter shows


@pytest.fixture(scope="module")
def printed(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Return the words on each printed side, laid out as they stand."""
    path = tmp_path_factory.mktemp("card") / "report.html"
    path.write_text(render(with_failures(with_card(make_plan()))), encoding="utf-8")
    page = browser.new_context().new_page()
    page.goto(path.as_uri())
    pdf = page.pdf(format="A4", landscape=True)
    page.context.close()
    return [side.extract_text(extraction_mode="layout") for side in PdfReader(io.BytesIO(pdf)).pages]


def test_the_card_is_the_first_side_and_a_day_each_of_the_others_after_the_failure_card(printed: list[str]) -> None:
    plan = make_plan()
    assert len(printed) == 2 + len(plan.days)
    assert printed[0].lstrip().startswith("Card, from Sun 10 May 08:00")
    for words in ("In any watch, at 53 %", "Wake the skipper at 53 %", "Before a start:", "Not by the card:"):
        assert words in " ".join(printed[0].replace("\N{NO-BREAK SPACE}", " ").split()), words
    assert all("Charge by the card." in side for side in printed[2:])


def test_the_failure_card_is_the_second_side(printed: list[str]) -> None:
    words = " ".join(printed[1].replace("\N{NO-BREAK SPACE}", " ").split())
    assert words.startswith("If something fails, from Sun 10 May 08:00 on")
    for each in ("Engine dead", "Bank off the bus", "Allowed: 960 Wh a day", "Never shed:", "the haven is nearer"):
        assert each in words, each


@pytest.mark.parametrize("seed", range(READINGS))
def test_a_reading_finds_what_the_policy_asks_on_paper(printed: list[str], seed: int) -> None:
    rng = np.random.default_rng(seed)
    card = with_card(make_plan()).card
    assert card is not None
    line = card.lines[int(rng.integers(len(card.lines)))]
    reading = int(rng.integers(101))
    lines = printed[0].replace("\N{NO-BREAK SPACE}", " ").splitlines()
    table_ends = next(
        row.index("Engine may run") for row in lines if "Engine may run" in row
    )  # notes stand beside it
    lines = [row[:table_ends] for row in lines]
    wanted = next(rung.minutes for rung in line.ladder if reading >= rung.from_percent)
    assert minutes_asked(lines, line.start, reading) == wanted
