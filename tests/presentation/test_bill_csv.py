"""The bill as a table: one row a watch, figures as the rows have them."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from plan_fixture import make_plan

from planner.domain.results.bill import Deferred
from planner.presentation.files.bill_csv import to_csv
from planner.presentation.words.notes import said


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(to_csv(make_plan()), newline="")))


def test_there_is_a_row_a_watch_with_the_rows_figures() -> None:
    plan = make_plan()
    table = rows()
    assert len(table) == len(plan.watches)
    for written, row in zip(table, plan.watches, strict=True):
        assert float(written["bank_soc_planned"]) == pytest.approx(row.soc.planned, abs=1e-4)
        assert int(written["engine_min"]) == row.engine_min
        assert written["reason"] == said(row.reason)


def test_times_are_given_in_utc_and_by_the_ship() -> None:
    first = rows()[0]
    assert first["start_utc"] == "2026-05-09T20:00:00Z"
    assert first["start_ship"] == "2026-05-10T08:00:00"
    assert float(first["ship_offset_h"]) == 12.0


def test_what_there_is_none_of_is_empty() -> None:
    closed = next(row for row, watch in zip(rows(), make_plan().watches, strict=True) if watch.earliest is None)
    assert closed["earliest_utc"] == ""
    assert closed["ladder"] == "no run"


def test_every_column_of_a_quantity_names_its_unit() -> None:
    unitless = {
        "day",
        "drives_in_forecasts",
        "role",
        "tack",
        "ladder",
        "deferrable",
        "reason",
        "start_utc",
        "end_utc",
        "start_ship",
    }
    units = ("_deg", "_kn", "_nm", "_min", "_wh", "_percent", "_v", "_a", "_hours", "_h", "_utc", "_left", "_planned")
    spreads = ("_p10", "_p90")
    assert all(name in unitless or name.endswith((*units, *spreads)) for name in rows()[0])


@pytest.mark.parametrize("role", ["=1+1", "+CMD|x!A0", "-2", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_name_is_read_as_a_formula_by_a_spreadsheet(role: str) -> None:
    plan = make_plan()
    odd = replace(plan, watches=tuple(replace(row, role=role) for row in plan.watches))
    cells = [row["role"] for row in csv.DictReader(io.StringIO(to_csv(odd), newline=""))]
    assert cells == [f"'{role}"] * len(plan.watches)
    load = Deferred(f"{role}pump", plan.watches[0].start, 30, 60)
    loaded = replace(plan, watches=tuple(replace(row, deferrable=(load,)) for row in plan.watches))
    assert all(row["deferrable"].startswith("'") for row in csv.DictReader(io.StringIO(to_csv(loaded), newline="")))


def test_a_name_that_is_no_formula_stays_as_it_is() -> None:
    assert [row["role"] for row in rows()] == [watch.role for watch in make_plan().watches]
