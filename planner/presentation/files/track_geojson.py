"""track.geojson: the track, its waypoints, changes of watch and engine runs (RFC 7946)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from planner.domain.file_format import STAMP
from planner.domain.results.plan import Plan
from planner.domain.utc import iso_8601
from planner.presentation.words.notes import said

DECIMALS = 5  # of a degree: about a metre
Position = list[float]


def to_geojson(plan: Plan) -> dict[str, Any]:
    """Return the track as a feature collection.

    Lines are cut where they cross the antimeridian (RFC 7946, 3.1.9).

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict
        JSON-ready; longitude before latitude, WGS84; times in UTC.
    """
    seconds, lon, lat = _course(plan)
    features = [
        _feature(
            _line(lon, lat),
            kind="track",
            departure=iso_8601(plan.passage.departure),
            arrival=iso_8601(plan.arrival),
            distance_nm=round(sum(day.distance_nm for day in plan.days), 1),
        )
    ]
    for window in plan.windows:
        line = _line(*_cut(seconds, lon, lat, window.start, window.stop))
        features.append(
            _feature(
                line,
                kind="engine",
                start=iso_8601(window.start),
                stop=iso_8601(window.stop),
                role=window.role,
                propels=window.propels,
                expected_ah=round(window.expected_ah, 1),
                fuel_l=round(window.fuel_l, 2),
                reason=said(window.reason),
            )
        )
    features += [
        _feature(_point(waypoint.lon, waypoint.lat), kind="waypoint", name=waypoint.name) for waypoint in plan.route
    ]
    for row in plan.watches:
        features.append(
            _feature(
                _point(*_place(seconds, lon, lat, row.start)),
                kind="watch",
                start=iso_8601(row.start),
                role=row.role,
                day=row.day,
                heading_magnetic_deg=round(row.heading_magnetic_deg, 1),
                bank_soc=round(row.soc.planned, 4),
            )
        )
    return {"type": "FeatureCollection", **STAMP, "features": features}  # foreign members: RFC 7946, 6.1


def _course(plan: Plan) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return time [s since 1970], unwrapped lon and lat at the steps, and at arrival where the destination is."""
    times = plan.track["time"].values.astype("datetime64[ns]").astype(np.int64) / 1e9
    seconds = np.append(times, plan.arrival.timestamp())
    lon = np.append(plan.track["lon"].values, plan.route[-1].lon)
    lat = np.append(plan.track["lat"].values, plan.route[-1].lat)
    return seconds, np.unwrap(lon, period=360.0), lat


def _place(
    seconds: npt.NDArray[np.float64],
    lon: npt.NDArray[np.float64],
    lat: npt.NDArray[np.float64],
    moment: datetime,
) -> tuple[float, float]:
    """Return unwrapped lon and lat at a moment, read linearly between steps."""
    at = moment.timestamp()
    return float(np.interp(at, seconds, lon)), float(np.interp(at, seconds, lat))


def _cut(
    seconds: npt.NDArray[np.float64],
    lon: npt.NDArray[np.float64],
    lat: npt.NDArray[np.float64],
    start: datetime,
    stop: datetime,
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the part of the course between two moments."""
    inside = (seconds > start.timestamp()) & (seconds < stop.timestamp())
    first, last = _place(seconds, lon, lat, start), _place(seconds, lon, lat, stop)
    return (
        np.concatenate([[first[0]], lon[inside], [last[0]]]),
        np.concatenate([[first[1]], lat[inside], [last[1]]]),
    )


def split_at_antimeridian(lon: Sequence[float], lat: Sequence[float]) -> list[list[Position]]:
    """Cut a line where it crosses the antimeridian.

    Parameters
    ----------
    lon : sequence of float
        Unwrapped: neighbours differ by less than 180 [degree].
    lat : sequence of float
        [degree].

    Returns
    -------
    list of list of position
        Parts of at least two positions, in order, lon in [-180, 180]; where cut, one part ends and the next begins on
        the antimeridian at the same latitude.
    """
    parts: list[list[Position]] = [[]]
    world = _world(lon[0], lon[min(1, len(lon) - 1)])
    for place, (here_lon, here_lat) in enumerate(zip(lon, lat, strict=True)):
        if place and _world(here_lon, lon[place - 1]) != world:
            before_lon, before_lat = lon[place - 1], lat[place - 1]
            east = here_lon > before_lon
            edge = 360.0 * world + (180.0 if east else -180.0)
            cross_lat = before_lat + (here_lat - before_lat) * (edge - before_lon) / (here_lon - before_lon)
            _append(parts[-1], 180.0 if east else -180.0, cross_lat)
            world += 1 if east else -1
            parts.append([])
            _append(parts[-1], -180.0 if east else 180.0, cross_lat)
        _append(parts[-1], here_lon - 360.0 * world, here_lat)
    return [part for part in parts if len(part) > 1]


def _world(lon: float, toward: float) -> int:
    """Return which turn of the globe a longitude is on; on the antimeridian itself, that of the neighbour."""
    turns = (lon + 180.0) / 360.0
    if turns == np.floor(turns) and toward < lon:
        return int(turns) - 1
    return int(np.floor(turns))


def _append(part: list[Position], lon: float, lat: float) -> None:
    position = [round(float(lon), DECIMALS), round(float(lat), DECIMALS)]
    if not part or part[-1] != position:
        part.append(position)


def _line(lon: npt.NDArray[np.float64], lat: npt.NDArray[np.float64]) -> dict[str, Any]:
    parts = split_at_antimeridian(lon.tolist(), lat.tolist())
    if len(parts) == 1:
        return {"type": "LineString", "coordinates": parts[0]}
    return {"type": "MultiLineString", "coordinates": parts}


def _point(lon: float, lat: float) -> dict[str, Any]:
    wrapped = (lon + 180.0) % 360.0 - 180.0
    return {"type": "Point", "coordinates": [round(wrapped, DECIMALS), round(lat, DECIMALS)]}


def _feature(geometry: dict[str, Any], **properties: object) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}
