"""One change in a series of hourly figures: when, how much, and whether chance would make it.

Hours of one day err together, so a day counts for little more than one figure. How much hours and days err is read
from the series itself, held by what is usual.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints

LEAST_HOURS: Final = 3  # figures on either side of a change
USUAL_DAY: Final = 0.012  # 1, standard deviation of a day's own error; the project's own
DAY_GRID: Final = np.array([0.004, 0.007, 0.012, 0.02, 0.035, 0.06, 0.1])  # 1
HOUR_GRID: Final = np.array([0.6, 1.0, 1.6, 2.5, 4.0])  # 1, factor on the hours' stated errors
OUTLYING: Final = 2.5  # 1, standard deviations from which on an hour counts for less
REREAD: Final = 2  # times
PRIOR_WIDTH: Final = 0.7  # 1, standard deviation of the logarithm of either


@dataclass(frozen=True, eq=False)
class Series:
    """Hourly figures of one controller.

    Attributes
    ----------
    time : array of datetime64 (hour,)
        Their beginnings, rising.
    value, sd : array (hour,)
        Logarithm of read over expected, and the standard deviation that goes with the hour [1].
    day : int array (hour,)
        Hours of the same number err together.
    """

    time: npt.NDArray[np.datetime64]
    value: Floats
    sd: Floats
    day: Ints


@dataclass(frozen=True, eq=False)
class Errors:
    """How a series errs: the factor on the hours' standard deviations, and the days' own [1]."""

    hour: float
    day: float

    def covariance(self, series: Series) -> Floats:
        """Return the covariance of the hours (hour, hour)."""
        together = series.day[:, None] == series.day[None, :]
        return np.asarray(np.diag((self.hour * series.sd) ** 2) + self.day**2 * together, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Change:
    """The likeliest single change of a series.

    Attributes
    ----------
    at : int
        First hour after it.
    size : float
        After less before [1].
    before, before_sd, after, after_sd : float
        Levels [1].
    errors : Errors
        That the series was read with.
    slope_better_by : float
        Logarithm of the likelihood of a steady slope over that of the step.
    z : float
        Size over its standard deviation, the least that is left without the last hour before it, or the first after:
        one odd hour makes no change [1].
    """

    at: int
    size: float
    before: float
    before_sd: float
    after: float
    after_sd: float
    errors: Errors
    slope_better_by: float
    z: float


def find_change(series: Series, *, usual_day: float = USUAL_DAY) -> Change | None:
    """Return the likeliest single change, None where the series is too short for one.

    An hour far off the two levels counts for less when they are read again.
    """
    splits = np.arange(LEAST_HOURS, series.value.size - LEAST_HOURS + 1)
    if splits.size == 0:
        return None
    change = _likeliest(series, splits, usual_day)
    for _ in range(REREAD):
        after = np.arange(series.value.size) >= change.at
        tamed = _tamed(series, np.where(after, change.after, change.before), change.errors)
        change = _likeliest(tamed, splits, usual_day)
    return change


def find_level(series: Series, *, usual_day: float = USUAL_DAY) -> tuple[float, float]:
    """Return the one level of a series and its standard deviation; an hour far off it counts for less [1]."""
    mean, deviation, errors = _level(series, usual_day)
    for _ in range(REREAD):
        mean, deviation, errors = _level(_tamed(series, np.full(series.value.size, mean), errors), usual_day)
    return mean, deviation


def _tamed(series: Series, expected: Floats, errors: Errors) -> Series:
    """Return a series whose outlying hours have wider errors."""
    usual = np.hypot(errors.hour * series.sd, errors.day)
    far = np.abs(series.value - expected) / (OUTLYING * usual)
    return replace(series, sd=series.sd * np.maximum(far, 1.0) ** 1.5)


def _likeliest(series: Series, splits: Ints, usual_day: float) -> Change:
    profiles = [(errors, *_profile(series, errors, splits)) for errors in _grid()]
    errors, _, split = max(profiles, key=lambda one: one[1] + _prior(one[0], usual_day))
    return _change_at(series, errors, split)


def _level(series: Series, usual_day: float) -> tuple[float, float, Errors]:
    best: tuple[float, float, float, Errors] | None = None
    for errors in _grid():
        covariance = errors.covariance(series)
        inverse = np.linalg.inv(covariance)
        weight = inverse.sum(axis=0)
        mean = float(weight @ series.value / weight.sum())
        off = series.value - mean
        fit = -0.5 * float(np.linalg.slogdet(covariance)[1] + off @ inverse @ off + np.log(weight.sum()))
        if best is None or fit + _prior(errors, usual_day) > best[0]:
            best = (fit + _prior(errors, usual_day), mean, float(weight.sum() ** -0.5), errors)
    assert best is not None
    return best[1:]


def _grid() -> list[Errors]:
    return [Errors(float(hour), float(day)) for day in DAY_GRID for hour in HOUR_GRID]


def _prior(errors: Errors, usual_day: float) -> float:
    """Return the logarithm of how likely such errors are before anything is read."""
    off = np.array([np.log(errors.day / usual_day), np.log(errors.hour)]) / PRIOR_WIDTH
    return -0.5 * float(off @ off)


def _profile(series: Series, errors: Errors, splits: Ints) -> tuple[float, int]:
    """Return the restricted log likelihood of the best step, and where it is."""
    covariance = errors.covariance(series)
    inverse = np.linalg.inv(covariance)
    _, log_det = np.linalg.slogdet(covariance)
    ones = inverse.sum(axis=0)
    pulled = inverse @ series.value
    # step regressors are sums from the split on: cumulative sums from the end give all at once
    tail = np.cumsum(inverse[::-1], axis=0)[::-1][splits]  # (split, n): step' V^-1
    s_one = tail.sum(axis=1)
    s_s = np.array([row[split:].sum() for row, split in zip(tail, splits, strict=True)])
    s_y = np.array([pulled[split:].sum() for split in splits])
    total, t_y = ones.sum(), pulled.sum()
    spread = s_s - s_one**2 / total
    lean = s_y - s_one * t_y / total
    gain = lean**2 / spread
    rest = float(series.value @ pulled - t_y**2 / total)
    at = int(np.argmax(gain))
    restricted = -0.5 * (np.log(total) + np.log(spread[at]))
    return float(-0.5 * log_det - 0.5 * (rest - gain[at]) + restricted), int(splits[at])


def _change_at(series: Series, errors: Errors, split: int) -> Change:
    inverse = np.asarray(np.linalg.inv(errors.covariance(series)), dtype=np.float64)
    n = series.value.size
    after = (np.arange(n) >= split).astype(np.float64)
    step = np.stack([1.0 - after, after], axis=1)
    fit, spread, left = _fitted(step, inverse, series.value)
    without = [_z_without(series, errors, step, hour) for hour in (split - 1, split)]
    hours = (series.time - series.time[0]) / np.timedelta64(1, "h")
    slope = np.stack([np.ones(n), hours], axis=1)
    left_slope = _fitted(slope, inverse, series.value)[2]
    return Change(
        at=split,
        size=float(fit[1] - fit[0]),
        before=float(fit[0]),
        before_sd=float(np.sqrt(spread[0, 0])),
        after=float(fit[1]),
        after_sd=float(np.sqrt(spread[1, 1])),
        errors=errors,
        slope_better_by=0.5 * (left - left_slope),
        z=min(without, key=abs) if without[0] * without[1] > 0.0 else 0.0,
    )


def _z_without(series: Series, errors: Errors, step: Floats, hour: int) -> float:
    """Return a step's size over its standard deviation without one hour."""
    kept = np.arange(series.value.size) != hour
    inverse = np.asarray(np.linalg.inv(errors.covariance(series)[np.ix_(kept, kept)]), dtype=np.float64)
    fit, spread, _ = _fitted(step[kept], inverse, series.value[kept])
    return float((fit[1] - fit[0]) / np.sqrt(spread[0, 0] + spread[1, 1] - 2.0 * spread[0, 1]))


def _fitted(design: Floats, inverse: Floats, value: Floats) -> tuple[Floats, Floats, float]:
    spread = np.asarray(np.linalg.inv(design.T @ inverse @ design), dtype=np.float64)
    fit = spread @ (design.T @ inverse @ value)
    off = value - design @ fit
    return fit, spread, float(off @ inverse @ off)
