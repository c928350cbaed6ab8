"""Put one quantity's pieces together: members by their numbers or else their order, times and cycles one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import Final

import numpy as np

from planner.domain.arrays import Floats, Ints, Times
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.field import Field
from planner.readers.forecast.values import Values

LONG_AGO: Final = np.datetime64("0001-01-01", "ns").astype("datetime64[ns]")


@dataclass(frozen=True, eq=False)
class Whole:
    """One quantity of every file put together.

    Attributes
    ----------
    name : str
        What the first file calls it.
    values : array (member, time, lat, lon)
        In the planner's units.
    member : array (member,)
        Numbers as the files have them; NaN where they do not say.
    time, lat, lon : array
        Rising; for means over spans, the time at which each ends.
    start : array of datetime64 or None
        Where each span begins.
    """

    name: str
    values: Values
    member: Floats
    time: Times
    lat: Floats
    lon: Floats
    start: Times | None


def put_together(fields: Sequence[Field], where: str, notes: list[str]) -> Whole:
    """Join one quantity's pieces: members of the same forecast stand side by side, other times follow.

    Where times meet twice, the forecast begun later wins, and of those begun together the file named later.

    Parameters
    ----------
    fields : sequence of Field
        Of one quantity, control first.
    where : str
        File names, for messages.
    notes : list of str
        Gets what was repaired.

    Raises
    ------
    InputError
        When grids differ, or numbers of members.
    """
    for field in fields[1:]:
        if not (np.array_equal(field.lat, fields[0].lat) and np.array_equal(field.lon, fields[0].lon)):
            sizes = " and ".join(f"{one.lat.size} x {one.lon.size} points" for one in (field, fields[0]))
            remedy = "Give every file of one quantity on the same grid."
            raise InputError([Fault(where, field.name, f"the grids differ: {sizes}.", remedy)])
    begun: dict[int, list[Field]] = {}
    for field in fields:
        moment = LONG_AGO if field.issued is None else field.issued
        begun.setdefault(int(moment.astype(np.int64)), []).append(field)
    pieces = [piece for moment in sorted(begun) for piece in _one_cycle(begun[moment], where, notes)]
    if len({piece.values.shape[0] for piece in pieces}) > 1:
        counts = ", ".join(str(piece.values.shape[0]) for piece in pieces)
        problem = f"the files hold different numbers of members for different times ({counts})."
        raise InputError([Fault(where, fields[0].name, problem, "Give every member with the same times.")])
    return pieces[0] if len(pieces) == 1 else _one_after_another(pieces)


def _one_cycle(fields: Sequence[Field], where: str, notes: list[str]) -> list[Whole]:
    """Return the pieces of one start, each with all of its members."""
    numbered = _by_number(fields, notes)
    if numbered is not None:
        members = [_one_after_another([_whole(field) for field in own]) for own in numbered]
        return [_side_by_side(sorted(members, key=lambda one: one.member[0]), where, notes)]
    groups: dict[tuple[bytes, bytes], list[Field]] = {}
    for field in fields:
        span = b"" if field.start is None else field.start.tobytes()
        groups.setdefault((field.time.tobytes(), span), []).append(field)
    pieces = [_side_by_side([_whole(field) for field in group], where, notes) for group in groups.values()]
    longest = max(pieces, key=lambda piece: piece.time.size)
    nested = all(one.time[0] == longest.time[0] and np.isin(one.time, longest.time).all() for one in pieces)
    return [_side_by_side(pieces, where, notes)] if nested else pieces


def _by_number(fields: Sequence[Field], notes: list[str]) -> list[list[Field]] | None:
    """Return the pieces of each member, or of members that come together; None where numbers do not say."""
    if not all(np.isfinite(field.member).all() for field in fields):
        return None
    groups: dict[bytes, list[Field]] = {}
    for field in fields:
        group = groups.setdefault(field.member.tobytes(), [])
        twin = next((one for one in group if np.array_equal(one.time, field.time)), None)
        if twin is None:
            group.append(field)
        elif not np.array_equal(twin.values, field.values):
            number = ", ".join(f"{one:g}" for one in field.member)
            notes.append(
                f"{field.name}: several files call themselves member {number} of the same times; they are taken for "
                "members in the order of their names."
            )
            return None
    numbers = np.concatenate([group[0].member for group in groups.values()])
    return list(groups.values()) if np.unique(numbers).size == numbers.size else None


def _whole(field: Field) -> Whole:
    """Return a field as a quantity; of times that come twice, the later holds."""
    order = np.argsort(field.member, kind="stable")
    values = field.values if np.all(np.diff(order) > 0) else field.values[order]
    whole = Whole(field.name, values, field.member[order], field.time, field.lat, field.lon, field.start)
    once = np.concatenate([np.diff(whole.time) > np.timedelta64(0, "ns"), [True]])
    return whole if once.all() else _at(whole, np.flatnonzero(once))


def _side_by_side(members: Sequence[Whole], where: str, notes: list[str]) -> Whole:
    """Stack members at the times that all of them have."""
    if len(members) == 1:
        return members[0]
    first = members[0]
    common = reduce(np.intersect1d, [one.time for one in members])
    cut = [
        one if one.time.size == common.size else _at(one, np.flatnonzero(np.isin(one.time, common)))
        for one in members
    ]
    most = max(one.time.size for one in members)
    if not common.size or not all(_same_spans(cut[0], one) for one in cut):
        remedy = "Give every member with the same times."
        raise InputError([Fault(where, first.name, "the members have no times and spans in common.", remedy)])
    if common.size < most:
        last = str(common[-1].astype("datetime64[m]")).replace("T", " ")
        notes.append(
            f"The members are of unequal length: of {most} times the {common.size} that all have are used, to {last} "
            "UTC."
        )
    return replace(
        cut[0],
        values=np.concatenate([one.values for one in cut], axis=0),
        member=np.concatenate([one.member for one in cut]),
    )


def _same_spans(one: Whole, other: Whole) -> bool:
    if one.start is None or other.start is None:
        return one.start is other.start
    return np.array_equal(one.start, other.start)


def _at(whole: Whole, times: Ints) -> Whole:
    """Return a quantity at some of its times."""
    start = None if whole.start is None else whole.start[times]
    return replace(whole, values=whole.values[:, times], time=whole.time[times], start=start)


def _one_after_another(cycles: Sequence[Whole]) -> Whole:
    """Join pieces in time, the last of them winning wherever it says something."""
    if len(cycles) == 1:
        return cycles[0]
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
