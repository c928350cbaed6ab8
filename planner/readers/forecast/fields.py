"""Find the planner's quantities in a file and read them in the planner's units and order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.readers.forecast.field import DIRECT, Field, Gaps, Refused, Source
from planner.readers.forecast.file import (
    ACCUMULATED_FROM,
    CUT_SHORT,
    LEFT_UNREAD,
    TAKEN_AS,
    VALUES_UNREAD,
    library_errors,
    refuse_too_large,
)
from planner.readers.forecast.grids.extent import grid_of, thinned, thinned_plane
from planner.readers.forecast.grids.grid import Corridor, Span, cut, find_axes
from planner.readers.forecast.grids.plane import Meshes, level_grid
from planner.readers.forecast.grids.vectors import paired
from planner.readers.forecast.meaning import at_height, choose, described, keep_one
from planner.readers.forecast.spans import at_middles, over_spans
from planner.readers.forecast.sunlight.flux import Reading
from planner.readers.forecast.sunlight.kinds import UndecidedLightError
from planner.readers.forecast.terms import TERMS, plain
from planner.readers.forecast.values import checked, in_planners_units, load, units_of

if TYPE_CHECKING:
    import xarray as xr

LATEST_S = 1e10  # s since 1970, in the year 2286: a later beginning is none
OPTIONAL = frozenset({"ghi_w_m2", DIRECT, "rain_mm_h", "wave_height_m"})
"""Quantities that a plan can do without: what cannot be understood of them is noted and set aside."""


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


def read_fields(
    parts: Sequence[xr.Dataset],
    where: str,
    *,
    corridor: Corridor | None,
    span: Span | None,
    stride: int = 1,
    gaps: Gaps = "filled",
    meshes: Meshes | None = None,
    sunlight: str | None = None,
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
    sunlight : str, optional
        What each value of sunlight is, in the words of ``flux.GIVEN``, where that is known.

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
    _refuse_empty(wanted, where)
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
        source = Source(level.part, level.notes, where, axes, nodes, grid, gaps, sunlight, of_light)
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


def _refuse_empty(wanted: Sequence[tuple[xr.Dataset, dict[str, str]]], where: str) -> None:
    """Refuse variables along an axis of no length."""
    faults = [
        Fault(
            where, name, f"its axis {dim} has no length: there are no values.", "The file is cut, or not yet filled."
        )
        for part, chosen in wanted
        for name in chosen.values()
        for dim, size in part[name].sizes.items()
        if size == 0
    ]
    if faults:
        raise InputError(faults)


def _refused(part: xr.Dataset, quantity: str, name: str, error: InputError) -> Refused:
    undecided = error.light if isinstance(error, UndecidedLightError) else None
    return Refused(quantity, name, str(part[name].attrs.get("units", "")), error.faults, undecided)


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


def _read(source: Source, quantity: str, name: str) -> Field:
    """Read one variable's part of the grid."""
    term, axes, nodes, where = TERMS[quantity], source.axes, source.nodes, source.where
    variable = at_height(source.part[name], term)
    wanted = [axes.member_dim, axes.time_dim, axes.lat_dim, axes.lon_dim]
    extra = [str(dim) for dim in variable.dims if dim not in wanted and variable.sizes[dim] > 1]
    if extra:
        problem = f"it runs along {', '.join(extra)} besides member, time, latitude and longitude."
        raise InputError([Fault(where, name, problem, "Take one level into a file of its own.")])
    variable = variable.isel({dim: 0 for dim in variable.dims if dim not in wanted})
    wanted_of = (axes.member.size, nodes.time_index.size, nodes.lat_index.size, nodes.lon_index.size)
    refuse_too_large(math.prod(wanted_of) * variable.dtype.itemsize, where, name)
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
        field = over_spans(field, variable, source, scale, notes)
    elif ACCUMULATED_FROM in variable.attrs:
        field = at_middles(field, variable, source, notes)
    return replace(
        field, values=checked(field.values, term, name, where, notes, gaps=source.gaps), notes=tuple(notes)
    )


def _issued(part: xr.Dataset) -> np.datetime64 | None:
    """Return when a forecast began, where the dataset says so."""
    for name, variable in part.variables.items():
        reference = variable.attrs.get("standard_name") == "forecast_reference_time"
        begun = plain(str(name)) == "time" and "valid_time" in part.variables
        if (reference or begun) and variable.ndim == 0 and np.issubdtype(variable.dtype, np.datetime64):
            return _exactly(variable.to_numpy())
        seconds = variable.attrs.get("reference_time")
        if isinstance(seconds, (int, float, np.number)) and abs(float(seconds)) < LATEST_S:
            return _exactly(np.datetime64(round(float(seconds)), "s"))
    return None


def _exactly(moment: Any) -> np.datetime64:
    """Return a moment in nanoseconds."""
    nanoseconds = int(np.asarray(moment).astype("datetime64[ns]").astype(np.int64))
    return np.datetime64(nanoseconds, "ns")
