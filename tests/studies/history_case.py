"""Invented histories of judged days."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np

from planner.domain.history_results import History, JudgedDay, JudgedLog, SetAside
from planner.domain.reconcile_results import Interval

FIRST = datetime(2027, 1, 1, 22, tzinfo=UTC)
MONTH_D = 30.4375
NINE_TENTHS = 1.6448536  # standard deviations: half of an interval that holds nine tenths of a normal


def judged(begins: datetime, ratio: float, own: float, controller: str = "arch") -> JudgedDay:
    reach = NINE_TENTHS * own
    interval = Interval(ratio, ratio - reach, ratio + reach)
    return JudgedDay(controller, begins, interval, 5.0, 900.0 * ratio, 900.0, "as expected", "ab" * 32)


def scattered(
    seed: int,
    *,
    months: int,
    days: int,
    level: Callable[[float], float],
    own: float = 0.02,
    day: float = 0.03,
    month: float = 0.0,
    tails: bool = False,
    controller: str = "arch",
) -> tuple[list[JudgedDay], list[float]]:
    """Days whose ratio scatters about a level by the year, and what each month's level truly was at mid-month."""
    rng = np.random.default_rng(seed)
    made, truth = [], []
    for number in range(months):
        shift = rng.normal(0.0, month) if month else 0.0
        begin = FIRST + timedelta(days=MONTH_D * number)
        years = [(begin + timedelta(days=each) - FIRST).total_seconds() / 86400.0 / 365.25 for each in range(days)]
        noise = np.hypot(own, day) * (rng.standard_t(3, days) if tails else rng.normal(size=days))
        made += [
            judged(begin + timedelta(days=each), level(years[each]) + shift + float(noise[each]), own, controller)
            for each in range(days)
        ]
        truth.append(float(np.mean([level(year) for year in years])) + shift)
    return made, truth


def history(*controllers: list[JudgedDay]) -> History:
    days = tuple(day for each in controllers for day in each)
    begins = tuple(sorted({day.begins for day in days}))
    names = tuple(dict.fromkeys(day.controller for day in days))
    aside = tuple(SetAside(name, 1.5, 20.0, 12.0) for name in names)
    log = JudgedLog("days-20270101T2200Z-9.nc", ("log.csv",), "boat.toml", "ab" * 32, FIRST, begins, aside)
    return History(days, (log,))
