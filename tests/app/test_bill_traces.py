"""Each figure of a watch traces to the plan: change the value, and each form that shows it changes."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from coarse_demo import coarse_plan

from planner.domain.results.bill import Deferred, EngineDead, Rung, Stop, WatchRow
from planner.domain.results.figures import Count, Spread
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.presentation.files.bill_csv import to_csv
from planner.presentation.files.calendar import to_calendar
from planner.presentation.pages.report import render as render_report
from planner.presentation.words.bill.terminal import render as render_terminal

HOUR = timedelta(hours=1)
FORMS: dict[str, Callable[[Plan], object]] = {
    "terminal": partial(render_terminal, all_days=True),
    "report": render_report,
    "csv": to_csv,
    "calendar": to_calendar,
}
ALL = ("terminal", "report", "csv", "calendar")
PRINTED = ("terminal", "report", "csv")


def shifted(spread: Spread, by: float, *names: str) -> Spread:
    return dataclasses.replace(spread, **{name: getattr(spread, name) + by for name in names or ("planned",)})


def with_stop(row: WatchRow, **change: int) -> Stop:
    return dataclasses.replace(row.stop, **change)


def spread_of(name: str, by: float, *parts: str) -> Callable[[WatchRow], dict[str, Any]]:
    return lambda row: {name: shifted(getattr(row, name), by, *parts)}


# field, what else tells the case apart, the change, the forms that show the figure
CASES: tuple[tuple[str, Callable[[WatchRow], dict[str, Any]], tuple[str, ...]], ...] = (
    ("day", lambda row: {"day": row.day + 1}, ALL),
    ("start", lambda row: {"start": row.start + HOUR}, ALL),
    ("end", lambda row: {"end": row.end + HOUR}, ("report", "csv", "calendar")),
    ("role", lambda _: {"role": "stowaway"}, ALL),
    ("heading_magnetic_deg", lambda row: {"heading_magnetic_deg": (row.heading_magnetic_deg + 40.0) % 360}, PRINTED),
    ("wind_from_deg", lambda row: {"wind_from_deg": (row.wind_from_deg + 40.0) % 360.0}, PRINTED),
    ("wind_kn", lambda row: {"wind_kn": row.wind_kn + 7.0}, PRINTED),
    ("tack", lambda row: {"tack": -row.tack}, ("report", "csv")),
    ("under_engine_min", lambda row: {"under_engine_min": row.under_engine_min + 50}, ("report", "csv")),
    ("drives_in", lambda _: {"drives_in": Count(13, 21)}, PRINTED),
    ("parted_nm", lambda row: {"parted_nm": (row.parted_nm or 0.0) + 20.0}, ("csv",)),
    ("soc", spread_of("soc", 0.07), ALL),
    ("soc.p10", spread_of("soc", -0.07, "p10"), PRINTED),
    ("soc.p90", spread_of("soc", 0.07, "p90"), PRINTED),
    ("solar_wh", spread_of("solar_wh", 130.0), PRINTED),
    ("load_wh", spread_of("load_wh", 130.0), PRINTED),
    ("engine_min", lambda row: {"engine_min": row.engine_min + 50}, ("report", "csv")),
    ("earliest", lambda row: {"earliest": row.earliest + HOUR}, PRINTED),
    ("ladder", lambda _: {"ladder": (Rung(83, 0), Rung(0, 170))}, ALL),
    ("stop.soc_percent", lambda row: {"stop": with_stop(row, soc_percent=row.stop.soc_percent - 3)}, ALL),
    ("stop.amp_hours", lambda row: {"stop": with_stop(row, amp_hours=row.stop.amp_hours + 7)}, ALL),
    ("stop.tail_a", lambda row: {"stop": with_stop(row, tail_a=row.stop.tail_a + 3)}, ALL),
    ("charge_current_a", lambda row: {"charge_current_a": (row.charge_current_a or 0.0) + 11.0}, ALL),
    ("deferrable", lambda row: {"deferrable": (Deferred("ice maker", row.start, 30, 70),)}, PRINTED),
    ("wake_soc_percent", lambda row: {"wake_soc_percent": row.wake_soc_percent + 4}, ("report", "csv", "calendar")),
    ("wake_v", lambda row: {"wake_v": row.wake_v + 0.4}, ALL),
    ("wake_a", lambda row: {"wake_a": row.wake_a + 7.0}, ("report", "csv", "calendar")),
    ("wake_min", lambda row: {"wake_min": row.wake_min + 20}, ("csv", "calendar")),
    ("dead.hours_left", lambda row: {"dead": EngineDead(3.0, row.dead.find_out_by)}, ("report", "csv")),
    ("dead.find_out_by", lambda row: {"dead": EngineDead(row.dead.hours_left or 9.0, row.start + 2 * HOUR)}, PRINTED),
    ("skip_cost_min", lambda row: {"skip_cost_min": row.skip_cost_min + 40}, PRINTED),
    ("reason", lambda _: {"reason": Note("heel", {"max_heel_deg": 77.0})}, ALL),
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return a plan whose watches show the ladders that they have: by the card they show where they part from it."""
    return dataclasses.replace(coarse_plan(), card=None)


def place_of(plan: Plan) -> int:
    """Return a planned run that opens a day: what the terminal heads a day with is then this watch's."""
    return next(
        place
        for place, row in enumerate(plan.watches)
        if place == 0 or row.day != plan.watches[place - 1].day
        if row.earliest is not None and any(rung.minutes for rung in row.ladder)
    )


def test_every_field_of_a_watch_is_traced() -> None:
    assert {case[0].split(".")[0] for case in CASES} == {field.name for field in dataclasses.fields(WatchRow)}


@pytest.mark.parametrize(("field", "change", "forms"), CASES, ids=[case[0] for case in CASES])
def test_a_changed_figure_changes_every_form_that_shows_it(
    plan: Plan,
    field: str,
    change: Callable[[WatchRow], dict[str, Any]],
    forms: tuple[str, ...],
) -> None:
    place = place_of(plan)
    row = dataclasses.replace(plan.watches[place], engine_min=plan.watches[place].engine_min or 60)
    base = dataclasses.replace(plan, watches=(*plan.watches[:place], row, *plan.watches[place + 1 :]))
    other = dataclasses.replace(row, **change(row))
    changed = dataclasses.replace(plan, watches=(*plan.watches[:place], other, *plan.watches[place + 1 :]))
    for form in forms:
        assert FORMS[form](changed) != FORMS[form](base), f"{form} does not show {field}"
