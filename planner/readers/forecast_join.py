"""Put the fields of all files together: members, times and cycles of each quantity, then all on common axes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.readers.forecast_fields import Field
from planner.readers.forecast_grid import Floats, Times
from planner.readers.forecast_terms import TERMS
from planner.readers.forecast_values import Values

HOUR: Final = np.timedelta64(3600, "s")
LONG_AGO: Final = np.datetime64("0001-01-01", "ns").astype("datetime64[ns]")
HELD: Final = frozenset({"current_east_m_s", "current_north_m_s", "rain_mm_h", "wave_height_m"})
"""Quantities that may end before the others: their edges are held, in time and place."""


@dataclass(frozen=True, eq=False)
class Whole:
    """One quantity of every file put together.

    Attributes
    ----------
    name : str
        What the first file calls it.
    values : array (member, time, lat, lon)
        In the planner's units.
    time, lat, lon : array
        Rising; for means over spans, the time at which each ends.
    start : array of datetime64 or None
        Where each span begins.
    """

    name: str
    values: Values
    time: Times
    lat: Floats
    lon: Floats
    start: Times | None


def put_together(fields: Sequence[Field], where: str) -> Whole:
    """Join one quantity's pieces: those of the same start and times are members, the others follow in time.

    Where times meet twice, the forecast begun later wins, and of those begun together the file named later.

    Parameters
    ----------
    fields : sequence of Field
        Of one quantity, control first.
    where : str
        File names, for messages.

    Raises
    ------
    InputError
        When grids differ, or numbers of members.
    """
    for field in fields[1:]:
        if not (np.array_equal(field.lat, fields[0].lat) and np.array_equal(field.lon, fields[0].lon)):
            sizes = " and ".join(f"{one.lat.size} x {one.lon.size} points" for one in (field, fields[0]))
            mend = "Give every file of one quantity on the same grid."
            raise InputError([Fault(where, field.name, f"the grids differ: {sizes}.", mend)])
    groups: dict[tuple[object, ...], list[Field]] = {}
    for field in fields:
        begun = LONG_AGO if field.issued is None else field.issued
        span = b"" if field.start is None else field.start.tobytes()
        groups.setdefault((int(begun.astype(np.int64)), field.time.tobytes(), span), []).append(field)
    cycles = [_members(groups[key]) for key in sorted(groups, key=lambda key: key[0])]  # type: ignore[arg-type,return-value]
    if len({cycle.values.shape[0] for cycle in cycles}) > 1:
        counts = ", ".join(str(cycle.values.shape[0]) for cycle in cycles)
        problem = (
            f"the files hold different numbers of members for different times ({counts}), or members of unequal "
            "length."
        )
        raise InputError([Fault(where, fields[0].name, problem, "Give every member with the same times.")])
    return cycles[0] if len(cycles) == 1 else _one_after_another(cycles)


def _members(group: Sequence[Field]) -> Whole:
    """Stack the members of equal times, by their numbers where all have one."""
    first = group[0]
    numbers = np.concatenate([field.member for field in group])
    values = first.values if len(group) == 1 else np.concatenate([field.values for field in group], axis=0)
    if np.isfinite(numbers).all() and np.any(np.diff(numbers) < 0.0):
        values = values[np.argsort(numbers, kind="stable")]
    whole = Whole(first.name, values, first.time, first.lat, first.lon, first.start)
    once = np.concatenate([np.diff(whole.time) > np.timedelta64(0, "ns"), [True]])
    return whole if once.all() else _at(whole, np.flatnonzero(once))


def _at(whole: Whole, times: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Whole:
    """Return a quantity at some of its times."""
    start = None if whole.start is None else whole.start[times]
    return replace(whole, values=whole.values[:, times], time=whole.time[times], start=start)


def _one_after_another(cycles: Sequence[Whole]) -> Whole:
    """Join cycles in time, the last of them winning wherever it says something."""
    kept: list[Whole] = []
    for cycle in reversed(cycles):
        begins = cycle.time if cycle.start is None else cycle.start
        free = np.ones(cycle.time.size, dtype=np.bool_)
        for other in kept:
            if cycle.start is None:
                free &= ~np.isin(cycle.time, other.time)
            elif other.start is not None:
                free &= (cycle.time <= other.start[0]) | (begins >= other.time[-1])
        kept.append(_at(cycle, np.flatnonzero(free)))
    time = np.concatenate([part.time for part in kept])
    joined = replace(
        kept[0],
        values=np.concatenate([part.values for part in kept], axis=1),
        time=time,
        start=np.concatenate([part.start for part in kept if part.start is not None])
        if kept[0].start is not None
        else None,
    )
    return _at(joined, np.argsort(time, kind="stable"))


def on_common_axes(whole: Mapping[str, Whole], where: str, notes: list[str]) -> dict[str, Whole]:
    """Return every quantity for the same members on the finest grid, and every state at all times of any.

    Parameters
    ----------
    whole : mapping of str to Whole
        By quantity.
    where : str
        File names, for messages.
    notes : list of str
        Gets what was brought to another grid or to other times.

    Raises
    ------
    InputError
        When quantities have no time or place in common, or other numbers of members.
    """
    core = {name: part for name, part in whole.items() if name not in HELD}
    if not core:
        return dict(whole)
    members = max(part.values.shape[0] for part in core.values())
    lat, lon = _common_grid(core, where)
    time = _common_times([part.time for part in core.values() if part.start is None], where)
    result = {}
    for name, part in whole.items():
        count = part.values.shape[0]
        if count not in {1, members} and name not in HELD:
            problem = f"{TERMS[name].words} has {count} members, the rest {members}."
            raise InputError([Fault(where, name, problem, "Give every quantity with the same members.")])
        wanted = (part.time if part.start is not None else time, lat, lon)
        values = part.values
        if not all(np.array_equal(own, at) for own, at in zip((part.time, part.lat, part.lon), wanted, strict=True)):
            values = brought_to(values, (part.time, part.lat, part.lon), wanted)
            notes.append(f"{part.name} is brought to the grid and times of the rest.")
        if values.shape[0] != members:
            values = np.repeat(values[:1], members, axis=0)
        result[name] = Whole(part.name, values, wanted[0], lat, lon, part.start)
    return result


def _common_grid(core: Mapping[str, Whole], where: str) -> tuple[Floats, Floats]:
    """Return the nodes of the finest grid that all quantities reach, give or take a cell of their own."""
    finest = max(core.values(), key=lambda part: part.lat.size * part.lon.size)
    lat, lon = finest.lat, finest.lon
    for name, part in core.items():
        if np.array_equal(part.lat, lat) and np.array_equal(part.lon, lon):
            continue
        near = part.lon + _turns(part.lon, lon)
        lat, lon = (axis[_reached(axis, own)] for axis, own in ((lat, part.lat), (lon, near)))
        if not lat.size or not lon.size:
            problem = f"{TERMS[name].words} is of other waters than the rest."
            raise InputError([Fault(where, name, problem, "Give every quantity for the same waters.")])
    return lat, lon


def _reached(axis: Floats, own: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    cell = float(np.max(np.diff(own))) if own.size > 1 else 0.0
    return np.asarray((axis >= own[0] - cell - 1e-6) & (axis <= own[-1] + cell + 1e-6))


def _common_times(axes: Sequence[Times], where: str) -> Times:
    """Return all times of any axis within the span that every one covers."""
    if not axes:
        return np.array([], dtype="datetime64[ns]")
    first, last = max(axis[0] for axis in axes), min(axis[-1] for axis in axes)
    if first > last:
        mend = "Give every quantity at the same times."
        raise InputError([Fault(where, "time", "the quantities have no time in common.", mend)])
    every: Times = np.unique(np.concatenate(axes))
    common: Times = every[(every >= first) & (every <= last)]
    return common


def brought_to(values: Values, own: tuple[Times, Floats, Floats], axes: tuple[Times, Floats, Floats]) -> Values:
    """Return a field on other axes: linear in time, latitude and longitude, held beyond its own.

    Parameters
    ----------
    values : array (member, time, lat, lon)
        [any].
    own, axes : tuple of array
        Times, latitudes and longitudes that it has and that it shall have; rising, longitudes continuous [degree].

    Returns
    -------
    array (member, time, lat, lon)
        In the field's units.
    """
    nodes = ((own[0] - own[0][0]) / HOUR, own[1], own[2] + _turns(own[2], axes[2]))
    wanted = ((axes[0] - own[0][0]) / HOUR, axes[1], axes[2])
    result = values
    for axis, (node, at) in enumerate(zip(nodes, wanted, strict=True), start=1):
        if not np.array_equal(node, at):
            result = _along(result, node, at, axis)
    return result


def _turns(lon: Floats, other: Floats) -> float:
    """Return the whole circles that bring longitudes nearest to others [degree]."""
    return float(360.0 * np.round((other.mean() - lon.mean()) / 360.0))


def _along(values: Values, nodes: Floats, at: Floats, axis: int) -> Values:
    """Return values read linearly along one axis, held beyond its ends."""
    if nodes.size == 1:
        return np.repeat(values, at.size, axis=axis)
    place = np.clip(np.interp(at, nodes, np.arange(nodes.size, dtype=np.float64)), 0.0, nodes.size - 1.0)
    lower = np.minimum(place.astype(np.int64), nodes.size - 2)
    shape = [1] * values.ndim
    shape[axis] = at.size
    part = (place - lower).astype(np.float32).reshape(shape)
    result: Values = np.take(values, lower, axis=axis) * (np.float32(1.0) - part)
    result += np.take(values, lower + 1, axis=axis) * part
    return result
