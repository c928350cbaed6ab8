"""Invented evidence: ten months of an arch whose panels fall off, beside two that do not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from planner.domain.history_results import (
    ClaimedPanel,
    Evidence,
    JudgedDay,
    JudgedLog,
    MonthRatio,
    SetAside,
    Trend,
)
from planner.domain.reconcile_results import Interval

FIRST = datetime(2027, 1, 3, 22, tzinfo=UTC)


def make_trend(controller: str, levels: list[float], weak_since: datetime | None, slope: float | None) -> Trend:
    months = tuple(
        MonthRatio(
            month=f"2027-{number + 1:02d}",
            middle=FIRST + timedelta(days=30.4 * number + 8),
            ratio=Interval(level, level - 0.02, level + 0.02),
            fitted=None if slope is None else Interval(level, level - 0.015, level + 0.015),
            days=8,
            hours=40.0,
        )
        for number, level in enumerate(levels)
    )
    per_year = None if slope is None else Interval(slope, slope - 0.04, slope + 0.04)
    return Trend(controller, months, per_year, 0.031, weak_since)


def make_evidence(months: int = 10, name: str = "arch") -> Evidence:
    levels = [1.0 - 0.015 * number for number in range(months)]
    rng = np.random.default_rng(6)
    days = tuple(
        JudgedDay(name, begins, Interval(ratio, ratio - 0.03, ratio + 0.03), 5.0, 900.0, 950.0, "weak", "ab" * 32)
        for number, level in enumerate(levels)
        for each in range(8)
        for begins in [FIRST + timedelta(days=30.4 * number + 2 * each)]
        for ratio in [float(level + rng.normal(0.0, 0.03))]
    )
    weak = FIRST + timedelta(days=122) if months > 5 else None
    slope = -0.18 if months > 2 else None
    logs = tuple(
        JudgedLog(
            f"days-{number}.nc",
            (f"week {number + 1}.csv",),
            "boat.toml",
            ("ab" if number < 6 else "cd") * 32,
            FIRST,
            tuple(FIRST + timedelta(days=30.4 * number + each) for each in range(16)),
            (SetAside(name, 1.5, 20.0, 12.0),),
        )
        for number in range(months)
    )
    return Evidence(
        trend=make_trend(name, levels, weak, slope),
        panels=(ClaimedPanel("arch port", 200.0, 2.0), ClaimedPanel("arch starboard", 200.0, 2.0)),
        days=days,
        others=(
            make_trend("bimini", [1.01] * months, None, 0.004 if months > 2 else None),
            make_trend("coachroof", [], None, None),
        ),
        logs=logs,
        aside=SetAside(name, 15.0, 200.0, 120.0),
        days_logged=16 * months,
    )
