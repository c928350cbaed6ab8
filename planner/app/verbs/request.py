"""What to ask a forecast service for: the smallest order that serves a passage."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np

from planner.app.inputs import corridor_of
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Override
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route
from planner.domain.results.request import ForecastRequest
from planner.domain.units import M_PER_NM
from planner.physics.sailing.sailings import great_circle
from planner.readers.config import Configuration, read_configuration
from planner.readers.forecast.request import smallest_request
from planner.readers.route import passage_route

USUAL_WIND_KN: Final = 12.0  # kn, in which she is reckoned to sail; the trades and the westerlies blow harder
USUAL_ANGLES_DEG: Final = (60.0, 90.0, 120.0, 150.0)
SLOWER: Final = 1.25  # 1, how much longer than reckoned a passage may well take
MULTIPLES: Final = {"b": 1, "kb": 1_000, "mb": 1_000_000}
_SIZE: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([kM]?B)\s*", re.IGNORECASE)
YET_TO_COME: Final = Override("forecast", "yet-to-come.nc")


def request(passage_file: str | Path, *, limit: str | int | None = None) -> ForecastRequest:
    """Return the smallest order of a forecast that serves a passage, of whatever service.

    Its days are those of the passage at her speed in a usual wind, a quarter longer, or to the wanted arrival; its
    area is the corridor that a plan reads.

    Parameters
    ----------
    passage_file : str or Path
        Its forecast need not be there yet.
    limit : str or int, optional
        How large it may be when packed, such as '50kB', or a number of bytes.

    Returns
    -------
    ForecastRequest
        With what was taken away to keep the limit.

    Raises
    ------
    InputError
        When the passage is wrong, or the smallest order of use exceeds the limit.
    """
    read, route = without_forecast(Path(passage_file))
    departure = read.passage.departure.astimezone(UTC)
    return smallest_request(
        Path(passage_file).name,
        corridor_of(route),
        (departure, _end(read.passage, read.boat, route)),
        currents=read.passage.current.source == "forecast",
        most_bytes=None if limit is None else size_of(limit),
    )


def without_forecast(passage_file: Path) -> tuple[Configuration, Route]:
    """Return a passage whose forecast may not be there yet, and its route.

    Raises
    ------
    InputError
        When passage, boat or route cannot be read.
    """
    read = read_configuration(passage_file, [YET_TO_COME])
    return read, passage_route(read.passage, passage_file)[0]


def size_of(limit: str | int) -> int:
    """Return the bytes that a limit allows.

    Raises
    ------
    InputError
        When it is no size, or none at all.
    """
    found = None if isinstance(limit, int) else _SIZE.fullmatch(limit)
    size = limit if isinstance(limit, int) else 0
    if found is not None:
        size = int(float(found.group(1)) * MULTIPLES[found.group(2).lower()])
    if size < 1:
        remedy = "Write a number and its unit: 50kB, 1.5MB."
        raise InputError([Fault("--limit", "", f"'{limit}' is no size.", remedy)])
    return size


def _end(passage: Passage, boat: Boat, route: Route) -> datetime:
    """Return until when a passage may well last, UTC."""
    if passage.arrival is not None:
        return passage.arrival.astimezone(UTC)
    lats, lons = ([getattr(waypoint, axis) for waypoint in route] for axis in ("lat", "lon"))
    miles = great_circle(lats[:-1], lons[:-1], lats[1:], lons[1:])[0] / M_PER_NM
    polar = boat.sailing.polar
    in_wind = [np.interp(USUAL_WIND_KN, polar.true_wind_speed_kn, row) for row in polar.speed_kn]
    usual = np.mean(np.interp(USUAL_ANGLES_DEG, polar.true_wind_angle_deg, in_wind)) * boat.sailing.comfort_factor
    speeds = np.full(miles.size, max(float(usual), boat.sailing.motoring_speed_kn / 2.0, 1.0))
    fixed = {leg.from_waypoint: leg.speed_kn for leg in passage.legs if leg.speed_kn is not None}
    for n, waypoint in enumerate(route[:-1]):
        speeds[n] = fixed.get(n + 1, fixed.get(waypoint.name, speeds[n]))
    waits = sum(wait.hours or 0.0 for wait in passage.waits)
    last = max([passage.departure, *(wait.until for wait in passage.waits if wait.until)]).astimezone(UTC)
    return last + timedelta(hours=SLOWER * float((miles / speeds).sum()) + waits)
