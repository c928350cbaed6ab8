"""Logs of several files as one: what stands in two must agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.log_mapping import COLUMNS
from planner.readers.log.columns import WATTS, Key
from planner.readers.log.values import resolution


@dataclass(frozen=True)
class Logged:
    """Readings of one file.

    Attributes
    ----------
    where : str
        Name of the file.
    time : datetime64 array (reading,)
        UTC, rising, each moment once.
    values : dict of (str, str) to array (reading,)
        NaN where nothing was read.
    """

    where: str
    time: Times
    values: dict[Key, Floats]


def in_order(where: str, time: Times, values: dict[Key, Floats], notes: list[str]) -> Logged:
    """Return the readings of one file in order of time, each moment once.

    Repeated lines are dropped; lines that differ at one moment, as where seconds are not logged, become their mean.

    Parameters
    ----------
    where : str
        Name of the file.
    time : datetime64 array (line,)
        UTC; lines whose time is spoilt (NaT) are dropped.
    values : dict of (str, str) to array (line,)
    notes : list of str
        Lines on what was repaired are added.
    """
    good = ~np.isnat(time)
    time, values = time[good], {key: column[good] for key, column in values.items()}
    fall = np.diff(time.astype(np.int64)) < 0
    if fall.any():
        order = np.argsort(time, kind="stable")
        time, values = time[order], {key: column[order] for key, column in values.items()}
        newest = fall.sum() > 0.9 * fall.size
        change = "the newest reading stood first" if newest else f"{fall.sum()} lines stood before an earlier one"
        notes.append(f"{where}: {change}; sorted by time.")
    moments, group = np.unique(time, return_inverse=True)
    twice = time.size - moments.size
    if not twice:
        return Logged(where, time, values)
    differ = np.zeros(moments.size, dtype=bool)
    meant: dict[Key, Floats] = {}
    for key, column in values.items():
        read = np.isfinite(column)
        count = np.bincount(group[read], minlength=moments.size)
        total = np.bincount(group[read], weights=column[read], minlength=moments.size)
        low, high = np.full(moments.size, np.inf), np.full(moments.size, -np.inf)
        np.minimum.at(low, group[read], column[read])
        np.maximum.at(high, group[read], column[read])
        differ |= high > low
        same = np.where(count > 0, low, np.nan)
        meant[key] = np.where(high > low, total / np.maximum(count, 1), same)
    repeated = int(twice - (np.bincount(group)[differ] - 1).sum())
    if repeated:
        notes.append(f"{where}: {repeated} line{'s' if repeated > 1 else ''} told twice dropped.")
    if differ.any():
        notes.append(f"{where}: at {differ.sum()} moments several lines differ; their mean was taken.")
    return Logged(where, moments, meant)


def merged(logs: Sequence[Logged], notes: list[str]) -> Logged:
    """Return the readings of several files as one.

    Parameters
    ----------
    logs : sequence of Logged
        One or more.
    notes : list of str
        Lines on what was dropped are added.

    Raises
    ------
    InputError
        When two files differ at one moment, beyond the rounding of both.
    """
    whole, faults = logs[0], []
    for log in logs[1:]:
        whole, found = _joined(whole, log, notes)
        faults += found
    if faults:
        raise InputError(faults)
    return whole


def _joined(first: Logged, second: Logged, notes: list[str]) -> tuple[Logged, list[Fault]]:
    time = np.union1d(first.time, second.time)
    here, there = np.searchsorted(time, first.time), np.searchsorted(time, second.time)
    values: dict[Key, Floats] = {}
    faults: list[Fault] = []
    same = 0
    for key in dict.fromkeys([*first.values, *second.values]):
        a, b = np.full(time.size, np.nan), np.full(time.size, np.nan)
        if key in first.values:
            a[here] = first.values[key]
        if key in second.values:
            b[there] = second.values[key]
        both = np.isfinite(a) & np.isfinite(b)
        rounding = np.nan_to_num(resolution(a)) + np.nan_to_num(resolution(b))
        apart = both & (np.abs(a - b) > rounding / 2.0 + 1e-9)
        same += int((both & ~apart).sum())
        if apart.any():
            faults.append(_contradiction((first, second), key, time, (a, b), apart))
        values[key] = np.where(np.isfinite(a), a, b)
    if same and not faults:
        notes.append(f"{second.where}: {same} figures that {first.where} tells too agree and were dropped.")
    return Logged(f"{first.where}, {second.where}", time, values), faults


def _contradiction(
    logs: tuple[Logged, Logged], key: Key, time: Times, figures: tuple[Floats, Floats], apart: npt.NDArray[np.bool_]
) -> Fault:
    first, second = logs
    place = int(np.flatnonzero(apart)[0])
    what = f"watts of '{key[1]}'" if key[0] == WATTS else COLUMNS[key[0]]
    moment = str(time[place].astype("datetime64[s]")).replace("T", " ")
    there, here = figures[0][place], figures[1][place]
    problem = f"{what}: {here:g} here and {there:g} in {first.where} at {moment} UTC; so at {apart.sum()} moments."
    remedy = "Are both of this boat and this passage, and by the same clock? Leave one out, or correct its time_zone."
    return Fault(second.where, "overlap", problem, remedy)
