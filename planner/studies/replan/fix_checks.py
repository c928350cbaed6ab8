"""Whether a fix can follow what is known: departure and last fix before it, and no more speed than the boat has."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.errors import Fault
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Waypoint
from planner.domain.results.replan import LastPlan
from planner.domain.ship_clock import ShipOffset, moment_in_full
from planner.domain.units import M_PER_NM, M_S_PER_KN
from planner.physics.sailing.sailings import great_circle

OVER_FASTEST: Final = 1.5  # 1, of the fastest speed by table, that a fix is believed with: surfing, a rough table
ROUGH_NM: Final = 2.0  # nm between two positions that are written to whole minutes
WHEN: Final = "Check day and time; days are numbered from the first departure."


def fix_faults(
    now: datetime,
    fix: Waypoint,
    *,
    passage: Passage,
    boat: Boat,
    begin: Waypoint,
    forecast: xr.Dataset,
    last: LastPlan | None,
    ship_offset: ShipOffset,
) -> list[Fault]:
    """Return what is wrong with the time of a fix, or with the speed that it needs.

    Parameters
    ----------
    now : datetime
        Time of the fix, with its offset.
    fix, begin : Waypoint
        Where she is, and where the passage begins.
    passage : Passage
        From its departure.
    boat : Boat
    forecast : xarray.Dataset
        Its currents are read where the passage asks for them.
    last : LastPlan or None
        It begins at the last fix.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.

    Returns
    -------
    list of Fault
        The bound on the speed is ``OVER_FASTEST`` times the fastest that polar, engine or a leg's fixed speed gives,
        and the strongest current on top, over the great circle since the last fix, or since departure.
    """
    asked = moment_in_full(now, ship_offset)
    if now < passage.departure:
        problem = f"the fix of {asked} is before departure, {moment_in_full(passage.departure, ship_offset)}."
        return [Fault("--time", "", problem, WHEN)]
    since, place, what = passage.departure, begin, f"departure from {begin.name}"
    if last is not None:
        since, place = last.time[0], Waypoint(name="", lat=last.lat[0], lon=last.lon[0])
        what = "the last fix" if since > passage.departure else "the last plan's start"
    known = moment_in_full(since, ship_offset)
    if now < since:
        return [Fault("--time", "", f"the fix of {asked} is older than {what}, {known}.", WHEN)]
    hours = (now - since) / timedelta(hours=1)
    away_nm = _apart_nm(place, fix)
    fastest, current = _fastest_kn(boat, passage), _current_kn(passage, forecast)
    bound = OVER_FASTEST * fastest + current
    if away_nm <= ROUGH_NM + bound * hours:
        return []
    needed = f"{away_nm / hours:.1f} kn" if hours > 0.0 else "more than any speed"
    problem = (
        f"the fix of {asked} is {away_nm:.0f} nm from {what}, {known}: in {hours:.1f} h that needs {needed}, and "
        f"{bound:.1f} kn is the most that is believed ({OVER_FASTEST:g} times her fastest, {fastest:.1f} kn, and "
        f"{current:.1f} kn of current)."
    )
    return [Fault("--fix", "", problem, f"Check the position, too. {WHEN}")]


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
