"""Sunlight and rain as files give them, means or sums over spans that differ, made means over spans that follow on.

A file's bounds, cell methods or step ranges say over which span a value runs. Where they are silent, each usual
reading is compared with the sun above the air: a value by night, or more than all the sun gives, rules it out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Times

Values = npt.NDArray[np.float32]

HOUR: Final = np.timedelta64(3600, "s")
SECOND: Final = np.timedelta64(1, "s")
RESTARTS_H: Final = (6, 12, 24, 3)  # h, how often sums and means begin anew with the large weather centres
RAIN_ROUNDING: Final = 0.05  # mm/h, packing of differences of sums


@dataclass(frozen=True)
class Reading:
    """One way to read a flux's values.

    Attributes
    ----------
    words : str
        For messages.
    summed : bool
        Whether values are sums over their spans, or means.
    restart_h : float or None
        Spans begin anew so often, counted from the forecast's start; 0 with each value; infinity never. None: values
        hold at their moments.
    """

    words: str
    summed: bool
    restart_h: float | None

    @property
    def given(self) -> str:
        """What its values are as the passage file says it."""
        return next(words for words, restart_h in GIVEN.items() if restart_h == self.restart_h)


def _spans(summed: bool) -> tuple[Reading, ...]:
    kind = "sums" if summed else "means"
    return (
        Reading(f"{kind} over the step that ends at their time", summed, 0.0),
        *(Reading(f"{kind} since the last whole {hours} hours", summed, float(hours)) for hours in RESTARTS_H),
        Reading(f"{kind} since the forecast's start", summed, np.inf),
    )


GIVEN: Final[Mapping[str, float | None]] = {
    "at its time": None,
    "over the step": 0.0,
    **{f"since {hours} h": float(hours) for hours in sorted(RESTARTS_H)},
    "since the start": np.inf,
}
"""What each value of sunlight may be, in the passage file's words, and how often spans begin anew [h]."""
MOMENTS: Final = Reading("values at their times", False, None)
SUMS: Final = _spans(True)
MEANS: Final = _spans(False)


@dataclass(frozen=True, eq=False)
class Flux:
    """A flux as means over spans; where it holds at moments, start and end are the same.

    Attributes
    ----------
    start, end : array of datetime64 (n,)
        UTC, rising.
    values : array (member, n, lat, lon)
        Mean over each span, in the units of a flux.
    """

    start: Times
    end: Times
    values: Values


def from_starts(values: Values, start: Times, end: Times, *, summed: bool) -> Flux:
    """Return means over spans that follow on, from values over spans that may have their start in common.

    Parameters
    ----------
    values : array (member, n, lat, lon)
        Means [flux], or sums [flux times second].
    start, end : array of datetime64 (n,)
        Of each value's span, ends rising.
    summed : bool
        Whether values are sums.
    """
    seconds = (end - start) / SECOND
    keep = seconds > 0.0
    values, start, end, seconds = values[:, keep], start[keep], end[keep], seconds[keep]
    means = np.empty_like(values)
    first = start.copy()
    for i in range(end.size):
        total = values[:, i].astype(np.float64) * (1.0 if summed else seconds[i])
        if i and start[i] == start[i - 1] and end[i] > end[i - 1]:
            total -= values[:, i - 1].astype(np.float64) * (1.0 if summed else seconds[i - 1])
            first[i] = end[i - 1]
        means[:, i] = total / ((end[i] - first[i]) / SECOND)
    return Flux(first, end, means)


def read_as(reading: Reading, values: Values, time: Times, begun: np.datetime64) -> Flux:
    """Return a flux under one reading.

    Parameters
    ----------
    reading : Reading
    values : array (member, time, lat, lon)
        As the file has them.
    time : array of datetime64 (time,)
        UTC, rising.
    begun : datetime64
        Start of the forecast, from which restarts count.
    """
    if reading.restart_h is None:
        return Flux(time, time, values)
    return from_starts(values, starts(reading, time, begun), time, summed=reading.summed)


def starts(reading: Reading, time: Times, begun: np.datetime64) -> Times:
    """Return where each value's span begins under a reading; the first step is as long as the second."""
    before: Times = np.concatenate([time[:1] - np.diff(time[:2]), time[:-1]]) if time.size > 1 else time - HOUR
    if reading.restart_h == 0.0:
        return before
    if reading.restart_h is None or np.isinf(reading.restart_h):
        return np.full(time.size, min(begun, time[0]), dtype=time.dtype)
    every = round(reading.restart_h) * HOUR
    whole: Times = begun + (-((begun - time) // every) - 1) * every
    return np.minimum(whole, before)  # a step that is longer than that is one span


def negative_part(flux: Flux) -> float:
    """Return how much of a flux is negative, over how much is positive; packing alone makes a little so."""
    given = flux.values.astype(np.float64)
    return float(np.nansum(np.maximum(-given, 0.0)) / max(float(np.nansum(np.maximum(given, 0.0))), 1e-9))


def known_readings(attributes: Mapping[str, object], *, summed: bool) -> tuple[Reading, ...]:
    """Return the readings that a file's own words leave open.

    Parameters
    ----------
    attributes : mapping
        Of the variable.
    summed : bool
        Whether its units are those of a sum.
    """
    methods = str(attributes.get("cell_methods", "")).lower()
    step = str(attributes.get("GRIB_stepType", "")).lower()
    if summed or step == "accum" or "time: sum" in methods:
        return SUMS
    if step == "avg" or "time: mean" in methods:
        return MEANS
    if step == "instant" or "time: point" in methods:
        return (MOMENTS,)
    return (MOMENTS, *MEANS)


def least_of(candidates: Sequence[Reading], values: Values, time: Times, begun: np.datetime64) -> Reading:
    """Return the reading of rain that makes none negative and gives the least of it: dirt stays on longer.

    Parameters
    ----------
    candidates : sequence of Reading
    values : array (member, time, lat, lon)
        As the file has them.
    time : array of datetime64 (time,)
        UTC.
    begun : datetime64
        Start of the forecast.
    """

    def amount(reading: Reading) -> float:
        flux = read_as(reading, values[:1], time, begun)
        given = np.nan_to_num(flux.values[0].astype(np.float64))
        seconds = np.maximum((flux.end - flux.start) / SECOND, 1.0)[:, None, None]
        return float(np.inf if given.min(initial=0.0) < -RAIN_ROUNDING else (given * seconds).sum())

    return min(candidates, key=amount)
