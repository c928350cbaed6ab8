"""Fluxes of a file as means over spans that follow on, whatever the file says of its spans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.domain.arrays import Times
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.field import DIRECT, Field, Source
from planner.readers.forecast.file import ACCUMULATED_FROM
from planner.readers.forecast.sunlight.flux import (
    SECOND,
    Reading,
    from_starts,
    known_readings,
    least_of,
    negative_part,
    read_as,
)
from planner.readers.forecast.sunlight.kinds import (
    MOST_IMPOSSIBLE,
    Given,
    OpenLight,
    UndecidedLightError,
    impossible_part,
    no_reading,
    settle,
)
from planner.readers.forecast.terms import TERMS, Scale

if TYPE_CHECKING:
    import xarray as xr


def over_spans(field: Field, variable: xr.DataArray, source: Source, scale: Scale, notes: list[str]) -> Field:
    """Return a flux as means over spans that follow on; times at which a file gives nothing are left out.

    Parameters
    ----------
    field : Field
        In the planner's units, a sum where the scale says so.
    variable : xarray.DataArray
        As the file has it.
    source : Source
    scale : Scale
        Of its units.
    notes : list of str
        Gets how it is read.

    Raises
    ------
    InputError
        When no usual reading suits the sun, or several do that give other energies.
    """
    given = np.isfinite(field.values).any(axis=(0, 2, 3))
    values, time = field.values[:, given], field.time[given]
    if not time.size:
        return field
    readings = known_readings(variable.attrs, summed=scale.summed)
    begins = _stated_starts(source, variable, given)
    if begins is not None and len(readings) > 1:
        summed = readings[0].summed if scale.summed else _sums(readings)
        flux = from_starts(values, begins, time, summed=summed)
        words = f"{'sums' if summed else 'means'} over the spans that the file states"
    else:
        reading = _one_reading(replace(field, values=values, time=time), readings, source)
        flux = read_as(reading, values, time, _begun(field, time))
        words = reading.words
    notes.append(f"{field.name} is read as {words}.")
    term = TERMS[field.quantity]
    if not flux.end.size:
        problem = f"its {term.words} is summed over no time: each value's span begins and ends at the same moment."
        remedy = "Ask for later steps too: the first of a forecast has had no time to gather any."
        raise InputError([Fault(source.where, field.name, problem, remedy)])
    if term.flux == "sunlight" and (
        negative_part(flux) > MOST_IMPOSSIBLE or impossible_part(flux, field.lat, field.lon) > MOST_IMPOSSIBLE
    ):
        raise no_reading(source.where, field.name, term.words)
    start = None if np.array_equal(flux.start, flux.end) else flux.start
    # packing makes some dark spans a little negative; readings that make more so have been ruled out
    values = np.maximum(flux.values, np.float32(0.0))
    return replace(field, values=values, time=flux.end, start=start, reading=words)


def at_middles(field: Field, variable: xr.DataArray, source: Source, notes: list[str]) -> Field:
    """Return a state that a GRIB file gives as means over spans, drawn from middle to middle.

    Parameters
    ----------
    field, variable, source, notes
        As for ``over_spans``.
    """
    every = np.ones(field.time.size, dtype=np.bool_)
    begins = _stated_starts(source, variable, every)
    if begins is None:
        return field
    flux = from_starts(field.values, begins, field.time, summed=False)
    if not flux.end.size:  # a mean over no time is the value at that moment
        return field
    words = "means over spans, drawn straight from middle to middle"
    notes.append(f"{field.name} is read as {words}.")
    middles, ends = (
        (edge - flux.start[0]) / SECOND for edge in (flux.start + (flux.end - flux.start) // 2, flux.end)
    )
    place = np.interp(ends, middles, np.arange(ends.size, dtype=np.float64))
    lower = place.astype(np.int64)
    part = (place - lower).astype(np.float32)[:, None, None]
    upper = np.minimum(lower + 1, ends.size - 1)
    drawn = (1 - part) * flux.values[:, lower] + part * flux.values[:, upper]
    return replace(field, values=drawn, time=flux.end, reading=words)


def _sums(readings: Sequence[Reading]) -> bool:
    """Tell whether all of the readings are of sums."""
    return all(reading.summed for reading in readings)


def _begun(field: Field, time: Times) -> np.datetime64:
    return field.issued if field.issued is not None else time[0].astype("datetime64[D]").astype("datetime64[ns]")


def _one_reading(field: Field, readings: Sequence[Reading], source: Source) -> Reading:
    """Return the one reading of a flux that is left; refuse when none is, or several are."""
    term, begun = TERMS[field.quantity], _begun(field, field.time)
    if term.flux == "sunlight" and source.sunlight is not None:
        readings = [reading for reading in readings if reading.given == source.sunlight] or readings
    if len(readings) == 1:
        return readings[0]
    if term.flux == "rain":
        return least_of(readings, field.values, field.time, begun)
    if field.quantity == DIRECT and source.of_light and source.of_light[0] in readings:
        return source.of_light[0]
    given = Given(field.values, field.time, field.lat, field.lon, begun).at_some_places()
    left = settle(readings, [given])
    if len(left) > 1 and field.quantity != DIRECT:  # direct light says nothing by itself
        raise UndecidedLightError(source.where, field.name, OpenLight(tuple(left), (given,)))
    if not left:
        raise no_reading(source.where, field.name, term.words)
    source.of_light.append(left[0])
    return left[0]


def _stated_starts(source: Source, variable: xr.DataArray, given: Any) -> Times | None:
    """Return where the file says that the span of each value begins: its time's bounds or a GRIB file's steps."""
    part, axes, nodes = source.part, source.axes, source.nodes
    steps = variable.attrs.get(ACCUMULATED_FROM)
    if isinstance(steps, dict):
        starts = [steps.get(int(moment.astype("datetime64[s]").astype(np.int64))) for moment in nodes.time[given]]
        return None if None in starts else np.array(starts, dtype="datetime64[s]").astype("datetime64[ns]")
    if axes.time_dim is None or axes.time_dim not in part.coords:
        return None
    bounds = part.variables.get(str(part[axes.time_dim].attrs.get("bounds", "")))
    if bounds is None or bounds.ndim != 2 or not np.issubdtype(bounds.dtype, np.datetime64):
        return None
    edges = bounds.to_numpy().astype("datetime64[ns]")[nodes.time_index]
    starts_of: Times = edges.min(axis=1)[given]
    return starts_of
