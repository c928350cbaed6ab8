"""Each controller's standing part of the expected, before and after a change, with the sky that all share.

Sky and levels are found in turn. A change is granted to the controller that shows it most, the sky is found again
with it, and the others are looked at anew: a weak panel darkens the sky that the others are compared with, and they
seem to have gained until it is known.

What all controllers have in common cannot be told from the sky. It is settled by what is likely: most panels are as
expected, a few are weak, and the brightest steady hours are near the cloudless sky.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Times
from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.panels.change_found import (
    LEAST_HOURS,
    USUAL_DAY,
    Change,
    Series,
    find_change,
    find_level,
)
from planner.studies.reconcile.shared_sky import SharedSky, shared_sky
from planner.studies.reconcile.sky_states import States

LIKE_HOURS: Final = 0.4  # 1, correlation of steps within an hour; the project's own
DIMMEST: Final = np.log(0.3)  # clear-sky index, logarithm; under a darker sky panels are not judged
# 1, standard deviations that a change must reach in a log of two days, and more for each doubling: set on made
# readings without a fault so that a panel gives less than one false alarm in fifty weeks
LEAST_Z: Final = 2.6
MORE_Z: Final = 0.4
ONE_DAY_Z: Final = 1.0  # 1, more where a single day of a longer log shows it
LONGER_DAYS: Final = 3.0
GAIN_COUNTS: Final = 0.97  # 1, of a gain beside a loss
LARGEST_SD: Final = 0.12  # 1, of a step; one less certain is not judged
# the controllers' common part
MODEL_LEVEL: Final = 0.02  # 1, standard deviation of what model and display are off by throughout: aim, shade, gain
SOUND_LEVEL: Final = 0.035  # 1, of what sound panels are off by: tolerance, dirt (common practice)
OWN_LEVEL: Final = float(np.hypot(MODEL_LEVEL, SOUND_LEVEL))  # 1, of a sound controller's level as read
WEAK_SHARE: Final = 0.1  # 1, of controllers that are weak before anything is read
WEAK_SCALE: Final = 0.2  # 1, mean of the logarithm that they lack
CLEAR_SD: Final = 0.05  # 1, doubt of the cloudless sky's light
NO_CLEAR_SD: Final = 0.12  # 1, doubt of the common part where no hour was clear
STEADY_SD: Final = 0.02  # 1, of the index's logarithm over half an hour of clear sky
STEADY_STEPS: Final = 3
LEAST_CLEAR_H: Final = 1.0  # h
CLEAREST: Final = 0.7  # 1, quantile of the steady hours that is taken for clear
CLEAR_FROM: Final = np.log(0.8)  # index from which a steady hour may be clear
CLEAR_ELEVATION_DEG: Final = 20.0  # degree
# a controller alone
LONE_FROM: Final = np.log(0.4)  # index, as it seems, from which a steady hour may be clear
LONE_BEST: Final = 0.85  # 1, quantile of a day's steady hours
LONE_NEAR: Final = 0.06  # 1, how near to it a step must be
LONE_DAY: Final = 0.04  # 1, standard deviation of a day's clearest sky
SETTLING: Final = 5  # rounds of sky and levels


@dataclass(frozen=True, eq=False)
class Level:
    """A controller's standing part of the expected.

    Attributes
    ----------
    series : Series
        Its hours against the sky of the others, its own level taken in.
    change : Change or None
        The likeliest; None where the series is too short.
    granted : bool
        Whether chance would not make it.
    began : datetime64 or None
        When a granted change began, UTC.
    before, after : float
        Logarithm of its part on either side of a granted change; alike without one [1].
    before_sd, after_sd : float
        Standard deviations from the series alone [1].
    """

    series: Series
    change: Change | None
    granted: bool
    began: np.datetime64 | None
    before: float
    before_sd: float
    after: float
    after_sd: float


@dataclass(frozen=True, eq=False)
class Levels:
    """Every controller's level and the sky that goes with them.

    Attributes
    ----------
    sky : SharedSky
    of : tuple of Level
        In boat order.
    common_sd : float
        Doubt of what all have in common [1].
    """

    sky: SharedSky
    of: tuple[Level, ...]
    common_sd: float


def panel_levels(states: States, judged: Judged, time: Times, day: npt.NDArray[np.int64], prior: Floats) -> Levels:
    """Return each controller's level before and after its change, if any.

    Parameters
    ----------
    states : States
        What controllers would deliver under every sky.
    judged : Judged
        What they did.
    time : array of datetime64 (time,)
        Starts of the steps, UTC.
    day : int array (time,)
        Steps of one number err together.
    prior : array (time,)
        Logarithm of the forecast's clear-sky index [1].
    """
    many = judged.log_w.shape[1]
    if judged.usable.any(axis=0).sum() == 1:
        return _alone(states, judged, time, day, prior)
    began: dict[int, np.datetime64] = {}
    factor = np.zeros_like(judged.log_w)
    sky = shared_sky(states, judged, log_factor=factor, forecast_log_index=prior)
    while True:
        for _ in range(SETTLING):
            factor = _settled(sky, judged, factor, time, began)
            sky = shared_sky(states, judged, log_factor=factor, forecast_log_index=prior, start=sky)
        all_series = [_series(sky, judged, time, day, c) for c in range(many)]
        shown = {
            c: (_strength(change, series), series.time[change.at])
            for c, series in enumerate(all_series)
            if c not in began and (change := find_change(_about(series, factor[:, c], time))) is not None
        }
        worst = max(shown, key=lambda c: shown[c][0], default=None)
        if worst is None or shown[worst][0] <= 0.0:
            break
        began[worst] = shown[worst][1]
    shift, common_sd = _common(sky, judged, factor)
    factor = factor + shift
    sky = shared_sky(states, judged, log_factor=factor, forecast_log_index=prior, start=sky)
    levels = tuple(_level(_series(sky, judged, time, day, c), began.get(c)) for c in range(many))
    return Levels(sky, levels, common_sd)


def _strength(change: Change, series: Series) -> float:
    """Return how far a change is beyond what chance makes, in standard deviations; 0 or less where it may be chance.

    More places where a change may be found make more of chance. Of two that mirror each other the loss is likelier.
    """
    days = float((series.time[-1] - series.time[0]) / np.timedelta64(24, "h"))
    least = LEAST_Z + MORE_Z * float(np.log2(max(days, 2.0) / 2.0))
    sides = (series.day[: change.at], series.day[change.at :])
    if days > LONGER_DAYS and min(np.unique(side).size for side in sides) < 2:
        least += ONE_DAY_Z
    return abs(change.z) * (1.0 if change.size < 0.0 else GAIN_COUNTS) - least


def _fair(sky: SharedSky, judged: Judged, c: int) -> npt.NDArray[np.bool_]:
    others = sky.controllers_used - judged.usable[:, c] > 0
    sure = np.nan_to_num(sky.apart_sd[:, c], nan=np.inf) < LARGEST_SD
    return np.asarray(judged.fair[:, c] & others & sure & (sky.log_index > DIMMEST))


def _settled(sky: SharedSky, judged: Judged, factor: Floats, time: Times, began: dict[int, np.datetime64]) -> Floats:
    """Return factors moved toward what the controllers show against the others' sky."""
    many = int(judged.usable.any(axis=0).sum())
    moved = factor.copy()
    for c in range(factor.shape[1]):
        fair = _fair(sky, judged, c)
        spans = [time >= time[0]] if c not in began else [time < began[c], time >= began[c]]
        for span in spans:
            here = fair & span
            if here.any():
                off = np.median(sky.apart[here, c] - factor[here, c])
                moved[span, c] += off * (many - 1.0) / many
    return moved


def _alone(states: States, judged: Judged, time: Times, day: npt.NDArray[np.int64], prior: Floats) -> Levels:
    """Return the level of the only controller that was read: compared with the cloudless sky, by its brightest hours.

    What it delivers is taken for the light itself; where that is steady and near the brightest of its day, the sky is
    taken for clear.
    """
    none = np.zeros_like(judged.log_w)
    sky = shared_sky(states, judged, log_factor=none, forecast_log_index=prior)
    only = int(np.flatnonzero(judged.usable.any(axis=0))[0])
    bright = judged.fair[:, only] & _steady(sky, judged, LONE_FROM)
    for number in np.unique(day[bright]):
        today = np.flatnonzero(bright & (day == number))
        best = np.quantile(sky.log_index[today], LONE_BEST)
        bright[today[np.abs(sky.log_index[today] - best) > LONE_NEAR]] = False
    apart, apart_sd = np.full(none.shape, np.nan), np.full(none.shape, np.nan)
    apart[bright, only] = sky.log_index[bright]
    apart_sd[bright, only] = np.hypot(LONE_NEAR, sky.log_index_sd[bright])
    found = replace(sky, apart=apart, apart_sd=apart_sd)
    nothing = _hours(found, np.zeros(time.size, dtype=np.bool_), time, day, only)
    series = _hours(found, bright, time, day, only)
    change = find_change(series, usual_day=LONE_DAY)
    began = None
    if change is not None and _strength(change, series) > 0.0:
        began = series.time[change.at]
    levels = tuple(
        _level(series if c == only else nothing, began if c == only else None, usual_day=LONE_DAY)
        for c in range(none.shape[1])
    )
    return Levels(found, levels, CLEAR_SD)


def _series(sky: SharedSky, judged: Judged, time: Times, day: npt.NDArray[np.int64], c: int) -> Series:
    """Return a controller's hours against the sky of the others."""
    return _hours(sky, _fair(sky, judged, c), time, day, c)


def _hours(sky: SharedSky, here: npt.NDArray[np.bool_], time: Times, day: npt.NDArray[np.int64], c: int) -> Series:
    """Return hourly means of some steps of a controller."""
    at = np.flatnonzero(here)
    hour = time[at].astype("datetime64[h]")
    kinds, first, group = np.unique(hour, return_index=True, return_inverse=True)
    value, deviation = np.empty(kinds.size), np.empty(kinds.size)
    for h in range(kinds.size):
        own = at[group == h]
        weight = sky.apart_sd[own, c] ** -2
        middle = np.median(sky.apart[own, c])
        # steps far off the hour's middle count for less
        off = np.abs(sky.apart[own, c] - middle) / sky.apart_sd[own, c]
        weight /= np.maximum(off / 2.0, 1.0)
        value[h] = np.average(sky.apart[own, c], weights=weight)
        deviation[h] = np.sqrt((1.0 + LIKE_HOURS * (own.size - 1.0)) / weight.sum())
    return Series(time[at][first], value, deviation, day[at][first])


def _about(series: Series, factor: Floats, time: Times) -> Series:
    """Return a series less the level that was taken in."""
    return replace(series, value=series.value - factor[np.searchsorted(time, series.time)])


def _level(series: Series, began: np.datetime64 | None, usual_day: float = USUAL_DAY) -> Level:
    change = find_change(series, usual_day=usual_day)
    if began is not None:
        before, after = _part(series, series.time < began), _part(series, series.time >= began)
        if before.value.size >= LEAST_HOURS and after.value.size >= LEAST_HOURS:
            sides = (find_level(part, usual_day=usual_day) for part in (before, after))
            (low, low_sd), (high, high_sd) = sides
            return Level(series, change, True, began, low, low_sd, high, high_sd)
    if series.value.size == 0:
        return Level(series, None, False, None, 0.0, np.inf, 0.0, np.inf)
    mean = find_level(series, usual_day=usual_day)
    return Level(series, change, False, None, *mean, *mean)


def _part(series: Series, here: npt.NDArray[np.bool_]) -> Series:
    return Series(series.time[here], series.value[here], series.sd[here], series.day[here])


def _common(sky: SharedSky, judged: Judged, factor: Floats) -> tuple[float, float]:
    """Return what to add to every controller's level, and its standard deviation."""
    clear = sky.log_index[_steady(sky, judged, CLEAR_FROM)]
    has_clear = clear.size * judged.step_h >= LEAST_CLEAR_H
    # the light that was found too bright or too dark over a clear sky is the controllers' common part
    ceiling, doubt = (float(np.quantile(clear, CLEAREST)), CLEAR_SD) if has_clear else (0.0, NO_CLEAR_SD)
    level = np.array(
        [np.median(factor[judged.fair[:, c], c]) for c in range(factor.shape[1]) if judged.fair[:, c].any()]
    )
    shift = np.linspace(-0.6, 0.6, 1201)
    likely = -0.5 * ((shift - ceiling) / doubt) ** 2
    likely += np.log(_level_density(level[:, None] + shift)).sum(axis=0)
    weight = np.exp(likely - likely.max())
    weight /= weight.sum()
    mean = float(weight @ shift)
    return mean, float(np.sqrt(weight @ (shift - mean) ** 2))


def _level_density(level: Floats) -> Floats:
    sound = np.exp(-0.5 * (level / OWN_LEVEL) ** 2) / (OWN_LEVEL * np.sqrt(2.0 * np.pi))
    weak = np.where(level < 0.0, np.exp(np.minimum(level, 0.0) / WEAK_SCALE) / WEAK_SCALE, 0.0)
    return np.asarray((1.0 - WEAK_SHARE) * sound + WEAK_SHARE * weak + 1e-9)


def _steady(sky: SharedSky, judged: Judged, least: float) -> npt.NDArray[np.bool_]:
    good = (sky.controllers_used > 0) & (judged.elevation_deg > CLEAR_ELEVATION_DEG) & (sky.log_index > least)
    near = np.lib.stride_tricks.sliding_window_view(np.where(good, sky.log_index, np.nan), STEADY_STEPS)
    steady = np.zeros(good.size, dtype=np.bool_)
    half = STEADY_STEPS // 2
    steady[half : good.size - half] = near.std(axis=1) < STEADY_SD  # NaN compares false
    return steady
