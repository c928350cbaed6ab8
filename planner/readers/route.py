"""Routes from files, or from the passage file itself: waypoints in order, checked as a passage to be sailed."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Final

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, Waypoint
from planner.domain.units import M_PER_NM
from planner.readers.text_file import read_utf8, read_xml
from planner.readers.waypoints import GpxElement, Mark, from_csv, from_geojson, from_gpx, from_table

SAME_PLACE_M: Final = 1.0  # m: a point this near to the one before it is a duplicate
LONGEST_LEG_NM: Final = 5400.0  # nm, a quarter of the way round the world: a longer leg is taken for a slip


def passage_route(passage: Passage, passage_file: Path) -> Route:
    """Return the route of a passage, from the file that it names or from its own waypoints.

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
        return read_route(passage_file.parent / passage.route, element=passage.route_element)
    return _checked(from_table(passage.waypoints, passage_file.name), passage_file.name)


def read_route(path: Path, *, element: GpxElement = "rte") -> Route:
    """Return the waypoints of a route file, duplicates dropped.

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
    if not path.is_file():
        raise InputError([Fault(path.name, "", f"there is no file '{path}'.", "Check the name and the folder.")])
    text = read_xml(path) if path.suffix.lower() == ".gpx" else read_utf8(path)
    return _checked(reader(text, path.name), path.name)


def _checked(marks: list[Mark], where: str) -> Route:
    kept = _without_duplicates(marks)
    if len(kept) < 2:
        dropped = f" ({len(marks)} at the same place)" if len(marks) > 1 else ""
        problem = f"{len(kept)} waypoint{'s' if len(kept) != 1 else ''}{dropped}; a passage needs two at least."
        raise InputError([Fault(where, "", problem, "Add the destination.")])
    faults = [_too_long(where, a, b) for a, b in pairwise(kept) if _distance_m(a, b) > LONGEST_LEG_NM * M_PER_NM]
    if faults:
        raise InputError(faults)
    return tuple(
        Waypoint(name=mark.name or f"waypoint {number}", lat=mark.lat, lon=mark.lon)
        for number, mark in enumerate(kept, 1)
    )


def _distance_m(a: Mark, b: Mark) -> float:
    from geopy.distance import geodesic

    return float(geodesic((a.lat, a.lon), (b.lat, b.lon)).meters)


def _without_duplicates(marks: list[Mark]) -> list[Mark]:
    kept: list[Mark] = []
    for mark in marks:
        if not kept or _distance_m(kept[-1], mark) > SAME_PLACE_M:
            kept.append(mark)
    return kept


def _too_long(where: str, a: Mark, b: Mark) -> Fault:
    legs = f"{_distance_m(a, b) / M_PER_NM:.0f} nm from {a.name or a.place} to {b.name or b.place}"
    return Fault(
        where,
        b.place,
        f"a leg of {legs}; {LONGEST_LEG_NM:.0f} nm is the most.",
        "Are latitude and longitude swapped, or is a sign wrong? A leg really so long wants a waypoint between.",
    )
