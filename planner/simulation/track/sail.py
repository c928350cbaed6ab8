"""The track: where the boat is, how she heads and how she is trimmed at every step of the passage."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError
from planner.domain.glossary import TRACK, TRACK_OPTIONAL
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route
from planner.domain.results.note import Note
from planner.domain.schema import to_dataset
from planner.physics.sailing.magnetism import decimal_year, field_at
from planner.simulation.track.arrival import Sailed, sail_in_time
from planner.simulation.track.march import ARRIVED, HELD, NO_WIND_GIVEN, OUT_OF_TIME
from planner.simulation.track.trim import trim_of
from planner.simulation.track.warnings import compass_warnings, track_warnings

if TYPE_CHECKING:
    import xarray as xr


LONGEST_DAYS: Final = 60  # d: a passage longer than this is taken for a boat that makes no ground
VARIATION_EVERY_H: Final = 3.0  # h: variation is computed this often and drawn straight between


def sail(passage: Passage, boat: Boat, route: Route, forecast: xr.Dataset, *, member: int = 0) -> xr.Dataset:
    """Sail the route in one member's wind.

    Parameters
    ----------
    passage : Passage
        Departure and wanted arrival, kind of sailings, waits, current, speeds fixed on legs, step.
    boat : Boat
        Its ``sailing`` part is read.
    route : Route
        Two waypoints or more.
    forecast : xarray.Dataset
        ``wind_east_m_s`` and ``wind_north_m_s`` as the glossary's FORECAST has them, and the current where the
        passage asks for the forecast's; latitude and longitude rising, no gaps in the wind, reaching over the
        passage (held beyond its ends).
    member : int
        Which member's wind, by position.

    Returns
    -------
    xarray.Dataset
        The glossary's TRACK over ``time`` (starts of steps, UTC, the first at departure), and of TRACK_OPTIONAL what
        the passage has; with attributes ``step_s`` (float, s), ``pace`` (float, what she goes of her speed),
        ``arrival`` (ISO 8601, UTC) and ``notes`` (tuple of Note, what the skipper
        must know). In the last step the boat
        lies still once she has arrived, and speeds are means over the whole step.

    Raises
    ------
    InputError
        When the route is too short, a waypoint unknown, the current beats the boat, the forecast has a gap, the
        wanted arrival cannot be met, or the destination is not reached in 60 days.
    """
    sailed = sail_in_time(passage, boat.sailing, route, forecast, member=member, longest_days=LONGEST_DAYS)
    if sailed.missed is not None:
        raise InputError([sailed.missed])
    if sailed.outcome != ARRIVED:
        raise InputError([_failure(sailed, boat, route, at=_last_moment(sailed, passage))])
    return _track_of(sailed, passage, boat, route)


def sail_on(passage: Passage, boat: Boat, route: Route, forecast: xr.Dataset, *, member: int = 0) -> xr.Dataset:
    """Sail the route in one member's wind, whether or not she comes as wanted, or at all.

    She goes slower or waits longer for a wanted arrival as ``sail`` has it; where that cannot be met she comes as
    near to it as she can.

    Parameters
    ----------
    passage, boat, route, forecast, member
        As ``sail`` has them.

    Returns
    -------
    xarray.Dataset
        As from ``sail``; ``arrival`` is empty where the current holds her or 60 days do not bring her there, and the
        track then ends so.

    Raises
    ------
    InputError
        When the route cannot be, the forecast has a gap, or the current holds her from the start.
    """
    sailed = sail_in_time(passage, boat.sailing, route, forecast, member=member, longest_days=LONGEST_DAYS)
    held = sailed.outcome == HELD
    if sailed.outcome == NO_WIND_GIVEN or (held and sailed.marched["lat"].size == 1):
        raise InputError([_failure(sailed, boat, route, at=_last_moment(sailed, passage))])
    if held:  # in its last entry she has place and wind, but no way
        sailed = replace(sailed, marched={name: values[:-1] for name, values in sailed.marched.items()})
    return _track_of(sailed, passage, boat, route)


def _last_moment(sailed: Sailed, passage: Passage) -> str:
    steps = sailed.marched["lat"].size - 1
    moment = sailed.departure + steps * np.timedelta64(passage.model.step_min, "m")
    return f"{np.datetime_as_string(moment, unit='m')}Z"


def _track_of(sailed: Sailed, passage: Passage, boat: Boat, route: Route) -> xr.Dataset:
    """Return a march as the glossary's TRACK."""
    step_min, marched, departure = passage.model.step_min, sailed.marched, sailed.departure
    time = departure + np.arange(marched["lat"].size) * np.timedelta64(step_min, "m")
    heading_magnetic, on_compass = _magnetic(marched, time, step_min)
    arrays: dict[str, npt.NDArray[Any]] = {
        **marched,
        **{name: marched[name].astype(np.int8) for name in ("tack", "under_engine", "lying")},
        "leg": marched["leg"].astype(np.int32),
        "heading_magnetic_deg": heading_magnetic,
        **trim_of(boat.sailing, marched),
    }
    if not marched["current_drift_kn"].any():
        del arrays["current_set_deg"], arrays["current_drift_kn"]
    if not passage.waits:
        del arrays["lying"]
    quantities = {name: quantity for name, quantity in {**TRACK, **TRACK_OPTIONAL}.items() if name in arrays}
    track = to_dataset(arrays, {**TRACK, **quantities}, coords={"time": time}, door="track")
    arrival = departure + np.timedelta64(round(sailed.hours * 3.6e9), "us")
    there = sailed.outcome == ARRIVED
    track.attrs["step_s"] = step_min * 60.0
    track.attrs["pace"] = sailed.pace
    track.attrs["arrival"] = f"{np.datetime_as_string(arrival, unit='us')}+00:00" if there else ""
    on_the_way = track_warnings(track, passage, boat.sailing, route)
    track.attrs["notes"] = (*sailed.notes, *on_the_way, *on_compass)
    return track


def _magnetic(
    marched: dict[str, Floats], time: npt.NDArray[np.datetime64], step_min: int
) -> tuple[Floats, list[Note]]:
    """Return the heading from magnetic north [degree] and notes; variation is drawn straight between some hours."""
    rows = time.size
    every = round(VARIATION_EVERY_H * 60.0 / step_min)
    nodes = np.unique(np.append(np.arange(0, rows, every), rows - 1))
    years = decimal_year(time[nodes])
    variation_deg, horizontal_nt = field_at(marched["lat"][nodes], marched["lon"][nodes], years)
    between = np.interp(np.arange(rows), nodes, np.unwrap(variation_deg, period=360.0))
    intensity = np.interp(np.arange(rows), nodes, horizontal_nt)
    return (marched["heading_deg"] - between) % 360.0, compass_warnings(years, intensity, step_min / 60.0)


def _failure(sailed: Sailed, boat: Boat, route: Route, *, at: str) -> Fault:
    """Return why the march ended before the destination, from its last entry and that moment."""
    last = {name: float(values[-1]) for name, values in sailed.marched.items()}
    place = f"at {abs(last['lat']):.2f} {'NS'[last['lat'] < 0]}, {abs(last['lon']):.2f} {'EW'[last['lon'] < 0]}"
    moment = at.replace("T", " ")
    if sailed.outcome == NO_WIND_GIVEN:
        return Fault(
            "forecast", "wind", f"no wind is given {place} on {moment}.", "Fill the gap or take another forecast."
        )
    engine_drives = boat.sailing.engine_below_kn > 0.0 or boat.sailing.engine_below_wind_kn > 0.0
    remedy = "" if engine_drives else " Or let the engine drive: sailing.engine_below_kn above 0."
    if not boat.engine.available:
        remedy = ""
    if sailed.outcome == OUT_OF_TIME:
        engine = "the engine never drives (engine_below_kn = 0)"
        if not boat.engine.available:
            engine = "the engine is out of service"
        elif engine_drives:
            engine = "the engine drives when she is slow"
        return Fault(
            "boat",
            "sailing",
            f"after {LONGEST_DAYS} days the boat is {place} with {last['distance_to_go_nm']:.0f} nm to go to "
            f"{route[-1].name or 'the destination'}; {engine}; wind there {last['true_wind_speed_kn']:.0f} kn.",
            "Look at the polar table, comfort_factor and engine_below_kn, and at the length of the route.",
        )
    means = "under engine" if last["under_engine"] else "under sail"
    if last["current_drift_kn"] == 0.0:
        return Fault(
            "boat",
            "sailing.polar",
            f"{place} on {moment} the mark lies {abs(last['true_wind_angle_deg']):.0f} degrees off the wind of "
            f"{last['true_wind_speed_kn']:.0f} kn, nearer than she sails, and no two boards lead to it.",
            f"Give the polar rows nearer the wind than its first.{remedy}",
        )
    way = f"{last['speed_through_water_kn']:.1f} kn {means}" if last["speed_through_water_kn"] else "what sails give"
    return Fault(
        "passage",
        "current.drift_kn",
        f"{last['current_drift_kn']:.3g} kn setting {last['current_set_deg']:03.0f} beat the boat {place} on "
        f"{moment}; no heading holds the course with {way}.",
        f"Check the set (the direction it goes TO) and the drift.{remedy}",
    )
