"""Findings by hand, as a reconciliation holds them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from planner.domain.results.note import NOTHING
from planner.domain.results.reconcile.courses import Courses
from planner.domain.results.reconcile.findings import (
    BankFinding,
    ClockFinding,
    ControllerFinding,
    Interval,
    LoadFinding,
    Reconciliation,
    SkyFinding,
    Verdict,
)

SINCE = datetime(2027, 5, 10, 22, 0, tzinfo=UTC)
EVEN = Interval(1.0, 0.97, 1.03)
COURSES = Courses(np.empty(0, dtype="datetime64[ns]"), 600.0, (), *(np.empty(0) for _ in range(6)))


def controller(name: str, panels: tuple[str, ...], verdict: Verdict, ratio: Interval | None) -> ControllerFinding:
    return ControllerFinding(
        name, panels, 1.0, verdict, SINCE, ratio, None, 20.0, 0.0, 0.0, 0.0, (), (), (), "by hand"
    )


def bank(capacity: Interval | None) -> BankFinding:
    return BankFinding(capacity, 285.0, tired=False, evidence=NOTHING)


def loads(while_on: Interval | None = None, *, spans: tuple[tuple[str, str], ...] = ()) -> LoadFinding:
    return LoadFinding(
        while_on, while_on is not None, (), 48.0, "by hand", SINCE if while_on else None, spans, while_on
    )


def found(
    *controllers: ControllerFinding, bank_found: BankFinding | None = None, loads_found: LoadFinding | None = None
) -> Reconciliation:
    return Reconciliation(
        boat_file="boat.toml",
        logs=("log.csv",),
        first=datetime(2027, 5, 9, tzinfo=UTC),
        last=datetime(2027, 5, 14, 20, 0, tzinfo=UTC),
        clock=ClockFinding(Interval(0.0, -2.0, 2.0), corrected=False, evidence=NOTHING),
        sky=SkyFinding((), EVEN, "by hand"),
        controllers=controllers,
        loads=loads_found or loads(),
        bank=bank_found or bank(None),
        warnings=(),
        ship_offset=timedelta(hours=12),
        courses=COURSES,
    )
