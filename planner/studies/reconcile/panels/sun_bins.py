"""A controller's yield by where the sun stands over the boat, and the shadow of something the model does not know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.results.note import Note
from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.panels.levels import Levels

BEARING_DEG: Final = 30.0  # degree, width of a bin
ELEVATION_DEG: Final = 15.0  # degree
# the project's own, tested on made readings
DEEP: Final = 0.10  # 1, a logarithm: how far under the rest a bin must be
SURE: Final = 3.0  # 1, standard deviations
ONE_LOOK_SD: Final = 0.05  # 1, of one hour's look at a bin: shade and aim of that hour
LEAST_HOURS: Final = 1.0  # h in a patch of bins
LEAST_REST_H: Final = 2.0  # h in the other bins
LEAST_DAYS: Final = 2  # days on which the shadow must be seen
MOST_DAYS: Final = 0.7  # 1, of the days on which the sun stood there, from the first dark one on
REST_LIES_AT: Final = 0.6  # 1, quantile of the bins that stands for the rest
STEP_SD: Final = 0.03  # 1, of a step beyond its stated error
STEP_COUNTS: Final = 0.35  # 1, of a step for another in its hour
TAILS: Final = 4.0  # 1, degrees of freedom of Student's t
COSTS: Final = 3.0  # 1, logarithm of the likelihood that one more figure must gain
MOST_OF: Final = 0.6  # 1, of the judged hours that a shadow may cover; more is no shadow but a weak panel


@dataclass(frozen=True, eq=False)
class Bins:
    """Means by the sun's place.

    Attributes
    ----------
    bearing_deg, elevation_deg : array (bin,)
        Middles [degree].
    value, sd : array (bin,)
        Logarithm of read over expected, and its standard deviation [1].
    hours : array (bin,)
        Judged [h].
    deep : bool array (bin,)
        Where the yield falls short of the rest, day after day.
    of_step : int array (time,)
        The bin of each step; -1 where it is not judged.
    """

    bearing_deg: Floats
    elevation_deg: Floats
    value: Floats
    sd: Floats
    hours: Floats
    deep: Bools
    of_step: Ints


def sun_bins(levels: Levels, judged: Judged, day: Ints, c: int, *, since: int = 0) -> Bins:
    """Return a controller's means by the sun's place, and which of them a shadow must be in.

    Parameters
    ----------
    levels : Levels
    judged : Judged
    day : int array (time,)
        Steps of one number are of one day.
    c : int
        The controller.
    since : int
        First step that is looked at.
    """
    apart = levels.sky.apart[:, c]
    fair = judged.fair[:, c] & np.isfinite(apart) & (np.arange(day.size) >= since)
    columns = np.floor(judged.bearing_deg / BEARING_DEG).astype(np.int64)
    rows = np.floor(judged.elevation_deg / ELEVATION_DEG).astype(np.int64)
    kind = np.where(fair, 100 * rows + columns, -1)
    numbers, of_step = np.unique(kind[fair]), np.full(day.size, -1)
    of_step[fair] = np.searchsorted(numbers, kind[fair])
    count = np.bincount(of_step[fair], minlength=numbers.size)
    value = np.array([np.median(apart[of_step == b]) for b in range(numbers.size)])
    days = np.array([np.unique(day[of_step == b]).size for b in range(numbers.size)])
    hours = np.asarray(count * judged.step_h, dtype=np.float64)
    deviation = ONE_LOOK_SD / np.sqrt(np.maximum(np.minimum(hours, 2.0 * days), 1.0))
    deep = np.zeros(numbers.size, dtype=np.bool_)
    if numbers.size:
        rest = float(np.quantile(np.repeat(value, count), REST_LIES_AT))
        off = value - rest
        candidates = (off < -DEEP) & (off < -SURE * deviation)
        for patch in _patches(numbers, candidates):
            here = np.isin(of_step, patch)
            by_day = {int(one): float(np.median(apart[here & (day == one)])) < rest - 0.5 * DEEP for one in day[here]}
            dark = [by_day[one] for one in sorted(by_day) if one >= min(d for d in by_day if by_day[d])]
            deep[patch] = hours[patch].sum() >= LEAST_HOURS and sum(dark) >= max(LEAST_DAYS, MOST_DAYS * len(dark))
        covered = float(hours[deep].sum())
        if covered > MOST_OF * hours.sum() or hours.sum() - covered < LEAST_REST_H:
            deep[:] = False
    return Bins(
        (numbers % 100 + 0.5) * BEARING_DEG,
        (numbers // 100 + 0.5) * ELEVATION_DEG,
        value,
        deviation,
        hours,
        deep,
        of_step,
    )


def _patches(numbers: Ints, candidates: Bools) -> list[list[int]]:
    """Return bins that touch each other, patch by patch."""
    left = {(int(numbers[b]) // 100, int(numbers[b]) % 100): int(b) for b in np.flatnonzero(candidates)}
    around = round(360.0 / BEARING_DEG)
    patches = []
    while left:
        edge, patch = [next(iter(left))], []
        while edge:
            row, column = edge.pop()
            if (row, column) not in left:
                continue
            patch.append(left.pop((row, column)))
            edge += [(row + 1, column), (row - 1, column)]
            edge += [(row, (column + 1) % around), (row, (column - 1) % around)]
        patches.append(sorted(patch))
    return patches


def shadow_of(levels: Levels, judged: Judged, day: Ints, c: int, *, began: int | None) -> Bins | None:
    """Return the bins of a shadow that explains a controller's loss better than its level does, None if none does.

    Parameters
    ----------
    levels, judged, day, c
        As for ``sun_bins``.
    began : int or None
        First step after the controller's change, if it had one; the shadow may have come then, or have been there.
    """
    fair = judged.fair[:, c] & np.isfinite(levels.sky.apart[:, c])
    apart, deviation = levels.sky.apart[fair, c], np.hypot(levels.sky.apart_sd[fair, c], STEP_SD)
    at = np.flatnonzero(fair)
    sides = np.zeros(at.size, dtype=np.int64) if began is None else (at >= began).astype(np.int64)
    by_level = _likelihood(apart, deviation, sides) - COSTS * (began is not None)
    best: tuple[float, Bins] | None = None
    for since in {0, began or 0}:
        bins = sun_bins(levels, judged, day, c, since=since)
        if not bins.deep.any():
            continue
        number = bins.of_step[at]
        kind = np.where((number >= 0) & bins.deep[np.maximum(number, 0)], number, -1)
        by_shadow = _likelihood(apart, deviation, kind) - COSTS * float(bins.deep.sum() + (since > 0))
        if by_shadow > by_level and (best is None or by_shadow > best[0]):
            best = (by_shadow, bins)
    return None if best is None else best[1]


def _likelihood(value: Floats, deviation: Floats, kind: Ints) -> float:
    """Return the logarithm of the likelihood of steps about the median of their kind; outliers count for less."""
    off = np.empty(value.size)
    for one in np.unique(kind):
        off[kind == one] = (value[kind == one] - np.median(value[kind == one])) / deviation[kind == one]
    return float(-STEP_COUNTS * np.sum(0.5 * (TAILS + 1.0) * np.log1p(off**2 / TAILS)))


def where_of(bins: Bins) -> Note:
    """Return where the sun stands in the deep bins: bearing by the side, and height."""
    spans = _runs(sorted({float(x) for x in bins.bearing_deg[bins.deep]}))
    low = float(bins.elevation_deg[bins.deep].min() - ELEVATION_DEG / 2.0)
    high = float(bins.elevation_deg[bins.deep].max() + ELEVATION_DEG / 2.0)
    figures = {"sides": [_side(*span) for span in spans], "low_deg": low, "high_deg": high}
    return Note("sun_under" if low < ELEVATION_DEG else "sun_at", figures)


def _runs(middles: list[float]) -> list[tuple[float, float]]:
    """Return unbroken spans of bearings, those across the bow joined [degree]."""
    spans: list[list[float]] = []
    for middle in middles:
        low, high = middle - BEARING_DEG / 2.0, middle + BEARING_DEG / 2.0
        if spans and spans[-1][1] == low:
            spans[-1][1] = high
        else:
            spans.append([low, high])
    if len(spans) > 1 and spans[0][0] == 0.0 and spans[-1][1] == 360.0:
        spans[0][0] = spans.pop()[0] - 360.0
    return [(low, high) for low, high in spans]


def _side(low: float, high: float) -> Note:
    """Return a span of bearings as from the bow: to starboard, to port, or across bow or stern."""
    if high - low >= 360.0:
        return Note("side_any")
    if low >= 180.0:
        return Note("side_port", {"from_deg": 360.0 - high, "to_deg": 360.0 - low})
    if low < 0.0:
        return Note("side_bow", {"from_deg": -low, "to_deg": high})
    if high <= 180.0:
        return Note("side_starboard", {"from_deg": low, "to_deg": high})
    return Note("side_stern", {"from_deg": low, "to_deg": 360.0 - high})
