"""The first three days of the demo's bill, read as a new user would: what to do at six readings of the meter.

Terminal, report, table and calendar must all say what the policy says.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
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
from planner.presentation.words.terminal import render as render_terminal
from planner.readers.config import parse_override

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
READINGS = (12, 28, 37, 52, 66, 90)
DAYS = 3
NO_LADDER = {"no run", "under engine", "no charging", "any skip"}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(read_inputs(DEMO, [parse_override(text) for text in ["model.points=15"]]))


def rows(plan: Plan) -> list[WatchRow]:
    return [row for row in plan.watches if row.day <= DAYS]


def minutes_of(action: str) -> int:
    """Return '1 h 30', '45 min' or 'skip' in minutes."""
    if action == "skip":
        return 0
    hours, minutes = re.fullmatch(r"(?:(\d+) h)? ?(?:(\d+)(?: min)?)?", action).groups()
    return 60 * int(hours or 0) + int(minutes or 0)


def asked(rungs: list[str], reading: int) -> int:
    """Return what a reader does at a reading: find the one rung that holds it."""
    if rungs[0] in NO_LADDER:
        return 0
    holding = []
    for rung in rungs:
        at, action = rung.split(" ", 1)
        bands = {
            r"any": lambda: (0, 100),
            r"(\d+)\+": lambda low: (int(low), 100),
            r"<(\d+)": lambda top: (0, int(top) - 1),
            r"(\d+)-(\d+)": lambda low, top: (int(low), int(top)),
            r"(\d+)": lambda only: (int(only), int(only)),
        }
        low, top = next(
            band(*match.groups()) for pattern, band in bands.items() if (match := re.fullmatch(pattern, at))
        )
        if low <= reading <= top:
            holding.append(minutes_of(action))
    assert len(holding) == 1, f"{reading} % stands on {len(holding)} rungs of {rungs}"
    return holding[0]


def on_terminal(plan: Plan) -> list[list[str]]:
    """Return the rungs of each watch from the last column of the schedule."""
    watches: list[str] = []
    column = engine = None
    for line in render_terminal(plan).splitlines():
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
        rungs = []
        for at, action in re.findall(r"<span>(.*?)</span> <b>(.*?)</b>", cell):
            words = at.replace("\xa0", " ").replace("\u2013", "-").replace(" %", "")
            words = re.sub(r"^(\d+) or more$", r"\1+", re.sub(r"^below ", "<", words))
            rungs.append(f"{words} {action.replace(chr(160), ' ')}")
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
    plan: Plan, read: Callable[[Plan], list[list[str]]]
) -> None:
    ladders = read(plan)
    assert len(ladders) == len(plan.watches)
    for epoch, row in enumerate(rows(plan)):
        steps = slice(int(plan.policy.first_step[epoch]), int(plan.policy.end_step[epoch]))
        open_at_all = bool(plan.policy.allowed[steps].any())
        for reading in READINGS:
            wanted = int(plan.policy.minutes[epoch, reading]) if open_at_all else 0
            assert asked(ladders[epoch], reading) == wanted, f"{row.start}, {reading} %, {ladders[epoch]}"


def test_the_readings_tell_ladders_apart(plan: Plan) -> None:
    actions = {int(plan.policy.minutes[epoch, reading]) for epoch, _ in enumerate(rows(plan)) for reading in READINGS}
    assert len(actions) >= 4
