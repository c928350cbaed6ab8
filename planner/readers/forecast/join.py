"""Bring quantities that were put together to common members, times and places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.members import Whole
from planner.readers.forecast.terms import TERMS
from planner.readers.forecast.values import Values

HOUR: Final = np.timedelta64(3600, "s")
HELD: Final = frozenset({"current_east_m_s", "current_north_m_s", "rain_mm_h", "wave_height_m"})
"""Quantities that may end before the others: their edges are held, in time and place."""
CLOUD: Final = frozenset({"cloud_cover", "cloud_low", "cloud_middle", "cloud_high"})


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
    _refuse_other_members(core, where)
    lat, lon = _common_grid(core, where)
    states = {name: part.time for name, part in core.items() if part.start is None}
    if "ghi_w_m2" in core and set(states) - CLOUD:  # where sunlight is given, cloud may begin later
        states |= {name: np.append(_first(states, without=CLOUD), states[name]) for name in CLOUD & set(states)}
    time = _common_times(list(states.values()), where)
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
        result[name] = Whole(part.name, values, part.member, wanted[0], lat, lon, part.start)
    return result


def _refuse_other_members(core: Mapping[str, Whole], where: str) -> None:
    """Refuse quantities whose members are numbered otherwise: one's wind would meet another's sky."""
    numbered = {n: p.member for n, p in core.items() if p.member.size > 1 and np.isfinite(p.member).all()}
    first = next(iter(numbered.values()), None)
    for name, member in numbered.items():
        if first is not None and member.size == first.size and not np.array_equal(member, first):
            problem = f"{TERMS[name].words} has the members {_listed(member)}, the rest {_listed(first)}."
            raise InputError([Fault(where, name, problem, "Give every quantity for the same members.")])


def _listed(member: Floats) -> str:
    return f"{member[0]:g} to {member[-1]:g}"


def _common_grid(core: Mapping[str, Whole], where: str) -> tuple[Floats, Floats]:
    """Return the nodes of the finest grid that all quantities reach, give or take a cell of their own."""
    finest = min(core.values(), key=lambda part: _step(part.lat) * _step(part.lon))
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


def _step(axis: Floats) -> float:
    """Return the usual step of an axis; that of one node alone is as wide as can be [degree]."""
    return float(np.median(np.diff(axis))) if axis.size > 1 else 360.0


def _reached(axis: Floats, own: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    cell = float(np.max(np.diff(own))) if own.size > 1 else 0.0
    return np.asarray((axis >= own[0] - cell - 1e-6) & (axis <= own[-1] + cell + 1e-6))


def _first(states: Mapping[str, Times], *, without: frozenset[str]) -> np.datetime64:
    """Return when the latest of some quantities begins."""
    first: np.datetime64 = max(time[0] for name, time in states.items() if name not in without)
    return first


def _common_times(axes: Sequence[Times], where: str) -> Times:
    """Return all times of any axis within the span that every one covers."""
    if not axes:
        return np.array([], dtype="datetime64[ns]")
    first, last = max(axis[0] for axis in axes), min(axis[-1] for axis in axes)
    if first > last:
        remedy = "Give every quantity at the same times."
        raise InputError([Fault(where, "time", "the quantities have no time in common.", remedy)])
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
        Times, latitudes and longitudes that it has and that it is to have; rising, longitudes continuous [degree].

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
