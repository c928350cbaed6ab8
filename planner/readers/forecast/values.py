"""Read a variable's part of a grid from disk, bring it to the planner's units, and repair or refuse what is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Ints
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.grids.grid import Axes, Cut
from planner.readers.forecast.terms import Scale, Term, scale_of

if TYPE_CHECKING:
    import xarray as xr

Values = npt.NDArray[np.float32]

_ROUNDING = 0.011  # 1, how far packing may push a fraction beyond 0 or 1
_MOST_AT_ONCE = 8_000_000  # values read at once, of which the nodes wanted are then taken
MOST_MISSING = 0.05  # 1, part of the values that may be filled from their neighbours; the project's own rule


def load(variable: xr.DataArray, axes: Axes, nodes: Cut) -> npt.NDArray[np.generic]:
    """Read the nodes from disk and return them as (member, time, lat, lon).

    Columns are read in runs of neighbours: a corridor may lie across the edge of the file's circle.
    """
    apart = np.abs(np.diff(nodes.lon_index))
    runs = np.split(nodes.lon_index, np.flatnonzero(apart != apart.min(initial=nodes.lon_index.size)) + 1)
    boxes = [_box(variable, axes, nodes, run) for run in runs]
    return boxes[0] if len(boxes) == 1 else np.concatenate(boxes, axis=-1)


def _box(variable: xr.DataArray, axes: Axes, nodes: Cut, columns: Ints) -> npt.NDArray[np.generic]:
    """Read the smallest box that holds some columns, large ones a few times at once, and put its nodes in order."""
    picks = {axes.time_dim: nodes.time_index, axes.lat_dim: nodes.lat_index, axes.lon_dim: columns}
    if axes.time_dim not in variable.dims:
        return _slab(variable, axes, picks)
    spread = {str(dim): int(np.ptp(index)) + 1 for dim, index in picks.items() if dim in variable.dims}
    size = int(np.prod([spread.get(str(dim), variable.sizes[dim]) for dim in variable.dims if dim != axes.time_dim]))
    parts = np.array_split(nodes.time_index, max(1, -(-size * nodes.time_index.size // _MOST_AT_ONCE)))
    slabs = [_slab(variable, axes, picks | {axes.time_dim: part}) for part in parts if part.size]
    return slabs[0] if len(slabs) == 1 else np.concatenate(slabs, axis=1)


def _slab(variable: xr.DataArray, axes: Axes, picks: Mapping[str | None, Ints]) -> npt.NDArray[np.generic]:
    """Read the smallest box that holds some nodes, and return these alone."""
    held = {dim: index for dim, index in picks.items() if dim in variable.dims}
    box = variable.isel({dim: slice(int(index.min()), int(index.max()) + 1) for dim, index in held.items()}).load()
    box = box.isel({dim: _within(index) for dim, index in held.items()})
    order = [axes.member_dim, axes.time_dim, axes.lat_dim, axes.lon_dim]
    values = box.transpose(*(dim for dim in order if dim in box.dims)).to_numpy()
    return values.reshape([box.sizes[dim] if dim in box.dims else 1 for dim in order])


def _within(index: Ints) -> slice | Ints:
    """Return where nodes lie in the box that was read for them; a slice, which copies nothing, where one will do."""
    if np.all(np.diff(index) == 1):
        return slice(None)
    if np.all(np.diff(index) == -1):
        return slice(None, None, -1)
    offsets: Ints = index - index.min()
    return offsets


def in_planners_units(raw: npt.NDArray[np.generic], scale: Scale) -> Values:
    """Return values in the planner's units, computed in double precision a member at a time and kept in single."""
    values = np.empty(raw.shape, dtype=np.float32)
    for member, given in enumerate(raw):
        values[member] = given.astype(np.float64) * scale.factor + scale.offset
    return values


def units_of(variable: xr.DataArray, term: Term, raw: npt.NDArray[np.generic], where: str, notes: list[str]) -> Scale:
    """Return the change of units, read from the values only where they leave no doubt."""
    name = str(variable.name)
    units = str(variable.attrs.get("units", "")).strip()
    scale = scale_of(units, term)
    if scale is not None:
        return scale
    allowed = ", ".join(dict.fromkeys(key for key in term.scales))
    if units and units.lower() != "unknown":
        remedy = f"Known are: {allowed}."
        raise InputError([Fault(where, name, f"units '{units}' are not known for {term.words}.", remedy)])
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


def checked(
    values: Values, term: Term, name: str, where: str, notes: list[str], *, gaps: Literal["filled", "left"]
) -> Values:
    """Return plausible values; gaps are filled, too many refused, or left where only a look is taken.

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
        remedy = "The units are probably not what the file says, or missing values are not declared (_FillValue)."
        raise InputError([Fault(where, name, problem, remedy)])
    if np.isnan(values.sum()):
        values = (
            _gaps_filled(values, term, name, where, notes)
            if gaps == "filled"
            else _missing_noted(values, term, name, notes)
        )
    return np.clip(values, term.least, term.most, out=values)


def _missing_noted(values: Values, term: Term, name: str, notes: list[str]) -> Values:
    """Return values as they are and note how many are missing; where a gap has a meaning, it gets that."""
    missing = np.isnan(values)
    if term.gap is not None:
        return np.where(missing, np.float32(term.gap), values)
    notes.append(
        f"{name}: {missing.mean():.1%} of its values are missing; a plan fills up to {MOST_MISSING:.0%} of those in "
        "its corridor from their neighbours, and refuses more."
    )
    return values


def _gaps_filled(values: Values, term: Term, name: str, where: str, notes: list[str]) -> Values:
    """Return values whose gaps are filled; too many are refused."""
    missing = np.isnan(values)
    if term.gap is not None:
        return np.where(missing, np.float32(term.gap), values)
    if missing.mean() > MOST_MISSING:
        problem = f"{missing.mean():.0%} of the {term.words} within the route's corridor is missing."
        remedy = f"At most {MOST_MISSING:.0%} is filled from neighbours; take another file."
        raise InputError([Fault(where, name, problem, remedy)])
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
