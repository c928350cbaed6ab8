"""Every use of ship's time where the clock is changed under way: each moment by the clock of that moment."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from coarse_demo import COARSE, DEMO, quietly

from planner.app.inputs import read_inputs
from planner.app.typed_values import ShipMoment
from planner.app.verbs.compare import compare
from planner.app.verbs.headings import headings
from planner.app.verbs.replan import replan
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.variants import Variant
from planner.domain.results.plan import Plan
from planner.domain.results.replan import Replan
from planner.domain.ship_clock import ShipClock, offset_at
from planner.flow.plan import plan_from
from planner.presentation.drawing.plots import bank_course
from planner.presentation.outputs import write
from planner.presentation.pages import compare as studies_compare
from planner.presentation.pages import headings as studies_headings
from planner.presentation.pages.plans_beside import page_of
from planner.presentation.words.wording import moment_words
from planner.readers.last_plan import read_last_plan

HOUR = timedelta(hours=1)
KEEPERS = ("first", "second", "third", "fourth", "fifth")
HALVES = [{"start": "00:00", "end": "05:00"}, {"start": "05:00", "end": "14:00"}, {"start": "14:00", "end": "00:00"}]


@lru_cache(maxsize=1)
def in_zones() -> Inputs:
    """The demo by nautical zones, from 12 h before to 12 h behind UTC, five watchkeepers in three watches."""
    more = (
        Override("ship_time.zone", "nautical"),
        Override("watches", HALVES),
        Override("watchkeepers", list(KEEPERS)),
    )
    return read_inputs(DEMO, (*COARSE, *more))


@lru_cache(maxsize=1)
def plan_in_zones() -> Plan:
    return plan_from(in_zones(), progress=quietly)


@lru_cache(maxsize=1)
def as_clocks_ashore_are_put_back() -> Inputs:
    """The demo five weeks earlier, over the Sunday on which New Zealand's clocks are put back an hour."""
    inputs = read_inputs(DEMO, (*COARSE, Override("ship_time.zone", "Pacific/Auckland")))
    departure = datetime.fromisoformat("2027-04-02T10:00:00+13:00")
    shift = np.timedelta64(round((departure - inputs.passage.departure).total_seconds()), "s")
    forecast = inputs.forecast.assign_coords(time=inputs.forecast["time"] + shift)
    forecast.attrs.pop("issued", None)
    return replace(
        inputs,
        passage=inputs.passage.model_copy(update={"departure": departure}),
        forecast=forecast,
        ship_offset=13 * HOUR,
    )


@pytest.fixture(scope="module")
def last(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("last")
    write(plan_in_zones(), folder)
    return folder


@lru_cache(maxsize=2)
def replanned(last: Path | None) -> Replan:
    """From the foreseen place and charge on the seventh day at the change of watch at 14:00."""
    plan = plan_in_zones()
    step = next(
        int(first)
        for first, row in zip(plan.policy.first_step, plan.watches, strict=True)
        if row.day >= 7 and f"{row.start + plan.ship_offset:%H:%M}" == "14:00"
    )
    day = 1 + (step * 10) // 1440
    return replan(
        in_zones(),
        fix=(float(plan.track["lat"][step]), float(plan.track["lon"][step])),
        time=ShipMoment(day, 14, 0),
        soc=float(plan.planned["bank_soc"][0, step]),
        last=last,
    )


def test_headings_are_held_from_the_ships_time_asked_for_and_say_so() -> None:
    fan = headings(as_clocks_ashore_are_put_back(), at="day 3 09:30", hours=1.0, step_deg=90.0)
    assert isinstance(fan.ship_offset, ShipClock)
    assert fan.start == datetime(2027, 4, 3, 21, 30, tzinfo=UTC)  # twelve hours before ship's time, not thirteen
    assert "Sun 4 Apr 09:30" in studies_headings.page_of(fan).title


def test_charts_and_their_readings_keep_the_clock_of_each_hour() -> None:
    plan = plan_from(as_clocks_ashore_are_put_back(), progress=quietly)
    figure = bank_course(plan)
    hours = [reading.split(": ")[0].split(", ")[1][-5:] for reading in figure.readings[:48]]
    assert hours.count("02:00") == 3  # clocks go back from three to two in the second night
    first_day = str(figure.drawings[0])
    assert first_day.count("Sun 4 Apr") == 1


def test_the_rest_of_the_plan_begins_with_the_clock_that_she_has_come_to(last: Path) -> None:
    rest, plan = replanned(last).plan, plan_in_zones()
    assert isinstance(plan.ship_offset, ShipClock)
    assert plan.ship_offset.changes[-1][0] < rest.passage.departure
    assert rest.ship_offset == offset_at(plan.ship_offset, rest.passage.departure) == -12 * HOUR
    assert "date_twice" not in [note.code for note in rest.warnings]


@pytest.mark.parametrize("with_last", [True, False])
def test_watches_go_on_with_their_keepers_in_turn(last: Path, with_last: bool) -> None:
    rest = replanned(last if with_last else None).plan
    stood = {row.start: row.role for row in plan_in_zones().watches}
    ahead = [(row.start, row.role) for row in rest.watches]
    assert len(ahead) > 3
    assert ahead == [(start, stood[start]) for start, _ in ahead]


def test_variants_arrive_by_the_clock_that_each_has_then() -> None:
    fixed = Variant(name="fixed clock", set={"ship_time.zone": "Pacific/Auckland"})
    comparison = compare(in_zones(), variants=[fixed])
    arrival = plan_in_zones().arrival
    rows = {row[0]: row[-1] for row in studies_compare.page_of(comparison).tables[0].rows}
    assert rows["as filed"] == moment_words(arrival, -12 * HOUR)
    assert rows["fixed clock"] == moment_words(arrival, 12 * HOUR)


def test_the_clock_is_read_back_and_two_plans_arrive_by_it(last: Path) -> None:
    plan = plan_in_zones()
    assert read_last_plan(last).ship_offset == plan.ship_offset
    content = json.loads((last / "plan.json").read_text())
    figures, *_ = page_of(("one", content), ("other", content)).tables
    words = {row[0]: row[1] for row in figures.rows}
    assert words["Departure"] == moment_words(plan.passage.departure, 12 * HOUR)
    assert words["Arrival"] == moment_words(plan.arrival, -12 * HOUR)
