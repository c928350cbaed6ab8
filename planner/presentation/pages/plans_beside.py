"""Two plans side by side, from what plan.json says of each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from planner.domain.ship_clock import ShipOffset, clock_from
from planner.presentation.drawing.frame import Frame
from planner.presentation.drawing.plots import bank_ticks
from planner.presentation.drawing.time_chart import StripRun, TimeAxis, time_chart
from planner.presentation.words.content import Column, Page, Picture, Table
from planner.presentation.words.hours import clock_changes
from planner.presentation.words.reserve_kept import kept_briefly
from planner.presentation.words.wording import MINUS, duration, moment_words, percent, tens, whole

Content = Mapping[str, Any]
Named = tuple[str, Content]
HOUR_MIN = 60
FIRST, SECOND = "First plan", "Second plan"


def page_of(first: Named, second: Named) -> Page:
    """Return the page.

    Parameters
    ----------
    first, second : tuple of (str, mapping)
        What each plan is called, and the content of its plan.json.
    """
    (one, a), (other, b) = first, second
    return Page(
        title="Two plans side by side",
        answer=(_answer(a, b), f"First plan: {one}.", f"Second plan: {other}."),
        pictures=(_courses(a, b),),
        tables=(_figures(a, b), _days(a, b)),
    )


def _answer(a: Content, b: Content) -> str:
    more = HOUR_MIN * (b["charging_hours"]["planned"] - a["charging_hours"]["planned"])
    if duration(abs(more)) == "none":
        charge = f"Both plans charge for {duration(HOUR_MIN * a['charging_hours']['planned'])}"
    else:
        charge = f"The second plan charges for {duration(abs(more))} {'more' if more > 0 else 'less'} than the first"
    low, other_low = (percent(plan["min_soc"]["planned"]) for plan in (a, b))
    return f"{charge}; the bank is lowest with {low} under the first and with {other_low} under the second."


def _figures(a: Content, b: Content) -> Table:
    rows: list[tuple[str, ...]] = [
        ("Departure", _moment(a, "departure"), _moment(b, "departure"), ""),
        ("Arrival", _moment(a, "arrival"), _moment(b, "arrival"), ""),
        _row("Distance [nm]", a, b, lambda plan: plan["distance_nm"], whole),
        _row("Engine charges", a, b, lambda plan: HOUR_MIN * plan["charging_hours"]["planned"], duration),
        _row("Engine runs in all", a, b, lambda plan: HOUR_MIN * plan["engine_hours"]["planned"], duration),
        _row("Engine starts", a, b, lambda plan: len(plan["engine_windows"]), whole),
        _row("Fuel [L]", a, b, lambda plan: plan["fuel_l"]["planned"], whole),
        _row("Lowest charge [%]", a, b, lambda plan: 100 * plan["min_soc"]["planned"], whole),
        _row("Lowest in one forecast of ten [%]", a, b, lambda plan: 100 * plan["min_soc"]["p10"], whole),
        (
            "Reserve kept, of forecasts not seen",
            *(kept_briefly(plan["reserve_kept"]) for plan in (a, b)),
            "",
        ),
        _row("Solar [Wh a day]", a, b, lambda plan: plan["solar_wh"] / _days_long(plan), tens),
        _row("Load [Wh a day]", a, b, lambda plan: plan["load_wh"] / _days_long(plan), tens),
    ]
    return Table(
        "The figures",
        (Column("As planned", "left"), Column(FIRST), Column(SECOND), Column("Difference")),
        tuple(rows),
    )


def _row(
    name: str, a: Content, b: Content, figure: Callable[[Content], float], words: Callable[[float], str]
) -> tuple[str, ...]:
    one, other = figure(a), figure(b)
    size = words(abs(other - one))
    sign = "" if size in {"0", "none"} else MINUS if other < one else "+"
    return name, words(one), words(other), f"{sign}{size}" if sign else "same"


def _days(a: Content, b: Content) -> Table:
    one, other = ({day["day"]: _day_cells(day) for day in plan["days"]} for plan in (a, b))
    none = ("", "", "")
    rows = tuple(
        (f"Day {number}", *one.get(number, none), *other.get(number, none)) for number in sorted({*one, *other})
    )
    heads = [
        Column(f"{name}: {what}") for name in (FIRST, SECOND) for what in ("lowest charge", "solar [Wh]", "engine")
    ]
    return Table("Day by day", (Column("Day", "left"), *heads), rows)


def _day_cells(day: Content) -> tuple[str, str, str]:
    return (
        percent(day["soc_min"]["planned"]),
        tens(day["solar_wh"]["planned"]),
        duration(HOUR_MIN * day["engine_h"]["planned"]),
    )


def _courses(a: Content, b: Content) -> Picture:
    start = min(_naive(plan["departure"]) for plan in (a, b))
    end = max(_naive(plan["arrival"]) for plan in (a, b))
    first = min(_naive(plan.get("first_departure", plan["departure"])) for plan in (a, b))  # older plans have none

    def hour(moment: str) -> float:
        return (_naive(moment) - start) / timedelta(hours=1)

    def courses(frame: Frame) -> None:
        for css, plan in (("planned", a), ("other", b)):
            rows = plan["policy"]
            frame.line(css, [hour(row["start"]) for row in rows], [100 * row["soc"]["planned"] for row in rows])

    offset = _ship_offset(a)
    time = TimeAxis(
        start + offset,
        (end - start) / timedelta(hours=1),
        clock_changes=clock_changes(start, offset),
        before_h=(start - first) / timedelta(hours=1),
    )
    drawings = time_chart(
        time,
        bank_ticks(min(100 * plan["min_soc"]["planned"] for plan in (a, b))),
        courses,
        label="State of charge of both plans at each change of watch. Their figures follow.",
        unit="%",
        runs=tuple(
            StripRun(css, hour(run["start"]), hour(run["stop"]))
            for css, plan in (("charges", a), ("drives", b))
            for run in plan["engine_windows"]
        ),
        cursor=([0.0], [np.nan]),
    )
    return Picture(
        title="The bank under both",
        caption="State of charge as planned at each change of watch; on the strip the engine's runs, solid under "
        "the first, rungs under the second.",
        legend=(("line planned", FIRST), ("line other", SECOND)),
        drawings=drawings,
    )


def _naive(moment: str) -> datetime:
    """Return a moment of plan.json, which is in UTC, without saying so."""
    return datetime.fromisoformat(moment).replace(tzinfo=None)


def _moment(plan: Content, key: str) -> str:
    return moment_words(datetime.fromisoformat(plan[key]), _ship_offset(plan))


def _ship_offset(plan: Content) -> ShipOffset:
    listed = plan.get("clock_changes", ())  # an older plan has none
    changes = ((datetime.fromisoformat(row["at"]), row["ship_offset_hours"]) for row in listed)
    return clock_from(plan["ship_offset_hours"], changes)


def _days_long(plan: Content) -> float:
    return (_naive(plan["arrival"]) - _naive(plan["departure"])) / timedelta(days=1)
