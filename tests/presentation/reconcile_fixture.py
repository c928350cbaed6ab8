"""Invented findings of a reconcile."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from findings_fixture import reconciliation

from planner.domain.reconcile_results import (
    BankFinding,
    ClockFinding,
    ControllerFinding,
    DayRatio,
    Interval,
    LoadFinding,
    Reconciliation,
    SkyFinding,
    Verdict,
)

DEPARTURE = datetime(2027, 5, 8, 22, tzinfo=UTC)


def make_finding(controller: str, ratio: float, days: tuple[int, ...], verdict: Verdict) -> ControllerFinding:
    return ControllerFinding(
        controller=controller,
        panels=(f"{controller} port",),
        verdict=verdict,
        since=None,
        ratio=Interval(ratio, ratio - 0.02, ratio + 0.02),
        judged_h=5.0 * len(days),
        clipped_h=1.5,
        full_h=8.0,
        shaded_h=3.25,
        days=tuple(
            DayRatio(day, Interval(ratio + 0.01 * day, ratio - 0.02, ratio + 0.03), 5.0, 900.0, 950.0) for day in days
        ),
        by_sun=(),
        evidence="A sentence.",
    )


def make_reconciliation(
    *, days: tuple[int, ...] = (1, 2, 4), ratio: float = 0.9, last_h: float = 90.0, verdict: Verdict = "substring out"
) -> Reconciliation:
    one = Interval(1.0, 0.9, 1.1)
    return Reconciliation(
        boat_file="boat.toml",
        logs=("week 1, \N{LATIN SMALL LETTER E WITH ACUTE}t\N{LATIN SMALL LETTER E WITH ACUTE}.csv", "b.csv"),
        first=DEPARTURE + timedelta(minutes=10),
        last=DEPARTURE + timedelta(hours=last_h),
        clock=ClockFinding(one, False, "right"),
        sky=SkyFinding((), one, "as forecast"),
        controllers=(
            make_finding("arch", ratio, days, verdict),
            make_finding("bimini", 1.0, days[:1], "as expected"),
            make_finding("coachroof", 1.0, (), "cannot tell"),
        ),
        loads=LoadFinding(None, False, (), 0.0, "not read"),
        bank=BankFinding(None, 285.0, None, 0.98, None, False, "not read"),
        warnings=(),
        ship_offset=timedelta(hours=12),
        courses=reconciliation().courses,
    )
