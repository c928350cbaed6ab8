"""Ship's time on the steps of a track: who is on watch, which steps lie in a span, where the watches change.

A step belongs to the watch, or the span, in which it starts.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.arrays import Ints, Times
from planner.domain.inputs.passage import Watch
from planner.domain.inputs.watch_rules import MINUTES_PER_DAY, minute_of_day, span_minutes
from planner.domain.ship_clock import ShipClock, ShipOffset

NS_PER_MINUTE = 60_000_000_000  # ns/min, exact
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def step_seconds(dataset: xr.Dataset) -> float:
    """Return the step of a dataset along the track [s]: its attribute ``step_s``, or the spacing of its times.

    Raises
    ------
    ValueError
        When it has neither, or the spacing is not even.
    """
    if "step_s" in dataset.attrs:
        return float(dataset.attrs["step_s"])
    spacing = np.unique(np.diff(dataset["time"].values.astype("datetime64[ns]")))
    if spacing.size != 1:
        raise ValueError("times must be evenly spaced, at least two, or the attribute step_s given")
    return float(spacing[0] / np.timedelta64(1, "s"))


def passage_days(time: Times, days_from: datetime) -> Ints:
    """Return the day of the passage in which each step starts, (time,) from 1.

    Parameters
    ----------
    time : datetime64 array (time,)
        Starts of steps, UTC.
    days_from : datetime
        The first departure; a day is 24 hours from it.
    """
    begin = np.datetime64(days_from.astimezone(UTC).replace(tzinfo=None), "ns")
    days: Ints = 1 + (np.asarray(time).astype("datetime64[ns]") - begin) // np.timedelta64(1, "D")
    return days


def _ship_ns(time: Times, ship_offset: ShipOffset) -> Ints:
    """Return ship's time of each step's start, nanoseconds since the epoch's midnight [ns]."""
    utc_ns = np.asarray(time).astype("datetime64[ns]").astype(np.int64)
    if not isinstance(ship_offset, ShipClock):
        return utc_ns + _ns(ship_offset)
    offsets = np.array([_ns(ship_offset.first), *(_ns(later) for _, later in ship_offset.changes)])
    begins = np.array([_ns(moment - EPOCH) for moment, _ in ship_offset.changes])
    return np.asarray(utc_ns + offsets[np.searchsorted(begins, utc_ns, side="right")], dtype=np.int64)


def ship_hour(time: Times, ship_offset: ShipOffset) -> Ints:
    """Return the hour of the ship's day in which each step starts, (time,) 0 to 23.

    Parameters
    ----------
    time : datetime64 array (time,)
        Starts of steps, UTC.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    """
    hours: Ints = _ship_ns(time, ship_offset) // (60 * NS_PER_MINUTE) % 24
    return hours


def _ns(span: timedelta) -> int:
    return round(span.total_seconds()) * (NS_PER_MINUTE // 60)


def _since(ship_ns: Ints, clock_start: str) -> Ints:
    """Return the time since the last passing of a ship's time HH:MM [ns]."""
    return (ship_ns - minute_of_day(clock_start) * NS_PER_MINUTE) % (MINUTES_PER_DAY * NS_PER_MINUTE)


def in_spans(time: Times, spans: Sequence[tuple[str, str]], ship_offset: ShipOffset) -> npt.NDArray[np.bool_]:
    """Return which steps start within any of the ship's-time spans.

    Parameters
    ----------
    time : datetime64 array (time,)
        Starts of steps, UTC.
    spans : sequence of (str, str)
        From and to, HH:MM, the end exclusive; may pass midnight; equal ends mean the whole day.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.

    Returns
    -------
    bool array (time,)
    """
    ship_ns = _ship_ns(time, ship_offset)
    inside = np.zeros(ship_ns.shape, dtype=np.bool_)
    for start, end in spans:
        inside |= _since(ship_ns, start) < span_minutes(start, end) * NS_PER_MINUTE
    return inside


def watch_of_step(time: Times, watches: Sequence[Watch], ship_offset: ShipOffset) -> Ints:
    """Return the index of the watch in which each step starts; of watches that overlap, the first listed.

    Parameters
    ----------
    time : datetime64 array (time,)
        Starts of steps, UTC.
    watches : sequence of Watch
        They fill the day.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.

    Returns
    -------
    int array (time,)

    Raises
    ------
    ValueError
        When a step starts outside every watch.
    """
    standing = np.stack([in_spans(time, [(watch.start, watch.end)], ship_offset) for watch in watches])
    if not standing.any(axis=0).all():
        raise ValueError("the watches do not fill the day")
    first_standing: Ints = np.argmax(standing, axis=0).astype(np.int64)
    return first_standing


def changes_of_watch(time: Times, watches: Sequence[Watch], ship_offset: ShipOffset) -> tuple[Ints, Ints, Ints]:
    """Return the epochs between changes of watch; together they cover every step, the first begins at departure.

    Parameters
    ----------
    time : datetime64 array (time,)
        Starts of steps, UTC, rising.
    watches : sequence of Watch
        They fill the day; one watch round the clock changes at its start each day.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.

    Returns
    -------
    first_step, end_step : int array (epoch,)
        Steps of each epoch, end exclusive.
    watch_index : int array (epoch,)
        Which watch stands it.
    """
    ship_ns = _ship_ns(time, ship_offset)
    watch = watch_of_step(time, watches, ship_offset)
    since = np.stack([_since(ship_ns, each.start) for each in watches])
    began = ship_ns - since[watch, np.arange(watch.size)]
    changed = np.flatnonzero((np.diff(began) != 0) | (np.diff(watch) != 0)) + 1
    first_step = np.concatenate([[0], changed]).astype(np.int64)
    end_step = np.append(changed, watch.size).astype(np.int64)
    return first_step, end_step, watch[first_step]


def steps_by_clock(steps: int, as_planned: int, *, step_s: float) -> Ints:
    """Return for each step of a track which step of a planned one, begun with it, has its time of day.

    Parameters
    ----------
    steps : int
        Of the track.
    as_planned : int
        Steps of the planned one.
    step_s : float
        Step of both [s].

    Returns
    -------
    int array (time,)
        The same step as long as there is one; beyond the planned arrival that of the last planned day, over and over;
        where less than a day was planned and no step of it has that time of day, its last.
    """
    a_day = round(MINUTES_PER_DAY * 60.0 / step_s)
    rows = np.arange(steps, dtype=np.int64)
    days_over = -(-np.maximum(rows - (as_planned - 1), 0) // a_day)  # rounded up
    planned = rows - days_over * a_day
    return np.where(planned < 0, as_planned - 1, planned)


def roles_of_watches(
    watch_index: Sequence[int] | Ints, watches: Sequence[Watch], watchkeepers: Sequence[str]
) -> tuple[str, ...]:
    """Return who stands each watch of a passage: its own role, or the watchkeepers one after another.

    Parameters
    ----------
    watch_index : sequence of int (epoch,)
        Which of the day's watches each is, from departure on.
    watches : sequence of Watch
        Of a day.
    watchkeepers : sequence of str
        They take turns, the first at departure; none where every watch has a role.

    Returns
    -------
    tuple of str (epoch,)
    """
    if watchkeepers:
        return tuple(watchkeepers[epoch % len(watchkeepers)] for epoch in range(len(watch_index)))
    return tuple(watches[index].role or "" for index in watch_index)
