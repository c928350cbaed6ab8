"""The ship's clock along a track: fixed, of a time zone ashore, or of the nautical zones that she crosses."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from planner.domain.inputs.passage import Passage, Watch
from planner.domain.inputs.watch_rules import MINUTES_PER_DAY, minute_of_day
from planner.domain.results.note import Note
from planner.domain.ship_clock import ShipClock, ShipOffset, offset_at
from planner.domain.utc import from_numpy

if TYPE_CHECKING:
    import xarray as xr

ZONE_DEG: Final = 15.0  # degree of longitude in an hour of the sun
AFTERNOON: Final = (12 * 60, 20 * 60)  # min of ship's day: clocks are changed by daylight, all hands about


def departure_offset(passage: Passage, lon_deg: float) -> timedelta:
    """Return ship's time less UTC at departure.

    Parameters
    ----------
    passage : Passage
        Its departure and ship's time are read.
    lon_deg : float
        Of the place of departure [degree].
    """
    chosen = passage.ship_time
    if chosen.offset_hours is not None:
        return timedelta(hours=chosen.offset_hours)
    if chosen.zone == "nautical":
        return _zone(lon_deg)
    moment = passage.departure.astimezone(ZoneInfo(chosen.zone)) if chosen.zone else passage.departure
    return moment.utcoffset() or timedelta()


def ship_offset_along(passage: Passage, track: xr.Dataset, departure: timedelta) -> ShipOffset:
    """Return ship's time less UTC, as a clock where it changes under way.

    By nautical zones the clock is put to the zone that she is in at a change of watch in the afternoon, by ship's
    time, or at any change of watch where none falls there; by a zone ashore, when the clocks there change.

    Parameters
    ----------
    passage : Passage
        Its ship's time and watches are read.
    track : xarray.Dataset
        As the glossary has it.
    departure : timedelta
        Ship's time less UTC at departure.
    """
    zone = passage.ship_time.zone
    if zone is None:
        return departure
    moments = [from_numpy(moment) for moment in track["time"].values]
    changes: list[tuple[datetime, timedelta]] = []
    offset = departure
    step = timedelta(seconds=float(track.attrs["step_s"]))
    for moment, lon in zip(moments, track["lon"].values.tolist(), strict=True):
        if zone != "nautical":
            now = moment.astimezone(ZoneInfo(zone)).utcoffset() or timedelta()
        elif _watch_changes(moment + offset, passage.watches, step):
            now = _zone(lon)
        else:
            continue
        if now != offset:
            changes.append((moment, now))
            offset = now
    return ShipClock(departure, tuple(changes)) if changes else departure


def clock_warnings(offset: ShipOffset) -> list[Note]:
    """Return a note on each change of the clock.

    Parameters
    ----------
    offset : timedelta or ShipClock
        From ``ship_offset_along``.
    """
    return (
        [_change(offset, moment, later) for moment, later in offset.changes] if isinstance(offset, ShipClock) else []
    )


def _zone(lon_deg: float) -> timedelta:
    """Return the nautical zone's time less UTC; on the 180th meridian that of the side she is on."""
    return timedelta(hours=float(np.clip(np.round(lon_deg / ZONE_DEG), -12.0, 12.0)))


def _watch_changes(shown: datetime, watches: tuple[Watch, ...], step: timedelta) -> bool:
    """Return whether a watch whose start serves for changing the clock begins in the step."""
    starts = [minute_of_day(watch.start) for watch in watches]
    chosen = [start for start in starts if AFTERNOON[0] <= start < AFTERNOON[1]] or starts
    minute = shown.hour * 60 + shown.minute + shown.second / 60.0
    before = minute - step / timedelta(minutes=1)
    return any(before < start - turn <= minute for start in chosen for turn in (0, MINUTES_PER_DAY))


def _change(clock: ShipOffset, moment: datetime, later: timedelta) -> Note:
    before = offset_at(clock, moment - timedelta(seconds=1))
    at, hours = moment + before, (later - before) / timedelta(hours=1)
    if abs(hours) == 24.0:
        return Note("date_twice" if hours < 0.0 else "date_left_out", {"at": at})
    return Note("clock_on" if hours > 0.0 else "clock_back", {"at": at, "hours": abs(hours)})
