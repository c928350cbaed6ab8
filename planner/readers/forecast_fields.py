"""Find the planner's quantities among a dataset's variables and read them in the planner's units and order."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from planner.domain.errors import Fault, InputError
from planner.readers.forecast_grid import Axes, Corridor, Cut, Floats, Indices, Span, Times, cut, find_axes
from planner.readers.forecast_terms import CLOUD_LEVELS, ELSEWHERE, TERMS, Scale, Term, plain, scale_of

if TYPE_CHECKING:
    import xarray as xr

Values = npt.NDArray[np.float32]

_HEIGHT_NAMES = frozenset({"height", "heightaboveground", "height10m", "height2m", "heightabovegroundlevel", "level"})
_HEIGHT_WORDS = re.compile(r"^\s*([\d.]+)\s*m\b", re.IGNORECASE)
_ROUNDING = 0.011  # 1, how far packing may push a fraction beyond 0 or 1
_MOST_MISSING = 0.05  # 1, part of the values that may be filled from their neighbours; the project's own rule


@dataclass(frozen=True, eq=False)
class Field:
    """One quantity read from one file.

    Attributes
    ----------
    quantity, name : str
        Its key in ``TERMS``, and what the file calls it.
    values : array (member, time, lat, lon)
        In the planner's units.
    member : array of float
        Numbers as the file has them; NaN when it does not say.
    time, lat, lon : array
        Rising.
    issued : datetime64 or None
        When the forecast began, UTC.
    notes : tuple of str
        What was repaired or had to be read into the file.
    """

    quantity: str
    name: str
    values: Values
    member: Floats
    time: Times
    lat: Floats
    lon: Floats
    issued: np.datetime64 | None
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Source:
    """One dataset of a file, with its axes and the nodes wanted of them."""

    part: xr.Dataset
    where: str
    axes: Axes
    nodes: Cut


def read_fields(
    parts: Sequence[xr.Dataset], where: str, *, corridor: Corridor | None, span: Span | None
) -> list[Field]:
    """Return every quantity that a file's datasets hold.

    Parameters
    ----------
    parts : sequence of xarray.Dataset
        As opened.
    where : str
        File name, for messages.
    corridor, span : optional
        As ``read_forecast`` takes them.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    wanted = [(part, chosen) for part in parts for chosen in [_choose(part, where)] if chosen]
    if not wanted:
        held = ", ".join(sorted({_described(part[name]) for part in parts for name in part.data_vars})) or "nothing"
        words = ", ".join(term.words for term in TERMS.values())
        problem = f"no variable is one that is used ({words})."
        raise InputError([Fault(where, "", problem, f"It holds {held}.")])
    _refuse_twice([(chosen, part) for part, chosen in wanted], where)
    fields: list[Field] = []
    faults: list[Fault] = []
    for part, chosen in wanted:
        axes = find_axes(part, where)
        source = _Source(part, where, axes, cut(axes, where, corridor=corridor, span=span))
        for quantity, name in chosen.items():
            try:
                fields.append(_read(source, quantity, name))
            except InputError as error:
                faults += error.faults
            except (OSError, RuntimeError, EOFError) as error:  # what the file libraries raise on damaged data
                problem = f"its values cannot be read ({str(error)[:120]})."
                faults.append(
                    Fault(where, name, problem, "The file is probably damaged or cut short; fetch it again.")
                )
    if faults:
        raise InputError(faults)
    return fields


def _refuse_twice(wanted: Sequence[tuple[dict[str, str], xr.Dataset]], where: str) -> None:
    """Refuse a file whose datasets hold one quantity more than once, unless as control and perturbed members."""
    faults = []
    for quantity, term in TERMS.items():
        held = [part[chosen[quantity]] for chosen, part in wanted if quantity in chosen]
        kinds = {str(variable.attrs.get("GRIB_dataType")) for variable in held}
        if len(held) > len(kinds):
            listed = "; ".join(_described(variable) for variable in held)
            problem = f"several fields could be the {term.words}: {listed}."
            faults.append(Fault(where, "", problem, "Keep the one that is meant."))
    if faults:
        raise InputError(faults)


def _choose(part: xr.Dataset, where: str) -> dict[str, str]:
    """Return the variable's name of each quantity that a dataset holds.

    Raises
    ------
    InputError
        When two variables could be the same quantity.
    """
    found: dict[str, list[str]] = {}
    for key, variable in part.data_vars.items():
        quantity = _meaning(str(key), variable)
        if quantity is not None:
            found.setdefault(quantity, []).append(str(key))
    faults = []
    chosen = {}
    for quantity, names in found.items():
        term = TERMS[quantity]
        best = min((term.short_names.index(plain(n)) if plain(n) in term.short_names else 99) for n in names)
        short = [n for n in names if best < 99 and plain(n) == term.short_names[best]]
        if len(names) > 1 and len(short) != 1:
            listed = "; ".join(_described(part[name]) for name in names)
            problem = f"several variables could be the {term.words}: {listed}."
            faults.append(Fault(where, "", problem, "Keep the one that is meant."))
        chosen[quantity] = short[0] if len(short) == 1 else names[0]
    if faults:
        raise InputError(faults)
    return chosen


def _meaning(name: str, variable: xr.DataArray) -> str | None:
    """Return the quantity that a variable is, by its level, standard name and name, or None."""
    level = variable.attrs.get("GRIB_typeOfLevel")
    if level in ELSEWHERE:
        return None
    matches = [q for q, term in TERMS.items() if variable.attrs.get("standard_name") in term.standard_names]
    matches = matches or [q for q, term in TERMS.items() if plain(name) in term.short_names]
    if not matches:
        return None
    quantity = matches[0]
    if quantity == "cloud_cover" and level in CLOUD_LEVELS:
        return CLOUD_LEVELS[level]
    wanted = TERMS[quantity].height_m
    if wanted is not None and level not in {None, "heightAboveGround"}:
        return None
    heights = _heights(variable)
    if wanted is not None and heights is not None and not np.any(np.isclose(heights, wanted)):
        return None
    return quantity


def _heights(variable: xr.DataArray) -> Floats | None:
    """Return the heights above ground that a variable is given at, or None where it says nothing."""
    for key, coordinate in variable.coords.items():
        if plain(str(key)) in _HEIGHT_NAMES and coordinate.ndim <= 1 and coordinate.dtype.kind in "iuf":
            return np.atleast_1d(coordinate.to_numpy().astype(np.float64))
    words = _HEIGHT_WORDS.match(str(variable.attrs.get("level", "")))
    return np.array([float(words.group(1))]) if words else None


def _read(source: _Source, quantity: str, name: str) -> Field:
    """Read one variable's part of the grid."""
    term, axes, nodes, where = TERMS[quantity], source.axes, source.nodes, source.where
    variable = _at_height(source.part[name], term)
    wanted = [axes.member_dim, axes.time_dim, axes.lat_dim, axes.lon_dim]
    extra = [str(dim) for dim in variable.dims if dim not in wanted and variable.sizes[dim] > 1]
    if extra:
        problem = f"it runs along {', '.join(extra)} besides member, time, latitude and longitude."
        raise InputError([Fault(where, name, problem, "Take one level into a file of its own.")])
    variable = variable.isel({dim: 0 for dim in variable.dims if dim not in wanted})
    raw = _load(variable, axes, nodes)
    notes: list[str] = []
    scale = _scale(variable, term, raw, where, notes)
    values = _checked(_in_planners_units(raw, scale), term, name, where, notes)
    return Field(
        quantity=quantity,
        name=name,
        values=values,
        member=axes.member,
        time=nodes.time,
        lat=nodes.lat,
        lon=nodes.lon,
        issued=_issued(source.part),
        notes=tuple(notes),
    )


def _at_height(variable: xr.DataArray, term: Term) -> xr.DataArray:
    """Return a variable at the height that its quantity is wanted at, where it is given at several."""
    for key, coordinate in variable.coords.items():
        if plain(str(key)) in _HEIGHT_NAMES and coordinate.ndim == 1 and term.height_m is not None:
            return variable.isel({coordinate.dims[0]: int(np.argmin(np.abs(coordinate.to_numpy() - term.height_m)))})
    return variable


def _load(variable: xr.DataArray, axes: Axes, nodes: Cut) -> npt.NDArray[np.generic]:
    """Read the nodes from disk and return them as (member, time, lat, lon).

    Columns are read in runs of neighbours: a corridor may lie across the edge of the file's circle.
    """
    runs = np.split(nodes.lon_index, np.flatnonzero(np.abs(np.diff(nodes.lon_index)) != 1) + 1)
    boxes = [_box(variable, axes, nodes, run) for run in runs]
    return boxes[0] if len(boxes) == 1 else np.concatenate(boxes, axis=-1)


def _box(variable: xr.DataArray, axes: Axes, nodes: Cut, columns: Indices) -> npt.NDArray[np.generic]:
    """Read the smallest box that holds some columns, and put its nodes in order."""
    picks = {axes.time_dim: nodes.time_index, axes.lat_dim: nodes.lat_index, axes.lon_dim: columns}
    held = {dim: index for dim, index in picks.items() if dim in variable.dims}
    box = variable.isel({dim: slice(int(index.min()), int(index.max()) + 1) for dim, index in held.items()}).load()
    box = box.isel({dim: _within(index) for dim, index in held.items()})
    order = [axes.member_dim, axes.time_dim, axes.lat_dim, axes.lon_dim]
    values = box.transpose(*(dim for dim in order if dim in box.dims)).to_numpy()
    return values.reshape([box.sizes[dim] if dim in box.dims else 1 for dim in order])


def _within(index: Indices) -> slice | Indices:
    """Return where nodes lie in the box that was read for them; a slice, which copies nothing, where one will do."""
    if np.all(np.diff(index) == 1):
        return slice(None)
    if np.all(np.diff(index) == -1):
        return slice(None, None, -1)
    offsets: Indices = index - index.min()
    return offsets


def _in_planners_units(raw: npt.NDArray[np.generic], scale: Scale) -> Values:
    """Return values in the planner's units, computed in double precision a member at a time and kept in single."""
    values = np.empty(raw.shape, dtype=np.float32)
    for member, given in enumerate(raw):
        values[member] = given.astype(np.float64) * scale.factor + scale.offset
    return values


def _scale(variable: xr.DataArray, term: Term, raw: npt.NDArray[np.generic], where: str, notes: list[str]) -> Scale:
    """Return the change of units, read from the values only where they leave no doubt."""
    name = str(variable.name)
    units = str(variable.attrs.get("units", "")).strip()
    scale = scale_of(units, term)
    if scale is not None:
        return scale
    allowed = ", ".join(dict.fromkeys(key for key in term.scales))
    if units and units.lower() != "unknown":
        mend = f"Known are: {allowed}."
        raise InputError([Fault(where, name, f"units '{units}' are not known for {term.words}.", mend)])
    most = float(np.nanmax(raw)) if np.isfinite(raw).any() else np.nan
    guess = _evident_units(term, most)
    if guess is None:
        problem = f"it has no units, and its values, up to {most:.4g}, do not tell which are meant."
        raise InputError([Fault(where, name, problem, f"Give the variable units, one of: {allowed}.")])
    notes.append(f"{name} has no units; its values, up to {most:.4g}, show that they are '{guess}'.")
    return term.scales[guess]


def _evident_units(term: Term, most: float) -> str | None:
    """Return the only units that a largest value allows, or None."""
    if "%" in term.scales and most > 10.0:  # neither fraction, oktas nor tenths go so far
        return "%"
    if "kelvin" in term.scales and most > 150.0:  # no air is so hot in Celsius or Fahrenheit
        return "kelvin"
    return None


def _checked(values: Values, term: Term, name: str, where: str, notes: list[str]) -> Values:
    """Return plausible values without gaps.

    Raises
    ------
    InputError
        When values are implausible or too many are missing.
    """
    slack = _ROUNDING if term.most == 1.0 else 0.0
    lowest, highest = np.fmin.reduce(values, axis=None), np.fmax.reduce(values, axis=None)
    if lowest < term.least - slack or highest > term.most + slack:
        wrong = (values < term.least - slack) | (values > term.most + slack)
        extreme = float(values[wrong][np.argmax(np.abs(values[wrong]))])
        problem = (
            f"{int(wrong.sum())} of {values.size} values of {term.words} are implausible, such as {extreme:.4g}; "
            f"in the planner's units {term.least:g} to {term.most:g} is allowed."
        )
        mend = "The units are probably not what the file says, or missing values are not declared (_FillValue)."
        raise InputError([Fault(where, name, problem, mend)])
    if np.isnan(values.sum()):
        values = _mended(values, term, name, where, notes)
    return np.clip(values, term.least, term.most, out=values)


def _mended(values: Values, term: Term, name: str, where: str, notes: list[str]) -> Values:
    """Return values whose gaps are filled; too many are refused."""
    missing = np.isnan(values)
    if term.gap is not None:
        return np.where(missing, np.float32(term.gap), values)
    if missing.mean() > _MOST_MISSING:
        problem = f"{missing.mean():.0%} of the {term.words} within the route's corridor is missing."
        mend = f"At most {_MOST_MISSING:.0%} is filled from neighbours; take another file."
        raise InputError([Fault(where, name, problem, mend)])
    notes.append(f"{name}: {int(missing.sum())} missing values are filled from their neighbours in time and place.")
    return _filled(values, missing)


def _filled(values: Values, missing: npt.NDArray[np.bool_]) -> Values:
    """Fill gaps in time on a line, and what then is left from the nearest node of the same member."""
    from scipy.ndimage import distance_transform_edt

    result = values.copy()
    steps = np.arange(values.shape[1])
    for member, row, column in np.argwhere(missing.any(axis=1)):
        gap = missing[member, :, row, column]
        if not gap.all():
            series = result[member, :, row, column]
            series[gap] = np.interp(steps[gap], steps[~gap], series[~gap])
    for member in np.flatnonzero(~np.isfinite(result).all(axis=(1, 2, 3))):
        empty = ~np.isfinite(result[member])
        if empty.all():
            result[member] = np.nanmean(result, axis=0)
            continue
        nearest = distance_transform_edt(empty, return_distances=False, return_indices=True)
        result[member] = result[member][tuple(nearest)]
    return result


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


def _described(variable: xr.DataArray) -> str:
    """Return a variable's name with what its file says about it."""
    words = variable.attrs.get("long_name") or variable.attrs.get("GRIB_name") or variable.attrs.get("standard_name")
    units = variable.attrs.get("units")
    return (
        f"{variable.name} ({', '.join(str(x) for x in (words, units) if x)})"
        if words or units
        else f"{variable.name}"
    )
