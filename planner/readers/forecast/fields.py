"""Find the planner's quantities in a file and read them in the planner's units and order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault, InputError
from planner.domain.results.forecast import Grid
from planner.readers.forecast.file import (
    ACCUMULATED_FROM,
    CUT_SHORT,
    LEFT_UNREAD,
    TAKEN_AS,
    VALUES_UNREAD,
    library_errors,
)
from planner.readers.forecast.flux import (
    MOST_IMPOSSIBLE,
    SECOND,
    Reading,
    ambiguous,
    from_starts,
    impossible_part,
    known_readings,
    least_of,
    negative_part,
    read_as,
    settle,
)
from planner.readers.forecast.grids.extent import grid_of, thinned, thinned_plane
from planner.readers.forecast.grids.grid import Axes, Corridor, Cut, Span, cut, find_axes
from planner.readers.forecast.grids.plane import Meshes, level_grid
from planner.readers.forecast.grids.vectors import paired
from planner.readers.forecast.meaning import at_height, choose, described, keep_one
from planner.readers.forecast.terms import TERMS, Scale, plain
from planner.readers.forecast.values import Values, checked, in_planners_units, load, units_of

if TYPE_CHECKING:
    import xarray as xr

Gaps = Literal["filled", "left"]
DIRECT = "direct_w_m2"
OPTIONAL = frozenset({"ghi_w_m2", DIRECT, "rain_mm_h", "wave_height_m"})
"""Quantities that a plan can do without: what cannot be understood of them is noted and set aside."""


@dataclass(frozen=True, eq=False)
class Field:
    """One quantity read from one file.

    Attributes
    ----------
    quantity, name, units : str
        Its key in ``TERMS``, and name and units as the file has them.
    file : str
        The file's name.
    values : array (member, time, lat, lon)
        In the planner's units.
    member : array of float
        Numbers as the file has them; NaN when it does not say.
    time, lat, lon : array
        Rising; for a mean over spans, the time at which each ends.
    start : array of datetime64 or None
        Where each span begins; None for what holds at its times.
    issued : datetime64 or None
        When the forecast began, UTC.
    notes : tuple of str
        What was repaired or had to be read into the file.
    grid : Grid
        As the file has it.
    reading : str
        Of a flux, over which spans its values were read; else empty.
    """

    quantity: str
    name: str
    units: str
    file: str
    values: Values
    member: Floats
    time: Times
    lat: Floats
    lon: Floats
    start: Times | None
    issued: np.datetime64 | None
    notes: tuple[str, ...]
    grid: Grid
    reading: str = ""


@dataclass(frozen=True)
class Refused:
    """A variable that was taken for a quantity and cannot be read as that.

    Attributes
    ----------
    quantity, name, units : str
        As those of ``Field``.
    faults : tuple of Fault
        Why.
    """

    quantity: str
    name: str
    units: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class FileFields:
    """What was read of a file.

    Attributes
    ----------
    fields : tuple of Field
        The quantities that it holds.
    refused : tuple of Refused
        Those that cannot be understood.
    unused : tuple of str
        Other variables, described.
    """

    fields: tuple[Field, ...]
    refused: tuple[Refused, ...]
    unused: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Source:
    """One dataset of a file, its axes, the nodes wanted of them, and how the file's sunlight was read so far."""

    part: xr.Dataset
    turned: Mapping[str, str]
    where: str
    axes: Axes
    nodes: Cut
    grid: Grid
    gaps: Gaps
    of_light: list[Reading]


def read_fields(
    parts: Sequence[xr.Dataset],
    where: str,
    *,
    corridor: Corridor | None,
    span: Span | None,
    stride: int = 1,
    gaps: Gaps = "filled",
    meshes: Meshes | None = None,
) -> FileFields:
    """Return every quantity that a file's datasets hold.

    Parameters
    ----------
    parts : sequence of xarray.Dataset
        As opened.
    where : str
        File name, for messages.
    corridor, span : optional
        As ``read_forecast`` takes them.
    stride : int
        Of the grid's rows and columns, every so many-th is read [1].
    gaps : {'filled', 'left'}
        What is done about missing values; too many to fill are refused.
    meshes : dict, optional
        Of projected grids, handed on from file to file.

    Raises
    ------
    InputError
        When the file holds nothing of use, or has no axes that can be understood.
    """
    wanted = [(part, chosen) for part in parts for chosen in [choose(part, where)] if chosen]
    if not wanted:
        held = ", ".join(sorted({described(part[name]) for part in parts for name in part.data_vars})) or "nothing"
        words = ", ".join(term.words for term in TERMS.values())
        problem = f"no variable is one that is used ({words})."
        raise InputError([Fault(where, "", problem, f"It holds {held}.")])
    keep_one([(chosen, part) for part, chosen in wanted], where)
    unused = _unused(parts, [(part, set(chosen.values())) for part, chosen in wanted])
    wanted = paired(wanted)
    fields: list[Field] = []
    refused: list[Refused] = []
    of_light: list[Reading] = []
    wanted.sort(key=lambda pair: set(pair[1]) == {DIRECT})  # direct light is read as all light is
    elsewhere: list[InputError] = []
    meshes = {} if meshes is None else meshes
    for part, chosen in wanted:
        try:
            grid = grid_of(part, where)
            level = level_grid(thinned_plane(part, stride), chosen, corridor, where, meshes)
            axes = find_axes(level.part, where)
            nodes = cut(axes, where, corridor=corridor, span=span)
        except InputError as error:  # of other waters or days, say
            if not set(chosen) <= OPTIONAL:
                raise
            elsewhere.append(error)
            refused += [_refused(part, quantity, name, error) for quantity, name in chosen.items()]
            continue
        nodes = thinned(nodes, stride) if level.part is part else nodes
        source = _Source(level.part, level.notes, where, axes, nodes, grid, gaps, of_light)
        for quantity, name in sorted(chosen.items(), key=lambda item: item[0] == DIRECT):
            try:
                if quantity in level.refused:
                    raise InputError([level.refused[quantity]])
                fields.append(_read(source, quantity, name))
            except InputError as error:
                refused.append(_refused(part, quantity, name, error))
    if len(elsewhere) == len(wanted):
        raise elsewhere[0]
    return FileFields(tuple(fields), tuple(refused), unused)


def _refused(part: xr.Dataset, quantity: str, name: str, error: InputError) -> Refused:
    return Refused(quantity, name, str(part[name].attrs.get("units", "")), error.faults)


def _unused(parts: Sequence[xr.Dataset], wanted: Sequence[tuple[xr.Dataset, set[str]]]) -> tuple[str, ...]:
    """Return what a file holds beside the quantities, described."""
    used = {id(part): names for part, names in wanted}
    left = [
        described(variable)
        for part in parts
        for name, variable in part.data_vars.items()
        if str(name) not in used.get(id(part), set()) and variable.ndim > 1
    ]
    unread = [name for part in parts for name in part.attrs.get(LEFT_UNREAD, ())]
    return tuple(dict.fromkeys([*left, *unread]))


def _read(source: _Source, quantity: str, name: str) -> Field:
    """Read one variable's part of the grid."""
    term, axes, nodes, where = TERMS[quantity], source.axes, source.nodes, source.where
    variable = at_height(source.part[name], term)
    wanted = [axes.member_dim, axes.time_dim, axes.lat_dim, axes.lon_dim]
    extra = [str(dim) for dim in variable.dims if dim not in wanted and variable.sizes[dim] > 1]
    if extra:
        problem = f"it runs along {', '.join(extra)} besides member, time, latitude and longitude."
        raise InputError([Fault(where, name, problem, "Take one level into a file of its own.")])
    variable = variable.isel({dim: 0 for dim in variable.dims if dim not in wanted})
    with library_errors(where, name, VALUES_UNREAD, CUT_SHORT):
        raw = load(variable, axes, nodes)
    notes: list[str] = [f"{where}: {repair}" for repair in nodes.repairs]
    notes += [source.turned[quantity]] if quantity in source.turned else []
    notes += [f"{where}: {name}: {variable.attrs[TAKEN_AS]}."] if TAKEN_AS in variable.attrs else []
    scale = units_of(variable, term, raw, where, notes)
    field = Field(
        quantity=quantity,
        name=name,
        units=str(variable.attrs.get("units", "")),
        file=where,
        values=in_planners_units(raw, scale),
        member=axes.member,
        time=nodes.time,
        lat=nodes.lat,
        lon=nodes.lon,
        start=None,
        issued=_issued(source.part),
        notes=(),
        grid=source.grid,
    )
    if term.flux is not None:
        field = _over_spans(field, variable, source, scale, notes)
    elif ACCUMULATED_FROM in variable.attrs:
        field = _at_middles(field, variable, source, notes)
    return replace(
        field, values=checked(field.values, term, name, where, notes, gaps=source.gaps), notes=tuple(notes)
    )


def _over_spans(field: Field, variable: xr.DataArray, source: _Source, scale: Scale, notes: list[str]) -> Field:
    """Return a flux as means over spans that follow on; times at which a file gives nothing are left out."""
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
        notes.append(f"{field.name} is read over the spans that the file states.")
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
        raise ambiguous(source.where, field.name, term.words, [])
    start = None if np.array_equal(flux.start, flux.end) else flux.start
    # packing makes some dark spans a little negative; readings that make more so have been ruled out
    values = np.maximum(flux.values, np.float32(0.0))
    return replace(field, values=values, time=flux.end, start=start, reading=words)


def _at_middles(field: Field, variable: xr.DataArray, source: _Source, notes: list[str]) -> Field:
    """Return a state that a GRIB file gives as means over spans, drawn from middle to middle."""
    every = np.ones(field.time.size, dtype=np.bool_)
    begins = _stated_starts(source, variable, every)
    if begins is None:
        return field
    flux = from_starts(field.values, begins, field.time, summed=False)
    if not flux.end.size:  # a mean over no time is the value at that moment
        return field
    notes.append(f"{field.name} is given as means over spans; it is drawn straight from middle to middle.")
    middles, ends = (
        (edge - flux.start[0]) / SECOND for edge in (flux.start + (flux.end - flux.start) // 2, flux.end)
    )
    place = np.interp(ends, middles, np.arange(ends.size, dtype=np.float64))
    lower = place.astype(np.int64)
    part = (place - lower).astype(np.float32)[:, None, None]
    upper = np.minimum(lower + 1, ends.size - 1)
    return replace(field, values=(1 - part) * flux.values[:, lower] + part * flux.values[:, upper], time=flux.end)


def _sums(readings: Sequence[Reading]) -> bool:
    """Tell whether all of the readings are of sums."""
    return all(reading.summed for reading in readings)


def _begun(field: Field, time: Times) -> np.datetime64:
    return field.issued if field.issued is not None else time[0].astype("datetime64[D]").astype("datetime64[ns]")


def _one_reading(field: Field, readings: Sequence[Reading], source: _Source) -> Reading:
    """Return the one reading of a flux that is left; refuse when none is, or several are."""
    term, begun = TERMS[field.quantity], _begun(field, field.time)
    if len(readings) == 1:
        return readings[0]
    if term.flux == "rain":
        return least_of(readings, field.values, field.time, begun)
    if field.quantity == DIRECT and source.of_light and source.of_light[0] in readings:
        return source.of_light[0]
    left = settle(readings, field.values, (field.time, field.lat, field.lon), begun)
    if len(left) != 1:
        raise ambiguous(source.where, field.name, term.words, left)
    source.of_light.append(left[0])
    return left[0]


def _stated_starts(source: _Source, variable: xr.DataArray, given: Any) -> Times | None:
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


def _issued(part: xr.Dataset) -> np.datetime64 | None:
    """Return when a forecast began, where the dataset says so."""
    for name, variable in part.variables.items():
        reference = variable.attrs.get("standard_name") == "forecast_reference_time"
        begun = plain(str(name)) == "time" and "valid_time" in part.variables
        if (reference or begun) and variable.ndim == 0 and np.issubdtype(variable.dtype, np.datetime64):
            return _exactly(variable.to_numpy())
        seconds = variable.attrs.get("reference_time")
        if isinstance(seconds, (int, float, np.number)):
            return _exactly(np.datetime64(round(float(seconds)), "s"))
    return None


def _exactly(moment: Any) -> np.datetime64:
    """Return a moment in nanoseconds."""
    nanoseconds = int(np.asarray(moment).astype("datetime64[ns]").astype(np.int64))
    return np.datetime64(nanoseconds, "ns")
