"""The ship's clock along a track: fixed, of a time zone ashore, or of the nautical zones that she crosses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.passage import Passage, Watch
from planner.domain.inputs.watch_rules import MINUTES_PER_DAY, minute_of_day
from planner.domain.results.note import Note
from planner.domain.ship_clock import ShipClock, ShipOffset, offset_at
from planner.domain.utc import from_numpy

if TYPE_CHECKING:
    import xarray as xr

HOUR: Final = timedelta(hours=1)
ZONE_DEG: Final = 15.0  # degree of longitude in an hour of the sun
FULL_TURN_DEG: Final = 360.0  # degree, from one 180th meridian to the next
WELL_PAST_DEG: Final = 2.5  # degree: ten minutes of the sun, farther than boards reach (our choice)
AFTERNOON: Final = (12 * 60, 20 * 60)  # min of ship's day: clocks are changed by daylight, all hands about


@dataclass(frozen=True)
class _Held:
    """A stripe of longitude that the clock is kept by, and which way the last one was left (+1 east, -1 west, 0)."""

    number: int
    left: int = 0

    def moved(self, width_deg: float, ahead_deg: Floats) -> _Held:
        """Return the stripe to keep by now.

        She is in another once well past the edge; or, if that does not lead back to the one left last, when she
        stays past it for all that is ahead.
        """
        centre = self.number * width_deg
        for way in (1, -1):
            past = way * (ahead_deg - centre) - width_deg / 2.0
            if past[0] >= WELL_PAST_DEG or (way != -self.left and past.min() > 0.0):
                return _Held(int(np.round(ahead_deg[0] / width_deg)), way)
        return self


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
    ashore = chosen.zone is not None and chosen.from_day == 1
    moment = passage.departure.astimezone(ZoneInfo(str(chosen.zone))) if ashore else passage.departure
    return moment.utcoffset() or timedelta()


def by_destination(passage: Passage, lon_deg: float) -> Passage:
    """Return a passage whose clock, where it is to be the destination's, is that of its nautical zone.

    Parameters
    ----------
    passage : Passage
        Its ship's time is read.
    lon_deg : float
        Of the destination [degree].
    """
    if passage.ship_time.zone != "destination":
        return passage
    west_h = -round(_zone(lon_deg) / timedelta(hours=1))  # the database counts these westward
    clock = passage.ship_time.model_copy(update={"zone": f"Etc/GMT{west_h:+d}"})
    return passage.model_copy(update={"ship_time": clock})


def ship_offset_along(passage: Passage, track: xr.Dataset, departure: timedelta) -> ShipOffset:
    """Return ship's time less UTC, as a clock where it changes under way.

    Clocks are put right at a change of watch in the afternoon, by ship's time, or at any change of watch where none
    falls there. By nautical zones that is for the zone that she is well into, or stays in for a day. The date changes
    where she is well past the 180th meridian, or past it for the rest of the passage, and once at most: back across
    it she keeps the date. By a zone ashore it is on the day from which that serves, and whenever the clocks there
    change.

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
    along = _nautical if zone == "nautical" else _ashore
    moments = [from_numpy(moment) for moment in track["time"].values]
    changes = tuple(along(passage, track, moments, departure))
    return ShipClock(departure, changes) if changes else departure


def _nautical(
    passage: Passage, track: xr.Dataset, moments: Sequence[datetime], offset: timedelta
) -> Iterator[tuple[datetime, timedelta]]:
    """Yield when the clock changes to which offset, by the zones of longitude."""
    step = timedelta(seconds=float(track.attrs["step_s"]))
    day = round(timedelta(days=1) / step)
    lon = np.unwrap(track["lon"].values, period=FULL_TURN_DEG)
    hours = round(offset / HOUR)
    hour_zone = _Held(hours + 24 * round((float(lon[0]) / ZONE_DEG - hours) / 24.0))
    date_side = _Held((hour_zone.number - hours) // 24)
    for row, moment in enumerate(moments):
        if not _watch_changes(moment + offset, passage.watches, step):
            continue
        ahead = lon[row : row + day + 1]
        side = date_side.moved(FULL_TURN_DEG, lon[row:]) if date_side.left == 0 else date_side
        if side != date_side:
            date_side = side
        else:
            hour_zone = hour_zone.moved(ZONE_DEG, ahead)
        now = HOUR * (hour_zone.number - 24 * date_side.number)
        if now != offset:
            yield moment, now
            offset = now


def _ashore(
    passage: Passage, track: xr.Dataset, moments: Sequence[datetime], offset: timedelta
) -> Iterator[tuple[datetime, timedelta]]:
    """Yield when the clock changes to which offset, by a zone ashore."""
    clock, begins = passage.ship_time, passage.days_from
    step = timedelta(seconds=float(track.attrs["step_s"]))
    serves = clock.from_day == 1
    for moment in moments:
        if not serves:
            that_day = moment >= begins + timedelta(days=clock.from_day - 1)
            serves = that_day and _watch_changes(moment + offset, passage.watches, step)
        now = moment.astimezone(ZoneInfo(str(clock.zone))).utcoffset() or timedelta()
        if serves and now != offset:
            yield moment, now
            offset = now


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
    if abs(hours) > 12.0:
        return Note("date_twice" if hours < 0.0 else "date_left_out", {"at": at})
    return Note("clock_on" if hours > 0.0 else "clock_back", {"at": at, "hours": abs(hours)})
