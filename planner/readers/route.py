"""Routes from files, or from the passage file itself: waypoints in order, checked as a passage to be sailed."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, Thinned, Waypoint
from planner.domain.units import M_PER_NM
from planner.readers.text_file import MOST_LINES, read_utf8, read_xml
from planner.readers.thinning import thinned
from planner.readers.waypoints import GpxElement, Mark, from_csv, from_geojson, from_gpx, from_table

if TYPE_CHECKING:
    from pyproj import Geod

SAME_PLACE_M: Final = 1.0  # m: a point this near to the one before it is a duplicate
LONGEST_LEG_NM: Final = 10_700.0  # nm; the shortest way to a place some 70 nm from opposite, or less, is no one line
MOST_POINTS: Final = 10_000  # a day's track at ten seconds; more are thinned
THINNED_NM: Final = 0.1  # nm that a point left out may lie off the line: a tenth of what a ten-minute step sails


def passage_route(passage: Passage, passage_file: Path) -> tuple[Route, Thinned | None]:
    """Return the route of a passage, from the file that it names or from its own waypoints, and how it was thinned.

    Parameters
    ----------
    passage : Passage
        As read from its file.
    passage_file : Path
        The file; a route file lies relative to it.

    Raises
    ------
    InputError
        As ``read_route``.
    """
    if passage.route is not None:
        return _read(passage_file.parent / passage.route, element=passage.route_element)
    return _checked(from_table(passage.waypoints, passage_file.name), passage_file.name)


def passage_refuges(passage: Passage, passage_file: Path) -> tuple[Waypoint, ...]:
    """Return the ports of refuge that a passage names.

    Parameters
    ----------
    passage : Passage
        As read from its file.
    passage_file : Path

    Raises
    ------
    InputError
        With every position that is none.
    """
    marks = from_table(passage.refuge, passage_file.name, "refuge")
    return tuple(
        Waypoint(name=mark.name or f"refuge {number}", lat=mark.lat, lon=mark.lon)
        for number, mark in enumerate(marks, 1)
    )


def read_route(path: Path, *, element: GpxElement = "rte") -> Route:
    """Return the waypoints of a route file, duplicates dropped, and points without a name thinned beyond 10,000.

    Parameters
    ----------
    path : Path
        GPX 1.0 or 1.1, CSV with the heading ``name,lat,lon``, or a GeoJSON LineString; distinguished by the ending of
        the name.
    element : {'rte', 'trk', 'wpt'}
        What of a GPX file is the route: its one route, its one track, or its single waypoints in the file's order.

    Returns
    -------
    tuple of Waypoint
        Two or more, each at another place than the one before.

    Raises
    ------
    InputError
        With file, line or waypoint, value and remedy of every fault.
    """
    return _read(path, element=element)[0]


def _read(path: Path, *, element: GpxElement) -> tuple[Route, Thinned | None]:
    readers: dict[str, Callable[[str, str], list[Mark]]] = {
        ".gpx": partial(from_gpx, element=element),
        ".csv": from_csv,
        ".geojson": from_geojson,
        ".json": from_geojson,
    }
    reader = readers.get(path.suffix.lower())
    if reader is None:
        allowed = ", ".join(sorted(readers))
        raise InputError([Fault(path.name, "", f"the ending '{path.suffix}' is no route's.", f"Allowed: {allowed}.")])
    if not os.path.isfile(path):
        raise InputError([Fault(path.name, "", f"there is no file '{path}'.", "Check the name and the folder.")])
    text = read_xml(path) if path.suffix.lower() == ".gpx" else read_utf8(path, MOST_LINES)
    return _checked(reader(text, path.name), path.name)


def _checked(marks: list[Mark], where: str) -> tuple[Route, Thinned | None]:
    apart = _without_duplicates(marks)
    if len(apart) < 2:
        dropped = f" ({len(marks)} at the same place)" if len(marks) > 1 else ""
        problem = f"{len(apart)} waypoint{'s' if len(apart) != 1 else ''}{dropped}; a passage needs two at least."
        raise InputError([Fault(where, "", problem, "Add the destination.")])
    kept = thinned(apart, THINNED_NM) if len(apart) > MOST_POINTS else apart
    lengths = _lengths_nm(kept)
    legs = list(zip(kept[:-1], kept[1:], lengths, strict=True))
    faults = [_too_long(where, a, b, length) for a, b, length in legs if length > LONGEST_LEG_NM]
    if faults:
        raise InputError(faults)
    route = tuple(
        Waypoint(name=mark.name or f"waypoint {number}", lat=mark.lat, lon=mark.lon)
        for number, mark in enumerate(kept, 1)
    )
    return route, Thinned(len(apart), THINNED_NM) if len(kept) < len(apart) else None


@lru_cache(maxsize=1)
def _wgs84() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")


def _lengths_nm(marks: list[Mark]) -> list[float]:
    lons, lats = [mark.lon for mark in marks], [mark.lat for mark in marks]
    return [length / M_PER_NM for length in _wgs84().inv(lons[:-1], lats[:-1], lons[1:], lats[1:])[2]]


def _without_duplicates(marks: list[Mark]) -> list[Mark]:
    kept = marks[:1]
    for mark in marks[1:]:
        last = kept[-1]
        if _wgs84().inv(last.lon, last.lat, mark.lon, mark.lat)[2] > SAME_PLACE_M:
            kept.append(mark)
    return kept


def _too_long(where: str, a: Mark, b: Mark, length_nm: float) -> Fault:
    return Fault(
        where,
        b.place,
        f"a leg of {length_nm:.0f} nm from {a.name or a.place} to {b.name or b.place}; {LONGEST_LEG_NM:.0f} nm is "
        "the most.",
        "Are latitude and longitude swapped, or is a sign wrong? A leg really so long wants a waypoint between.",
    )
