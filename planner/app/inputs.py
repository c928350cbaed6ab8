"""Read and cross-check everything that a plan needs before anything is computed."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route
from planner.domain.inputs.watch_rules import watch_faults
from planner.domain.units import M_PER_NM
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.rehearsal import refusals
from planner.physics.sailing.sailings import great_circle
from planner.readers.config import Configuration, fingerprint, parse_override, read_configuration, read_whatever_holds
from planner.readers.forecast.reader import read_forecast
from planner.readers.hand_weather import DISPENSABLE, carried_by_hand, forecast_by_hand
from planner.readers.route import passage_refuges, passage_route
from planner.simulation.checks import power_faults
from planner.simulation.harvest.array_checks import array_faults
from planner.simulation.harvest.fit import scene_faults
from planner.simulation.ship_time import by_destination, departure_offset
from planner.simulation.track.orders import waypoint_faults

if TYPE_CHECKING:
    import xarray as xr

CORRIDOR_MARGIN_DEG = 1.5  # degree; room for boards and set on either side of the route
SLOWEST_KN = 2.0  # kn; how slow a passage the forecast is read for
SPARE = timedelta(days=2)


def read_passage(
    passage_file: str | Path, overrides: Mapping[str, Any] | None = None, *, typed: Sequence[str] = ()
) -> Inputs:
    """Read a passage with boat, route and forecast, and check that they go together.

    Parameters
    ----------
    passage_file : str or Path
        TOML.
    overrides : mapping, optional
        Dotted keys into passage or boat, such as ``boat.bank.capacity_ah``, to their values.
    typed : sequence of str
        The same as ``KEY=VALUE``, as on the command line; they go before the rest.

    Returns
    -------
    Inputs

    Raises
    ------
    InputError
        With every fault that was found.
    """
    return read_inputs(Path(passage_file), asked_overrides(overrides, typed))


def asked_overrides(overrides: Mapping[str, Any] | None, typed: Sequence[str]) -> list[Override]:
    """Return overrides, those that are typed first; as for ``read_passage``."""
    return [*map(parse_override, typed), *(Override(key, value) for key, value in (overrides or {}).items())]


def named_files(passage_file: Path) -> dict[str, tuple[Path, ...]]:
    """Return the files of a passage by what they are for.

    Parameters
    ----------
    passage_file : Path

    Returns
    -------
    dict of str to tuple of Path
        ``passage``, ``boat``, ``route`` (none where the passage file holds the waypoints) and ``forecast``.

    Raises
    ------
    InputError
        When passage or boat cannot be read.
    """
    read = read_configuration(passage_file)
    return {
        "passage": (passage_file,),
        "boat": (read.boat_file,),
        "route": () if read.route_file is None else (read.route_file,),
        "forecast": read.forecast_files,
    }


def read_inputs(
    passage_file: Path,
    overrides: Sequence[Override] = (),
    *,
    recall: Recall | None = None,
    refit: Callable[[Boat], Boat] | None = None,
    rehearsal: Progress | None = None,
) -> Inputs:
    """Read a passage with all that it names.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of Override
    recall : Recall, optional
        Handed on from reading to reading, it spares reading the same part of a forecast again.
    refit : callable, optional
        Changes the boat before it is held against the rest.
    rehearsal : callable, optional
        Told when the tracks are sailed to find what only planning refuses; None leaves that to planning.

    Returns
    -------
    Inputs

    Raises
    ------
    InputError
        With the faults of every file that could be read. What is held together is tried with either stand-in for
        what is at fault itself; faults that both show are told with the rest.
    """
    configurations, faults = read_whatever_holds(passage_file, overrides)
    recall, found = recall or Recall(), []
    for one in configurations:
        configuration = one if refit is None else replace(one, boat=refit(one.boat))
        inputs, together = _held_together(configuration, overrides, recall)
        if inputs is not None and rehearsal is not None:
            rehearsal("sailing the tracks")
            known = {fault.problem for fault in together}
            together += [fault for fault in refusals(inputs, recall) if fault.problem not in known]
        found.append((inputs, together))
    if found:
        faults += [fault for fault in found[0][1] if fault in found[-1][1]]
    if faults or found[0][0] is None:
        raise InputError(dict.fromkeys(faults))
    return found[0][0]


def _held_together(
    configuration: Configuration, overrides: Sequence[Override], recall: Recall
) -> tuple[Inputs | None, list[Fault]]:
    """Return what a plan is made from, where it can be read, and what is wrong with its parts together."""
    passage, boat, passage_file = configuration.passage, configuration.boat, configuration.passage_file
    faults = consistency_faults(configuration)
    try:
        route, thinned = passage_route(passage, passage_file)
        refuges = passage_refuges(passage, passage_file)
    except InputError as error:
        return None, [*faults, *error.faults, *_no_files(configuration)]
    passage = by_destination(passage, route[-1].lon)
    configuration = replace(configuration, passage=passage)
    faults += waypoint_faults(passage, route, passage_file.name)
    missing = _no_files(configuration)
    if missing or not (configuration.forecast_files or passage.weather):  # neither, where what names them is at fault
        return None, faults + missing
    try:
        forecast = _weather(configuration, route, recall)
    except InputError as error:
        return None, [*faults, *error.faults]
    files = (passage_file, configuration.boat_file, configuration.route_file, *configuration.forecast_files)
    inputs = Inputs(
        passage=passage,
        boat=boat,
        route=route,
        forecast=forecast,
        files=_digests([path for path in files if path is not None], passage_file.parent),
        ship_offset=departure_offset(passage, route[0].lon),
        passage_file=passage_file,
        overrides=tuple(overrides),
        thinned=thinned,
        refuges=refuges,
    )
    return inputs, faults


def _no_files(configuration: Configuration) -> list[Fault]:
    """Return a fault for each forecast file that is not there."""
    return [
        Fault(
            configuration.passage_file.name, "forecast", f"there is no file '{path}'.", "Check the name and folder."
        )
        for path in configuration.forecast_files
        if not os.path.isfile(path)
    ]


def _digests(files: Sequence[Path], folder: Path) -> dict[str, str]:
    """Return fingerprints of files by their names; by their paths where two of different folders are named alike."""
    names = Counter(path.name for path in set(files))
    shown = [path.name if names[path.name] == 1 else Path(os.path.relpath(path, folder)).as_posix() for path in files]
    return {name: fingerprint(path) for name, path in zip(shown, files, strict=True)}


def consistency_faults(configuration: Configuration) -> list[Fault]:
    """Return the faults that only show when the parts of passage and boat are held together."""
    passage, boat = configuration.passage, configuration.boat
    boat_name, passage_name = configuration.boat_file.name, configuration.passage_file.name
    return [
        *watch_faults(passage.watches, passage_name),
        *power_faults(boat, passage, boat_name, passage_name),
        *array_faults(boat.panel, boat.controller, boat.bank, boat_name),
        *scene_faults(boat.rig, boat.panel, boat_name),
    ]


def _weather(configuration: Configuration, route: Route, recall: Recall) -> xr.Dataset:
    """Return what the forecast files hold, what is typed by hand, or both together."""
    passage, where = configuration.passage, configuration.passage_file.name
    rows = passage.weather
    if not configuration.forecast_files:
        return recall(forecast_by_hand, rows, where=where)
    filed = recall(
        read_forecast,
        configuration.forecast_files,
        corridor=corridor_of(route),
        span=span_of(passage, route),
        free_to_lack=DISPENSABLE if rows else frozenset({"cloud_cover"}),
        sunlight=passage.sunlight_given,
    )
    return recall(carried_by_hand, filed, rows, where=where) if rows else filed


def corridor_of(route: Route) -> tuple[float, float, float, float]:
    """Return the box round the route: south, north, west, east [degree]; east may exceed 180.

    Longitudes are followed from waypoint to waypoint the short way round, so that a route across the antimeridian
    stays in one piece.
    """
    lats = [waypoint.lat for waypoint in route]
    lons = [route[0].lon]
    for waypoint in route[1:]:
        lons.append(lons[-1] + (waypoint.lon - lons[-1] + 180.0) % 360.0 - 180.0)
    margin = CORRIDOR_MARGIN_DEG
    return min(lats) - margin, max(lats) + margin, min(lons) - margin, max(lons) + margin


def span_of(passage: Passage, route: Route) -> tuple[np.datetime64, np.datetime64]:
    """Return the times that a passage may need weather for, however slow, UTC."""
    lats, lons = ([getattr(waypoint, axis) for waypoint in route] for axis in ("lat", "lon"))
    distance_nm = float(great_circle(lats[:-1], lons[:-1], lats[1:], lons[1:])[0].sum()) / M_PER_NM
    waits = sum(wait.hours or 0.0 for wait in passage.waits)
    ends = [passage.departure + timedelta(hours=distance_nm / SLOWEST_KN + waits)]
    ends += [wait.until + timedelta(hours=distance_nm / SLOWEST_KN) for wait in passage.waits if wait.until]
    ends += [passage.arrival] if passage.arrival else []
    start, end = (_naive_utc(moment) for moment in (passage.departure, max(ends) + SPARE))
    return np.datetime64(start, "ns"), np.datetime64(end, "ns")


def _naive_utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(tzinfo=None)
