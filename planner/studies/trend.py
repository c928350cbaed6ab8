"""Each controller's yield over the expected by month, and a line through the months with an honest interval.

Days err by more than their own intervals say: the sky of a day errs alike in all its hours. So a month's interval
goes by the scatter of days about their months, and the line's by the scatter of months about it (a random-effects
line, with the t interval of Knapp and Hartung 2003, Statistics in Medicine 22:2693, doi:10.1002/sim.1482). Outlying
days and months are weighed down as Huber does (1964, Annals of Mathematical Statistics 35:73,
doi:10.1214/aoms/1177703732).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import groupby
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.history_results import History, JudgedDay, MonthRatio, Trend
from planner.domain.reconcile_results import LEVEL, Interval

Floats = npt.NDArray[np.float64]

HUBER: Final = 1.345  # 1: keeps 95 % of the efficiency of the mean where nothing outlies (Huber 1964)
EFFICIENCY: Final = 0.95  # 1, of the same
MAD_TO_SD: Final = 1.4826  # 1, of a normal distribution
CLIP_AT: Final = 3.0  # 1, robust deviations beyond which a day is taken for wild
FEW: Final = 6  # d: of so few the median deviation is too unsteady to clip by
LEAST_MONTHS: Final = 3  # two points lie on any line
WEAK_UNDER: Final = 0.97  # 1: what a display's scale and the model's bias may take without a fault (common practice)
WEAK_DAYS: Final = 5  # d judged that a weak stretch needs
ROUNDS: Final = 50
NORMAL_REACH: Final = NormalDist().inv_cdf(0.5 + LEVEL / 2.0)  # standard deviations that hold ``LEVEL`` of a normal
YEAR_S: Final = 365.25 * 86400.0  # s, Julian year


def trends(history: History) -> tuple[Trend, ...]:
    """Return the trend of each controller, in the history's order.

    Parameters
    ----------
    history : History
    """
    return tuple(
        trend(controller, [day for day in history.days if day.controller == controller])
        for controller in history.controllers()
    )


def trend(controller: str, days: Sequence[JudgedDay]) -> Trend:
    """Return one controller's trend.

    Parameters
    ----------
    controller : str
    days : sequence of JudgedDay
        Its own, in order of time.
    """
    if not days:
        return Trend(controller, (), None, 0.0, None)
    groups = [list(group) for _, group in groupby(days, key=_month)]
    ratio = [np.array([day.ratio.value for day in group]) for group in groups]
    own = [np.array([_deviation(day.ratio) for day in group]) for group in groups]
    scatter, freedom = _day_scatter(ratio, own)
    reach = _reach(freedom)
    months = []
    for group, values, errors in zip(groups, ratio, own, strict=True):
        variance = errors**2 + scatter**2
        weight = 1.0 / np.maximum(variance, 1e-12)
        middle = _robust_mean(values, weight)
        error = float(np.sqrt(1.0 / weight.sum() / (EFFICIENCY if len(group) > 1 else 1.0)))
        seconds = np.array([day.begins.timestamp() + 43200.0 for day in group])
        at = datetime.fromtimestamp(float(np.average(seconds, weights=weight)), tz=UTC)
        interval = Interval(middle, middle - reach * error, middle + reach * error)
        hours = sum(day.hours for day in group)
        months.append(MonthRatio(_month(group[0]), at, interval, None, len(group), hours))
    per_year, fitted = _line(months, reach)
    told = tuple(
        MonthRatio(one.month, one.middle, one.ratio, there, one.days, one.hours)
        for one, there in zip(months, fitted, strict=True)
    )
    return Trend(controller, told, per_year, scatter, _weak_since(told, groups))


def _month(day: JudgedDay) -> str:
    return f"{day.begins + timedelta(hours=12):%Y-%m}"


def _deviation(interval: Interval) -> float:
    return (interval.high - interval.low) / 2.0 / NORMAL_REACH


def _reach(freedom: int) -> float:
    """Return how many standard errors an interval at ``LEVEL`` reaches; with no freedom left, a normal's."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + LEVEL / 2.0)) if freedom > 0 else NORMAL_REACH


def _robust_mean(values: Floats, weight: Floats) -> float:
    """Return Huber's mean of values (n,) with weights (n,), each over its variance."""
    middle = float(np.median(values))
    for _ in range(ROUNDS):
        off = np.abs(values - middle) * np.sqrt(weight)
        held = weight * np.minimum(1.0, HUBER / np.maximum(off, 1e-12))
        later = float(np.average(values, weights=held))
        if abs(later - middle) < 1e-9:
            break
        middle = later
    return middle


def _day_scatter(ratio: Sequence[Floats], own: Sequence[Floats]) -> tuple[float, int]:
    """Return the deviation of days about their months beyond their own errors [1], and its degrees of freedom.

    The residuals are those about each month's median, scaled for what that takes of them, and clipped at three of
    their robust deviations, so that a few wild days do not pass for the usual scatter.
    """
    rest = [
        (values - np.median(values)) * np.sqrt(values.size / (values.size - 1)) for values in ratio if values.size > 1
    ]
    freedom = sum(values.size - 1 for values in ratio if values.size > 1)
    if not freedom:
        return 0.0, 0
    residual = np.concatenate(rest)
    bound = CLIP_AT * MAD_TO_SD * float(np.median(np.abs(residual)))
    held = np.clip(residual, -bound, bound) if bound > 0.0 and residual.size > FEW else residual
    whole = float(np.mean(held**2))
    expected = float(np.mean(np.concatenate([errors for errors in own if errors.size > 1]) ** 2))
    return float(np.sqrt(max(0.0, whole - expected))), freedom


def _line(months: Sequence[MonthRatio], reach: float) -> tuple[Interval | None, list[Interval | None]]:
    """Return the slope a year, and the line at each month's middle."""
    if len(months) < LEAST_MONTHS:
        return None, [None] * len(months)
    year = np.array([one.middle.timestamp() for one in months]) / YEAR_S
    value = np.array([one.ratio.value for one in months])
    variance = np.array([((one.ratio.high - one.ratio.low) / 2.0 / reach) ** 2 for one in months])
    freedom = len(months) - 2
    weight = 1.0 / np.maximum(variance + _between(year, value, variance), 1e-12)
    for _ in range(ROUNDS):
        level, slope, centre = _fit(year, value, weight)
        off = np.abs(value - level - slope * (year - centre)) * np.sqrt(weight)
        held = weight * np.minimum(1.0, HUBER / np.maximum(off, 1e-12))
        moved = abs(_fit(year, value, held)[1] - slope)
        level, slope, centre = _fit(year, value, held)
        if moved < 1e-9:
            break
    residual = value - level - slope * (year - centre)
    # Knapp and Hartung's scale, not below what the months' own errors ask for
    scale = max(1.0, float(np.sum(weight * residual**2)) / freedom)
    spread = float(np.sum(held * (year - centre) ** 2))
    times = _reach(freedom)
    slope_error = times * float(np.sqrt(scale / spread))
    fitted: list[Interval | None] = []
    for at in year:
        error = times * float(np.sqrt(scale * (1.0 / held.sum() + (at - centre) ** 2 / spread)))
        there = float(level + slope * (at - centre))
        fitted.append(Interval(there, there - error, there + error))
    return Interval(slope, slope - slope_error, slope + slope_error), fitted


def _fit(x: Floats, y: Floats, weight: Floats) -> tuple[float, float, float]:
    """Return level, slope and centre of a weighted line."""
    centre = float(np.average(x, weights=weight))
    level = float(np.average(y, weights=weight))
    slope = float(np.sum(weight * (x - centre) * (y - level)) / np.sum(weight * (x - centre) ** 2))
    return level, slope, centre


def _between(x: Floats, y: Floats, variance: Floats) -> float:
    """Return the variance between months beyond their own, by Paule and Mandel (1982, NBS J. Res. 87:377)."""
    from scipy.optimize import brentq

    def excess(between: float) -> float:
        weight = 1.0 / np.maximum(variance + between, 1e-12)
        level, slope, centre = _fit(x, y, weight)
        return float(np.sum(weight * (y - level - slope * (x - centre)) ** 2)) - (x.size - 2)

    most = 10.0 * float(np.var(y)) + 1e-9
    if excess(0.0) <= 0.0 or excess(most) >= 0.0:
        return 0.0
    return float(brentq(excess, 0.0, most))


def _weak_since(months: Sequence[MonthRatio], groups: Sequence[Sequence[JudgedDay]]) -> datetime | None:
    first = len(months)
    while first and months[first - 1].ratio.high < WEAK_UNDER:
        first -= 1
    if sum(one.days for one in months[first:]) < WEAK_DAYS:
        return None
    return groups[first][0].begins
