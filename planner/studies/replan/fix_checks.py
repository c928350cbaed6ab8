"""Whether a fix can follow what is known: departure and last fix before it, and no more speed than the boat has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.errors import Fault
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Waypoint
from planner.domain.results.replan import LastPlan
from planner.domain.ship_clock import ShipOffset, moment_in_full, offset_at
from planner.domain.units import M_PER_NM, M_S_PER_KN
from planner.physics.sailing.sailings import great_circle
from planner.studies.replan.changes import planned_place

OVER_FASTEST: Final = 1.5  # 1, of the fastest speed by table, that a fix is believed with: surfing, a rough table
ROUGH_NM: Final = 2.0  # nm between two positions that are written to whole minutes
SLOWEST_KN: Final = 2.5  # kn made good; a day that needs less is hardly meant (common practice)
NEAR: Final = 2.0  # 1; a day on which the fix lies so much farther off the plan than on another is not meant
DAYS: Final = 14  # days that are looked at for the one that is meant
HOUR: Final = timedelta(hours=1)
DAY: Final = timedelta(days=1)
RIGHT: Final = "If the fix is right all the same, say so by --fix-is-right. "
WHEN: Final = "Check day and time; days are numbered from the first departure."


@dataclass(frozen=True)
class Known:
    """What a fix is held against.

    Attributes
    ----------
    passage : Passage
        From its departure.
    boat : Boat
    begin : Waypoint
        Where the passage begins.
    forecast : xarray.Dataset
        Its currents are read where the passage asks for them.
    last : LastPlan or None
        It begins at the last fix.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    """

    passage: Passage
    boat: Boat
    begin: Waypoint
    forecast: xr.Dataset
    last: LastPlan | None
    ship_offset: ShipOffset

    @property
    def since(self) -> datetime:
        """When she was last known to be somewhere."""
        return self.passage.departure if self.last is None else self.last.time[0]

    @property
    def place(self) -> Waypoint:
        """Where that was."""
        return self.begin if self.last is None else Waypoint(name="", lat=self.last.lat[0], lon=self.last.lon[0])

    @property
    def what(self) -> str:
        """What that is called."""
        if self.last is None:
            return f"departure from {self.begin.name}"
        return "the last fix" if self.since > self.passage.departure else "the last plan's start"

    @property
    def most_kn(self) -> float:
        """Speed that is believed [kn]: ``OVER_FASTEST`` times her fastest, and the strongest current on top."""
        return OVER_FASTEST * _fastest_kn(self.boat, self.passage) + _current_kn(self.passage, self.forecast)


def fix_faults(now: datetime, fix: Waypoint, known: Known, *, believed: bool) -> list[Fault]:
    """Return what is wrong with the time of a fix, or with the speed that it needs over the great circle.

    Parameters
    ----------
    now : datetime
        Time of the fix, with its offset.
    fix : Waypoint
        Where she is.
    known : Known
    believed : bool
        That the fix is right, whatever speed it needs.
    """
    asked, departure = (moment_in_full(each, known.ship_offset) for each in (now, known.passage.departure))
    if now < known.passage.departure:
        return [Fault("--time", "", f"the fix of {asked} is before departure, {departure}.", WHEN)]
    since = moment_in_full(known.since, known.ship_offset)
    if now < known.since:
        return [Fault("--time", "", f"the fix of {asked} is older than {known.what}, {since}.", WHEN)]
    hours, away_nm = (now - known.since) / HOUR, _apart_nm(known.place, fix)
    if believed or away_nm <= ROUGH_NM + known.most_kn * hours:
        return []
    fastest, current = _fastest_kn(known.boat, known.passage), _current_kn(known.passage, known.forecast)
    needed = f"{away_nm / hours:.1f} kn" if hours > 0.0 else "more than any speed"
    problem = (
        f"the fix of {asked} is {away_nm:.0f} nm from {known.what}, {since}: in {hours:.1f} h that needs {needed}, "
        f"and {known.most_kn:.1f} kn is the most that is believed ({OVER_FASTEST:g} times her fastest, "
        f"{fastest:.1f} kn, and {current:.1f} kn of current)."
    )
    return [Fault("--fix", "", problem, f"Check the position, too. {WHEN} {RIGHT}")]


def day_faults(first: datetime, fix: Waypoint, known: Known) -> list[Fault]:
    """Return a question where a ship's time without its day may be meant on another day than the first.

    By a last plan those days are meant on which the fix lies near the track; else those on which it can be reached,
    and not at a crawl. Where none is, or the first alone, nothing is asked.

    Parameters
    ----------
    first : datetime
        The first such time after what is known.
    fix : Waypoint
        Where she is.
    known : Known
    """
    days = [first + number * DAY for number in range(DAYS)]
    needed_kn = [_apart_nm(known.place, fix) / ((day - known.since) / HOUR) for day in days]
    if known.last is None:
        meant = [day for day, kn in zip(days, needed_kn, strict=True) if SLOWEST_KN <= kn <= known.most_kn]
    else:
        planned = [day for day in days if day <= known.last.arrival]
        off_nm = [_apart_nm(planned_place(known.last, day), fix) for day in planned]
        meant = [day for day, nm in zip(planned, off_nm, strict=True) if nm <= ROUGH_NM + NEAR * min(off_nm)]
    if meant in ([], [first]):
        return []
    clock = f"{first.astimezone(UTC) + offset_at(known.ship_offset, first):%H:%M}"
    as_typed = {day: f"'day {1 + (day - known.passage.days_from) // DAY} {clock}'" for day in meant}
    told = "; ".join(
        f"{as_typed[day]}, {moment_in_full(day, known.ship_offset)}: {kn:.1f} kn from {known.what}"
        for day, kn in zip(days, needed_kn, strict=True)
        if day in as_typed
    )
    problem = f"the time says no day, and by the fix it may be {told}."
    return [Fault("--time", "", problem, f"Write it with its day, as --time {as_typed[meant[0]]}.")]


def _fastest_kn(boat: Boat, passage: Passage) -> float:
    sailing = boat.sailing
    by_leg: Sequence[float] = [leg.speed_kn for leg in passage.legs if leg.speed_kn is not None]
    return max(*(max(row) for row in sailing.polar.speed_kn), sailing.motoring_speed_kn, *by_leg)


def _current_kn(passage: Passage, forecast: xr.Dataset) -> float:
    if passage.current.source == "constant":
        return passage.current.drift_kn
    speed = np.hypot(forecast["current_east_m_s"].values, forecast["current_north_m_s"].values)
    return float(np.nanmax(speed)) / M_S_PER_KN


def _apart_nm(one: Waypoint, other: Waypoint) -> float:
    distance, _ = great_circle(*(np.array([value]) for value in (one.lat, one.lon, other.lat, other.lon)))
    return float(distance[0]) / M_PER_NM
