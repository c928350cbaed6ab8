"""What the march sails by, as arrays and numbers: the boat, the legs with their waits, the wind and the current."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError, suggest
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Leg, Route, Waypoint, places_of
from planner.domain.inputs.sailing import Sailing
from planner.domain.units import M_PER_NM, M_S_PER_KN
from planner.domain.utc import to_numpy
from planner.physics.sailing.polar import polar_table
from planner.physics.sailing.sailings import great_circle, highest_latitude, rhumb_line, touch_parallel
from planner.physics.sailing.wind import WindGrid
from planner.simulation.track.helm import AT_ANCHOR, HOVE_TO, UNDER_WAY, Vessel
from planner.simulation.track.march import Legs

if TYPE_CHECKING:
    import xarray as xr

SHORTEST_PIECE_M: Final = 1.0  # m: a piece of a composite leg that is shorter is left out

_Position = tuple[float, float]


_Piece = tuple[_Position, _Position, bool]
"""A piece of a leg that is one great circle, or one rhumb line (True): its ends."""


def vessel_of(sailing: Sailing, *, pace: float = 1.0) -> Vessel:
    """Return how the boat sails, as the march reads it.

    Parameters
    ----------
    sailing : Sailing
        From the boat file.
    pace : float
        What she goes of her speed, to arrive as wanted [0..1].
    """
    polar, seaway = sailing.polar, sailing.seaway_factor
    return Vessel(
        polar=polar_table(polar.true_wind_angle_deg, polar.true_wind_speed_kn, polar.speed_kn),
        comfort=float(sailing.comfort_factor),
        seaway_wind_kn=_floats(seaway.wind_kn if seaway else (0.0,)),
        seaway_factor=_floats(seaway.value if seaway else (1.0,)),
        pace=float(pace),
        motoring_kn=float(sailing.motoring_speed_kn),
        engine_below_kn=float(sailing.engine_below_kn),
        engine_below_wind_kn=float(sailing.engine_below_wind_kn),
        engine_below_made_good_kn=float(sailing.engine_below_made_good_kn),
        engine_margin_kn=float(sailing.engine_margin_kn),
        engine_least_h=sailing.engine_least_min / 60.0,
        board_nm=float(sailing.board_nm),
        board_h=np.inf if sailing.board_h is None else float(sailing.board_h),
        shift_deg=float(sailing.tack_on_shift_deg),
        gybes=bool(sailing.gybe_downwind),
        hysteresis_deg=float(sailing.tack_hysteresis_deg),
        leeway_angle_deg=_floats(sailing.leeway_deg.angle_deg),
        leeway_size_deg=_floats(sailing.leeway_deg.value),
        hove_to_deg=float(sailing.hove_to.wind_angle_deg),
        hove_to_share=float(sailing.hove_to.drift_share),
    )


def _floats(values: tuple[float, ...]) -> Floats:
    return np.asarray(values, dtype=np.float64)


def legs_of(passage: Passage, route: Route) -> tuple[Legs, npt.NDArray[np.int32]]:
    """Return the legs as arrays, and which leg of the route each piece of a composite one belongs to.

    Parameters
    ----------
    passage : Passage
        Its kind of sailings, fixed speeds, waits and departure are read; an open-ended wait takes no time.
    route : Route
        Two waypoints or more.

    Raises
    ------
    InputError
        When the route is too short, a waypoint unknown or beyond the limiting latitude.
    """
    if len(route) < 2:
        raise InputError([Fault("route", "", f"{len(route)} waypoints; a passage needs two at least.")])
    faults = [*waypoint_faults(passage, route, "passage"), *_beyond_limit(passage, route)]
    if faults:
        raise InputError(faults)
    pieces = [(*piece, owner) for owner, ends in enumerate(pairwise(route)) for piece in _pieces(passage, *ends)]
    start, end, rhumb, owner = (np.array(column) for column in zip(*pieces, strict=True))
    length_m, bearing = np.empty(rhumb.size), np.empty(rhumb.size)
    for line, chosen in ((great_circle, ~rhumb), (rhumb_line, rhumb)):
        length_m[chosen], bearing[chosen] = line(*start[chosen].T, *end[chosen].T)
    kept = (
        length_m > SHORTEST_PIECE_M if passage.limiting_lat_deg is not None else np.ones(rhumb.size, dtype=np.bool_)
    )
    owner, length_nm = owner[kept].astype(np.int32), length_m[kept] / M_PER_NM
    first = np.concatenate([[True], np.diff(owner) != 0])
    lying, wait_h, until_h = (np.zeros(len(route) - 1) for _ in range(3))
    for wait in passage.waits:
        (at,) = places_of(route, wait.at_waypoint)
        lying[at] = AT_ANCHOR if wait.how == "anchor" else HOVE_TO
        wait_h[at] = wait.hours or 0.0
        if wait.until is not None:
            until_h[at] = (to_numpy(wait.until) - to_numpy(passage.departure)) / np.timedelta64(1, "h")
    legs = Legs(
        lat_deg=np.ascontiguousarray(start[kept, 0]),
        lon_deg=np.ascontiguousarray(start[kept, 1]),
        bearing_deg=bearing[kept],
        length_nm=length_nm,
        rhumb=rhumb[kept],
        fixed_kn=speeds_by_leg(route, passage.legs)[owner],
        lying=np.where(first, lying[owner], UNDER_WAY),
        wait_h=wait_h[owner],
        wait_until_h=until_h[owner],
        after_nm=np.append(np.cumsum(length_nm[:0:-1])[::-1], 0.0),
    )
    return legs, owner


def speeds_by_leg(route: Route, legs: tuple[Leg, ...]) -> Floats:
    """Return the speed that each leg of a route fixes, NaN where it does not, (leg,) [kn]."""
    speeds = np.full(len(route) - 1, np.nan)
    for leg in legs:
        if leg.speed_kn is not None:
            speeds[places_of(route, leg.from_waypoint)] = leg.speed_kn
    return speeds


def waypoint_faults(passage: Passage, route: Route, where: str) -> list[Fault]:
    """Return a fault for each leg and wait at a waypoint that the route has not, has twice, or ends at.

    Parameters
    ----------
    passage : Passage
        Its legs and waits are read.
    route : Route
        Two waypoints or more.
    where : str
        Name of the passage file, for the messages.
    """
    keys: list[tuple[str, str | int]] = [
        *((f"legs.{index}.from_waypoint", leg.from_waypoint) for index, leg in enumerate(passage.legs)),
        *((f"waits.{index}.at_waypoint", wait.at_waypoint) for index, wait in enumerate(passage.waits)),
    ]
    faults: list[Fault] = []
    taken: set[tuple[str, int]] = set()
    for key, waypoint in keys:
        places = places_of(route, waypoint)
        if not places:
            remedy = f"Its {len(route)} waypoints are numbered from 1."
            if isinstance(waypoint, str):
                remedy = suggest(waypoint, [each.name for each in route[:-1]])
            faults.append(Fault(where, key, f"the route has no waypoint {waypoint!r}.", remedy))
        elif len(places) > 1:
            numbers = ", ".join(str(place + 1) for place in places)
            problem = f"the route has {len(places)} waypoints '{waypoint}', numbers {numbers}."
            faults.append(
                Fault(where, key, problem, f"Write the number: {key.rpartition('.')[2]} = {places[0] + 1}.")
            )
        elif places[0] == len(route) - 1:
            problem = f"{waypoint!r} is the destination; the passage ends there."
            faults.append(Fault(where, key, problem, "Name an earlier waypoint."))
        elif (key.partition(".")[0], places[0]) in taken:
            faults.append(Fault(where, key, f"{waypoint!r} stands here twice.", "Make one of the two."))
        else:
            taken.add((key.partition(".")[0], places[0]))
    return faults


def _beyond_limit(passage: Passage, route: Route) -> list[Fault]:
    limit = passage.limiting_lat_deg
    if limit is None:
        return []
    return [
        Fault(
            "passage",
            "limiting_lat_deg",
            f"waypoint '{point.name}' lies at {abs(point.lat):.2f} {'NS'[point.lat < 0]}, beyond {limit:g}.",
            "Raise the limit, or move the waypoint.",
        )
        for point in route
        if abs(point.lat) > limit
    ]


def _pieces(passage: Passage, before: Waypoint, after: Waypoint) -> list[_Piece]:
    """Return a leg in one piece, or a composite one in three: to the parallel, along it, and from it."""
    start, end = (before.lat, before.lon), (after.lat, after.lon)
    limit = passage.limiting_lat_deg
    if limit is None or abs(highest := highest_latitude(*start, *end)) <= limit:
        return [(start, end, passage.sailings == "rhumb_line")]
    parallel = float(np.copysign(limit, highest))
    toward = 1.0 if (after.lon - before.lon) % 360.0 < 180.0 else -1.0
    on, off = (touch_parallel(*place, parallel, toward=way)[:2] for place, way in ((start, toward), (end, -toward)))
    return [(start, on, False), (on, off, True), (off, end, False)]


def wind_grid(forecast: xr.Dataset, departure: np.datetime64, member: int) -> WindGrid:
    """Return one member's wind.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    departure : datetime64
        UTC; the grid's hours count from it.
    member : int
        By position.
    """
    return _grid(forecast, departure, ("wind_east_m_s", "wind_north_m_s"), member)


def current_grid(passage: Passage, forecast: xr.Dataset, member: int) -> WindGrid:
    """Return the current, constant or as the forecast has it; where it has none, as on land, the water stands.

    Parameters
    ----------
    passage : Passage
        Its current and departure are read.
    forecast, member
        As for ``wind_grid``.

    Raises
    ------
    InputError
        When the forecast holds no currents.
    """
    if passage.current.source == "constant":
        toward, drift_kn = np.radians(passage.current.set_deg), passage.current.drift_kn
        east, north = (np.full((1, 1, 1), drift_kn * part) for part in (np.sin(toward), np.cos(toward)))
        return WindGrid(np.zeros(1), np.zeros(1), np.zeros(1), east, north)
    names = ("current_east_m_s", "current_north_m_s")
    if any(name not in forecast for name in names):
        problem = "source = 'forecast', but no forecast file holds currents."
        remedy = (
            "Add a file with eastward and northward sea water velocity to 'forecast', or give set_deg and drift_kn."
        )
        raise InputError([Fault("passage", "current.source", problem, remedy)])
    grid = _grid(forecast, to_numpy(passage.departure), names, member)
    return grid._replace(east_kn=np.nan_to_num(grid.east_kn), north_kn=np.nan_to_num(grid.north_kn))


def _grid(forecast: xr.Dataset, departure: np.datetime64, names: tuple[str, str], member: int) -> WindGrid:
    """Return a flow in knots; a grid right round the globe is closed with its first meridian."""
    hours = (forecast["time"].values.astype("datetime64[ns]") - departure) / np.timedelta64(1, "h")
    lat, lon = (np.asarray(forecast[axis].values, dtype=np.float64) for axis in ("lat", "lon"))
    east, north = (np.asarray(forecast[name].values[member], dtype=np.float64) / M_S_PER_KN for name in names)
    if lon.size > 1 and 360.0 - 1e-6 <= lon[-1] - lon[0] + (lon[1] - lon[0]) < 720.0 and lon[-1] - lon[0] < 360.0:
        lon = np.append(lon, lon[0] + 360.0)
        east, north = (np.concatenate([part, part[..., :1]], axis=-1) for part in (east, north))
    return WindGrid(
        np.ascontiguousarray(hours, dtype=np.float64),
        np.ascontiguousarray(lat),
        np.ascontiguousarray(lon),
        np.ascontiguousarray(east),
        np.ascontiguousarray(north),
    )
