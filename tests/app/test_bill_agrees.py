"""The first three days of the demo's bill, read as a new user would: what to do at six readings of the meter.

Terminal, report, table and calendar must all say what the policy says.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from icalendar import Calendar

from planner.app.inputs import read_inputs
from planner.app.verbs.plan import plan as make_plan
from planner.domain.results.bill import WatchRow
from planner.domain.results.plan import Plan
from planner.presentation.files.bill_csv import to_csv
from planner.presentation.files.calendar import to_calendar
from planner.presentation.pages.report import render as render_report
from planner.presentation.words.bill.terminal import render as render_terminal
from planner.readers.config import parse_override

sys.path.insert(0, str(Path(__file__).parents[1] / "presentation"))
from card_reader import minutes_asked

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
READINGS = (12, 28, 37, 52, 66, 90)
DAYS = 3
NO_LADDER = {"no run", "under engine", "no charging"}


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the demo with a card."""
    return make_plan(read_inputs(DEMO, [parse_override(text) for text in ["model.points=15"]]))


@pytest.fixture(scope="module")
def own(plan: Plan) -> Plan:
    """Return the same, each watch to be printed with its ladder."""
    return replace(plan, card=None)


def rows(plan: Plan) -> list[WatchRow]:
    return [row for row in plan.watches if row.day <= DAYS]


def asked(rungs: list[str], reading: int) -> int:
    """Return what a reader does at a reading: find the one rung that holds it."""
    if rungs[0] in NO_LADDER:
        return 0
    return minutes_asked([f"00:00-04:00 {rungs[0]}", *rungs[1:]], "00:00", reading)


def on_terminal(plan: Plan) -> list[list[str]]:
    """Return the rungs of each watch from the last column of the schedule."""
    watches: list[str] = []
    column = engine = None
    for line in render_terminal(plan, all_days=True).splitlines():
        if line.startswith("from "):
            column, engine = line.index("by the meter"), line.index("engine")
        elif column is not None and re.match(r"\d\d:\d\d  ", line):
            watches.append(line[column:].strip())
        elif column is not None and watches and len(line) > column and not line[:engine].strip():
            watches[-1] += f" / {line[column:].strip()}"
    return [[word for word in re.split(r" / ", watch) if not re.match(r"stop|from", word)] for watch in watches]


def on_report(plan: Plan) -> list[list[str]]:
    """Return the rungs of each watch from the pages for printing."""
    page = render_report(plan)
    cells = re.findall(r'class="ladder">(.*?)</td>', page[page.index('<section id="bill"') :], re.DOTALL)
    watches = []
    for cell in cells:
        rungs = [
            f"{at} {action}".replace("\xa0", " ")
            for at, action in re.findall(r"<span>(.*?)</span> <b>(.*?)</b>", cell)
        ]
        watches.append(
            [rung.removeprefix("any ") if rung.endswith(("engine", "charging")) else rung for rung in rungs]
        )
    return watches


def in_table(plan: Plan) -> list[list[str]]:
    return [row["ladder"].split(" / ") for row in csv.DictReader(io.StringIO(to_csv(plan)))]


def in_calendar(plan: Plan) -> list[list[str]]:
    events = Calendar.from_ical(to_calendar(plan)).walk("VEVENT")
    watches = [event for event in events if str(event["summary"]).startswith("Watch")]
    watches.sort(key=lambda event: event["dtstart"].dt)
    words = [re.search(r"by the meter: (.*?)\.\n", str(event["description"])) for event in watches]
    return [found.group(1).split(" / ") for found in words]


@pytest.mark.parametrize("read", [on_terminal, on_report, in_table, in_calendar])
def test_six_readings_a_watch_ask_for_what_the_policy_says(
    own: Plan, read: Callable[[Plan], list[list[str]]]
) -> None:
    plan, ladders = own, read(own)
    assert len(ladders) == len(plan.watches)
    for epoch, row in enumerate(rows(plan)):
        steps = slice(int(plan.policy.first_step[epoch]), int(plan.policy.end_step[epoch]))
        open_at_all = bool(plan.policy.allowed[steps].any())
        for reading in READINGS:
            wanted = int(plan.policy.minutes[epoch, reading]) if open_at_all else 0
            assert asked(ladders[epoch], reading) == wanted, f"{row.start}, {reading} %, {ladders[epoch]}"


def test_the_card_and_the_watches_apart_ask_for_what_the_policy_says(plan: Plan) -> None:
    assert plan.card is not None
    assert plan.policy.standing is not None
    text = render_terminal(plan)
    lines = text[text.index("Card for every day") : text.index("In any watch")].splitlines()
    apart = dict(
        zip(plan.card.apart, re.findall(r"Not by the card: (.*?); stop at", " ".join(text.split())), strict=True)
    )
    for epoch, row in enumerate(plan.watches):
        steps = plan.voyage.epoch_steps(epoch)
        clock = f"{plan.voyage.ship_time(steps.start):%H:%M}"
        watch = next(line for line in plan.card.lines if line.start <= clock < line.end.replace("00:00", "24:00"))
        for reading in range(plan.policy.standing.start_percent + 1, 101):
            if epoch in apart:
                told = asked(apart[epoch].split(": ", 1)[1].split("; "), reading)
            else:
                told = minutes_asked(lines, watch.start, reading)
            wanted = int(plan.policy.minutes[epoch, reading])
            assert told == wanted, f"{row.start}, {reading} %"


def test_the_readings_tell_ladders_apart(plan: Plan) -> None:
    actions = {int(plan.policy.minutes[epoch, reading]) for epoch, _ in enumerate(rows(plan)) for reading in READINGS}
    assert len(actions) >= 4
