"""Waypoints out of the open formats: GPX 1.0 and 1.1, CSV with a heading, GeoJSON (RFC 7946); or the passage file."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from planner.domain.errors import Fault, InputError, suggest
from planner.domain.inputs.route import RoutePoint
from planner.readers.positions import Axis, in_range, read_angle, split_position
from planner.readers.text_file import csv_rows, parsed

if TYPE_CHECKING:
    from gpxpy.gpx import GPX

GpxElement = Literal["rte", "trk", "wpt"]
_DECLARATION: Final = re.compile(r"^\s*<\?xml[^>]*\?>")

_COLUMNS = {"name": "name", "waypoint": "name", "lat": "lat", "latitude": "lat", "lon": "lon", "longitude": "lon"}


@dataclass(frozen=True)
class Mark:
    """A waypoint and where the file has it.

    Attributes
    ----------
    place : str
        Line or number in the file.
    name : str
        As the file has it; may be empty.
    lat, lon : float
        Degrees north and east, lon in [-180, 180).
    """

    place: str
    name: str
    lat: float
    lon: float


def from_gpx(text: str, where: str, *, element: GpxElement = "rte") -> list[Mark]:
    """Return the points of the one route, or track, of a GPX file, or its single waypoints.

    Parameters
    ----------
    text : str
        The file.
    where : str
        Its name, for messages.
    element : {'rte', 'trk', 'wpt'}
        Which of them; the segments of a track are joined.

    Returns
    -------
    list of Mark
        In order.

    Raises
    ------
    InputError
        When it is no GPX, holds none of these or several, or a point is out of range.
    """
    import gpxpy
    from gpxpy.gpx import GPXException

    if "<!DOCTYPE" in text:  # which parser the library finds decides what a document type may fetch or swell to
        remedy = "Export the route again as GPX 1.1."
        raise InputError([Fault(where, "", "this is no GPX file: it declares a document type.", remedy)])
    try:
        gpx = gpxpy.parse(_DECLARATION.sub("", text))  # it is decoded already, whatever it says of its encoding
    except (GPXException, ValueError) as error:
        problem = f"this is no GPX file: {error}"
        raise InputError([Fault(where, "", _sentence(problem), "Export the route again as GPX 1.1.")]) from error
    lines = _gpx_lines(gpx)
    found = [line for line in lines[element] if line[1]]
    if len(found) != 1:
        raise InputError([_not_one(element, lines, where)])
    rows = [
        (f"waypoint {number}", point.name or "", point.latitude, point.longitude)
        for number, point in enumerate(found[0][1], 1)
    ]
    return _checked(rows, where)


def _gpx_lines(gpx: GPX) -> dict[GpxElement, list[tuple[str, list[Any]]]]:
    """Return what a GPX file holds of each element: lines with name and points; its single waypoints are one."""
    tracks = [
        (track.name or "unnamed", [point for segment in track.segments for point in segment.points])
        for track in gpx.tracks
    ]
    return {
        "rte": [(route.name or "unnamed", route.points) for route in gpx.routes],
        "trk": tracks,
        "wpt": [("single waypoints", gpx.waypoints)],
    }


def _not_one(element: GpxElement, lines: dict[GpxElement, list[tuple[str, list[Any]]]], where: str) -> Fault:
    """Return the fault of a file that holds no such line, or several: what it holds instead, and how to take that."""
    names = [name for name, points in lines[element] if points]
    words = {"rte": "routes (<rte>)", "trk": "tracks (<trk>)", "wpt": "single waypoints (<wpt>)"}
    if names:
        named = ", ".join(f"'{name}'" for name in names)
        problem = f"{len(names)} {words[element]} with points; one is needed; {named}."
        return Fault(where, element, problem, "Keep one of them.")
    counts = {other: sum(len(points) for _, points in lines[other]) for other in lines}
    others = [other for other, count in counts.items() if count and other != element]
    holds: dict[GpxElement, str] = {"rte": "route points", "trk": "track points", "wpt": "single waypoints"}
    held = " and ".join(f"{counts[other]} {holds[other]}" for other in holds if other != element)
    problem = f"0 {words[element]} with points; one is needed; it holds {held}."
    remedy = " or ".join(f"route_element = '{other}'" for other in others)
    takes = f" Or write {remedy} in the passage file to sail those." if others else ""
    return Fault(where, element, problem, f"Export a route.{takes}")


def from_table(points: Sequence[RoutePoint], where: str, table: str = "waypoints") -> list[Mark]:
    """Return the waypoints, or the ports of refuge, that stand in the passage file.

    Parameters
    ----------
    points : sequence of RoutePoint
        As validated.
    where : str
        Name of the file, for messages.
    table : str
        Name of the table in it.

    Returns
    -------
    list of Mark
        In order.

    Raises
    ------
    InputError
        With the value of every fault.
    """
    rows: list[tuple[str, str, Any, Any]] = []
    faults: list[Fault] = []
    for number, point in enumerate(points, 1):
        lat, lon = point.lat, point.lon
        if point.position is not None:
            try:
                lat, lon = split_position(point.position)
            except ValueError as error:
                faults.append(Fault(where, f"{table}.{point.name or number}", str(error)))
                continue
        rows.append((f"{table.removesuffix('s')} {number}", point.name, lat, lon))
    return _checked(rows, where, faults)


def from_csv(text: str, where: str) -> list[Mark]:
    """Return the rows of a table with the heading ``name,lat,lon``.

    Parameters
    ----------
    text : str
        The file; commas or semicolons between cells.
    where : str
        Its name, for messages.

    Returns
    -------
    list of Mark
        In order.

    Raises
    ------
    InputError
        With the line and value of every fault.
    """
    delimiter = ";" if ";" in text.partition("\n")[0] else ","
    lines = [row for row in csv_rows(text, where, separator=delimiter) if any(cell.strip() for cell in row[1])]
    heading = [cell.strip().lower() for cell in lines[0][1]] if lines else []
    faults = [
        Fault(where, "line 1", f"unknown column '{name}'.", suggest(name, ("name", "lat", "lon")))
        for name in heading
        if name not in _COLUMNS
    ]
    columns = {_COLUMNS[name]: index for index, name in enumerate(heading) if name in _COLUMNS}
    missing = [name for name in ("lat", "lon") if name not in columns]
    if missing:
        problem = f"no column {' and no column '.join(missing)} in the heading '{delimiter.join(heading)}'."
        faults.append(Fault(where, "line 1", problem, "The first line reads: name,lat,lon"))
    if faults:
        raise InputError(faults)
    rows: list[tuple[str, str, str, str]] = []
    for line, cells in lines[1:]:
        if len(cells) == len(heading):
            name = cells[columns["name"]].strip() if "name" in columns else ""
            rows.append((f"line {line}", name, cells[columns["lat"]], cells[columns["lon"]]))
        else:
            problem = f"{len(cells)} cells where the heading has {len(heading)}."
            comma = "Write decimals with a point." if len(cells) > len(heading) else "Fill the hole."
            faults.append(Fault(where, f"line {line}", problem, comma))
    return _checked(rows, where, faults)


def from_geojson(text: str, where: str) -> list[Mark]:
    """Return the positions of the one LineString of a GeoJSON file; they have no names.

    Parameters
    ----------
    text : str
        The file: a LineString, a Feature of one, or a collection with one.
    where : str
        Its name, for messages.

    Returns
    -------
    list of Mark
        In order.

    Raises
    ------
    InputError
        When it is no GeoJSON, holds no LineString or several, or a position is out of range.
    """
    document = parsed(json.loads, text, where, "GeoJSON file", "Export the route again.")
    lines = [shape["coordinates"] for shape in _geometries(document) if shape.get("type") == "LineString"]
    if len(lines) != 1:
        problem = f"{len(lines)} LineStrings; one is needed."
        raise InputError([Fault(where, "", problem, "A route is one LineString of [lon, lat] positions (RFC 7946).")])
    rows: list[tuple[str, str, Any, Any]] = []
    for number, position in enumerate(lines[0], 1):
        lon, lat = (*position, None, None)[:2] if isinstance(position, list) else (None, None)
        rows.append((f"position {number}", "", lat, lon))
    return _checked(rows, where)


def _geometries(document: Any) -> list[dict[str, Any]]:
    if not isinstance(document, dict):
        return []
    if document.get("type") == "FeatureCollection":
        features = document.get("features")
        return [shape for each in (features if isinstance(features, list) else []) for shape in _geometries(each)]
    if document.get("type") == "Feature":
        return _geometries(document.get("geometry"))
    return [document] if isinstance(document.get("coordinates"), list) else []


def _checked(rows: Iterable[tuple[str, str, Any, Any]], where: str, earlier: Iterable[Fault] = ()) -> list[Mark]:
    """Return the rows as marks, or raise with every fault of every row."""
    faults, marks = list(earlier), []
    for place, name, lat, lon in rows:
        angles: list[float] = []
        for axis, value in (("lat", lat), ("lon", lon)):
            try:
                angles.append(_angle(value, axis))  # type: ignore[arg-type]
            except ValueError as error:
                faults.append(Fault(where, f"{place}{f' ({name})' if name else ''}", str(error)))
        if len(angles) == 2:
            marks.append(Mark(place, name, *angles))
    if faults:
        raise InputError(faults)
    return marks


def _angle(value: Any, axis: Axis) -> float:
    if isinstance(value, str):
        return read_angle(value, axis)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{value!r} is no number.")
    try:
        return in_range(float(value), axis)
    except OverflowError:
        raise ValueError(f"a number of {len(str(value))} digits is no position.") from None


def _sentence(problem: str) -> str:
    return problem if problem.endswith(".") else f"{problem}."
