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

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault, InputError
from planner.domain.units import SOLAR_CONSTANT_W_M2

Values = npt.NDArray[np.float32]

HOUR: Final = np.timedelta64(3600, "s")
SECOND: Final = np.timedelta64(1, "s")
RESTARTS_H: Final = (6, 12, 24, 3)  # h, how often sums and means begin anew with the large weather centres
RAIN_ROUNDING: Final = 0.05  # mm/h, packing of differences of sums
SAMPLES: Final = 12  # moments within a span at which the sun is taken
MOST_OF_SUN: Final = 1.05  # 1, of the sun above the air; bright cloud edges do not lift a grid box's mean over it
ROUNDING_W_M2: Final = 12.0  # W/m2, packing of differences of means
MOST_IMPOSSIBLE: Final = 0.01  # 1, part of all light that may stand where none can be; more rules a reading out
BEST_BY: Final = 0.0015  # 1, by so much less a reading must be impossible than the others to be taken alone


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


def _spans(summed: bool) -> tuple[Reading, ...]:
    kind = "sums" if summed else "means"
    return (
        Reading(f"{kind} over the step that ends at their time", summed, 0.0),
        *(Reading(f"{kind} since the last whole {hours} hours", summed, float(hours)) for hours in RESTARTS_H),
        Reading(f"{kind} since the forecast's start", summed, np.inf),
    )


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


def settle(
    candidates: Sequence[Reading], values: Values, axes: tuple[Times, Floats, Floats], begun: np.datetime64
) -> list[Reading]:
    """Return the readings of sunlight that fit the sun best; those that come to the same, once.

    Parameters
    ----------
    candidates : sequence of Reading
    values : array (member, time, lat, lon)
        As the file has them, of sunlight [W/m2, or J/m2 where summed].
    axes : tuple of array
        Times (UTC), latitudes and longitudes [degree].
    begun : datetime64
        Start of the forecast.
    """
    time, lat, lon = axes
    rows, columns = _some(lat), _some(lon)
    some = values[:1][:, :, rows][:, :, :, columns]
    fits: list[tuple[float, Reading, Flux]] = []
    for reading in candidates:
        flux = read_as(reading, some, time, begun)
        if any(_alike(flux, other) for *_, other in fits):
            continue
        fits.append((_impossible(flux, lat[rows], lon[columns]), reading, flux))
    least = min(part for part, *_ in fits)
    return [reading for part, reading, _ in fits if part < min(least + BEST_BY, MOST_IMPOSSIBLE)]


def _some(axis: Floats) -> npt.NDArray[np.int64]:
    """Return both ends of an axis and its middle."""
    return np.unique(np.linspace(0, axis.size - 1, 3).round().astype(np.int64))


def impossible_part(flux: Flux, lat: Floats, lon: Floats) -> float:
    """Return the part of all light that stands where none, or less, can be, at nine places of the first member.

    Parameters
    ----------
    flux : Flux
        Sunlight [W/m2].
    lat, lon : array
        Of its grid [degree].
    """
    rows, columns = _some(lat), _some(lon)
    some = Flux(flux.start, flux.end, flux.values[:1][:, :, rows][:, :, :, columns])
    return _impossible(some, lat[rows], lon[columns])


def _alike(one: Flux, other: Flux) -> bool:
    """Tell whether two readings come to the same."""
    same_spans = np.array_equal(one.start, other.start) and np.array_equal(one.end, other.end)
    return same_spans and np.allclose(one.values, other.values, rtol=1e-5, atol=0.01, equal_nan=True)


def _impossible(flux: Flux, lat: Floats, lon: Floats) -> float:
    """Return the part of all light that stands where none, or less, can be."""
    moments = np.linspace(0.5 / SAMPLES, 1.0 - 0.5 / SAMPLES, SAMPLES)
    spans = (flux.end - flux.start).astype("timedelta64[s]").astype(np.int64)
    offsets = np.round(spans[:, None] * moments).astype("timedelta64[s]")
    light = sun_above_air(flux.start[:, None] + offsets, lat, lon).mean(axis=1)
    given = flux.values[0].astype(np.float64)
    excess = np.maximum(given - MOST_OF_SUN * light - ROUNDING_W_M2, 0.0) + np.maximum(-given - ROUNDING_W_M2, 0.0)
    return float(np.nansum(excess) / max(float(np.nansum(np.abs(given))), 1e-9))


def negative_part(flux: Flux) -> float:
    """Return how much of a flux is negative, over how much is positive; packing alone makes a little so."""
    given = flux.values.astype(np.float64)
    return float(np.nansum(np.maximum(-given, 0.0)) / max(float(np.nansum(np.maximum(given, 0.0))), 1e-9))


def sun_above_air(time: Times, lat: Floats, lon: Floats) -> Floats:
    """Return the sun's light on a level plane above the air, good to some W/m2 (no equation of the year's ellipse).

    Parameters
    ----------
    time : array of datetime64 (...)
        UTC.
    lat, lon : array (y,), (x,)
        [degree].

    Returns
    -------
    array (..., y, x)
        [W/m2].

    References
    ----------
    Spencer (1971), Fourier series representation of the position of the sun, Search 2(5), 172, as pvlib has it.
    """
    from pvlib.solarposition import declination_spencer71, equation_of_time_spencer71

    day = (time.astype("datetime64[D]") - time.astype("datetime64[Y]")).astype(np.int64) + 1
    minutes = (time - time.astype("datetime64[D]")) / np.timedelta64(60, "s") + equation_of_time_spencer71(day)
    hour_angle = np.radians(minutes[..., None] / 4.0 - 180.0 + lon)
    declination = declination_spencer71(day)[..., None, None]
    height = np.sin(np.radians(lat))[:, None] * np.sin(declination) + np.cos(np.radians(lat))[:, None] * np.cos(
        declination
    ) * np.cos(hour_angle[..., None, :])
    light: Floats = SOLAR_CONSTANT_W_M2 * np.maximum(height, 0.0)
    return light


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


def ambiguous(where: str, name: str, words: str, readings: Sequence[Reading]) -> InputError:
    """Return the refusal of a flux that can be read in several ways, or in none."""
    if not readings:
        problem = f"no usual reading of its {words} (values at their times, means or sums over spans) fits the sun."
        return InputError([Fault(where, name, problem, "Look at its units, times and the longitudes of the grid.")])
    listed = "; ".join(reading.words for reading in readings)
    problem = f"its {words} could be {listed}."
    return InputError([Fault(where, name, problem, "Give the variable cell_methods and its time axis bounds.")])
