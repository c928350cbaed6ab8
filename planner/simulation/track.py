"""The track: where the boat is, how she heads and how she is trimmed at every step of the passage."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from planner.domain.boat import Boat, Sailing
from planner.domain.errors import Fault, InputError, suggest
from planner.domain.glossary import TRACK
from planner.domain.passage import Passage, Route
from planner.domain.schema import to_dataset
from planner.domain.units import M_PER_NM, M_S_PER_KN

if TYPE_CHECKING:
    import xarray as xr

    from planner.physics.frames import Floats
    from planner.physics.wind import WindGrid
    from planner.simulation.march import Legs, Vessel

LONGEST_DAYS: Final = 60  # d: a passage longer than this is taken for a boat that makes no ground
VARIATION_EVERY_H: Final = 3.0  # h: variation is computed this often and drawn straight between
LEVEL_PITCH_DEG: Final = 0.0  # degree: the boat is taken to float on her lines


def sail(passage: Passage, boat: Boat, route: Route, forecast: xr.Dataset, *, member: int = 0) -> xr.Dataset:
    """Sail the route in one member's wind.

    Parameters
    ----------
    passage : Passage
        Departure, kind of sailings, current, speeds fixed on legs, step.
    boat : Boat
        Its ``sailing`` part is read.
    route : Route
        Two waypoints or more.
    forecast : xarray.Dataset
        ``wind_east_m_s`` and ``wind_north_m_s`` as the glossary's FORECAST has them; latitude and longitude rising,
        no gaps, reaching over the passage (held beyond its ends).
    member : int
        Which member's wind, by position.

    Returns
    -------
    xarray.Dataset
        The glossary's TRACK over ``time`` (starts of steps, UTC, the first at departure), with attributes ``step_s``
        (float, s) and ``arrival`` (ISO 8601, UTC). In the last step the boat lies still once she has arrived, and
        speeds are means over the whole step.

    Raises
    ------
    InputError
        When the route is too short, a leg's waypoint unknown, the current beats the boat, the forecast has a gap, or
        the destination is not reached in 60 days.
    """
    from planner.simulation.march import ARRIVED, Log, march

    step_min = passage.model.step_min
    departure = np.datetime64(passage.departure.astimezone(UTC).replace(tzinfo=None), "ns")
    log = Log(*(np.empty(LONGEST_DAYS * 24 * 60 // step_min) for _ in Log._fields))
    outcome, steps, hours = march(
        vessel_of(boat.sailing),
        _legs(passage, route),
        _wind_grid(forecast, departure, member),
        step_min / 60.0,
        log,
    )
    marched: dict[str, Floats] = {name: array[:steps].copy() for name, array in log._asdict().items()}
    time = departure + np.arange(steps) * np.timedelta64(step_min, "m")
    if outcome != ARRIVED:
        last = {name: float(values[-1]) for name, values in marched.items()}
        moment = f"{np.datetime_as_string(time[-1], unit='m')}Z".replace("T", " ")
        raise InputError([_failure(outcome, boat.sailing, passage, route, last, at=moment)])
    arrays: dict[str, npt.NDArray[Any]] = {
        **marched,
        "leg": marched["leg"].astype(np.int32),
        "tack": marched["tack"].astype(np.int8),
        "under_engine": marched["under_engine"].astype(np.int8),
        "heading_magnetic_deg": _magnetic(marched, time, step_min),
        **trim_of(boat.sailing, marched),
    }
    track = to_dataset(arrays, TRACK, coords={"time": time}, door="track")
    arrival = departure + np.timedelta64(round(hours * 3.6e9), "us")
    track.attrs["step_s"] = step_min * 60.0
    track.attrs["arrival"] = f"{np.datetime_as_string(arrival, unit='us')}+00:00"
    return track


def _legs(passage: Passage, route: Route) -> Legs:
    """Return the legs as arrays; a fixed speed belongs to the leg that starts at the waypoint it names."""
    from planner.physics.sailings import great_circle, rhumb_line
    from planner.simulation.march import Legs

    if len(route) < 2:
        raise InputError([Fault("route", "", f"{len(route)} waypoints; a passage needs two at least.")])
    starts = [waypoint.name for waypoint in route[:-1]]
    strange = [leg.from_waypoint for leg in passage.legs if leg.from_waypoint not in starts]
    if strange:
        raise InputError(
            Fault("passage", "legs.from_waypoint", f"no leg starts at a waypoint '{name}'.", suggest(name, starts))
            for name in strange
        )
    fixed = {leg.from_waypoint: leg.speed_kn for leg in passage.legs if leg.speed_kn is not None}
    lat, lon = np.array([point.lat for point in route]), np.array([point.lon for point in route])
    rhumb = passage.sailings == "rhumb_line"
    distance, bearing = (rhumb_line if rhumb else great_circle)(lat[:-1], lon[:-1], lat[1:], lon[1:])
    speeds = np.array([fixed.get(name, np.nan) for name in starts], dtype=np.float64)
    return Legs(
        lat_deg=lat[:-1].copy(),
        lon_deg=lon[:-1].copy(),
        bearing_deg=bearing,
        length_nm=distance / M_PER_NM,
        fixed_kn=speeds,
        rhumb=rhumb,
        set_deg=float(passage.current.set_deg),
        drift_kn=float(passage.current.drift_kn),
    )


def vessel_of(sailing: Sailing) -> Vessel:
    """Return how the boat sails, as the march reads it.

    Parameters
    ----------
    sailing : Sailing
        From the boat file.
    """
    from planner.physics.polar import polar_table
    from planner.simulation.march import Vessel

    polar = sailing.polar
    return Vessel(
        polar=polar_table(polar.true_wind_angle_deg, polar.true_wind_speed_kn, polar.speed_kn),
        comfort=float(sailing.comfort_factor),
        motoring_kn=float(sailing.motoring_speed_kn),
        engine_below_kn=float(sailing.engine_below_kn),
        board_nm=float(sailing.board_nm),
        gybes=bool(sailing.gybe_downwind),
        hysteresis_deg=float(sailing.tack_hysteresis_deg),
        leeway_angle_deg=np.asarray(sailing.leeway_deg.angle_deg, dtype=np.float64),
        leeway_size_deg=np.asarray(sailing.leeway_deg.value, dtype=np.float64),
    )


def _wind_grid(forecast: xr.Dataset, departure: np.datetime64, member: int) -> WindGrid:
    """Return one member's wind in knots; a grid right round the globe is closed with its first meridian."""
    from planner.physics.wind import WindGrid

    hours = (forecast["time"].values.astype("datetime64[ns]") - departure) / np.timedelta64(1, "h")
    lat, lon = (np.asarray(forecast[axis].values, dtype=np.float64) for axis in ("lat", "lon"))
    east, north = (
        np.asarray(forecast[name].values[member], dtype=np.float64) / M_S_PER_KN
        for name in ("wind_east_m_s", "wind_north_m_s")
    )
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


def _magnetic(marched: dict[str, Floats], time: npt.NDArray[np.datetime64], step_min: int) -> Floats:
    """Return the heading from magnetic north [degree]; variation every few hours, straight between."""
    from planner.physics.magnetism import decimal_year, variation

    rows = time.size
    every = round(VARIATION_EVERY_H * 60.0 / step_min)
    nodes = np.unique(np.append(np.arange(0, rows, every), rows - 1))
    at_nodes = variation(marched["lat"][nodes], marched["lon"][nodes], decimal_year(time[nodes]))
    between = np.interp(np.arange(rows), nodes, np.unwrap(at_nodes, period=360.0))
    return (marched["heading_deg"] - between) % 360.0


def trim_of(sailing: Sailing, marched: dict[str, Floats]) -> dict[str, Floats]:
    """Return sails, boom, heel and roll; under engine the sails are down and the boom is amidships.

    Parameters
    ----------
    sailing : Sailing
        From the boat file.
    marched : dict of str to array (time,)
        With the glossary's ``tack``, ``under_engine``, true and apparent wind angle and apparent wind speed.

    Returns
    -------
    dict of str to array (time,)
        By the glossary's names.
    """
    from planner.physics.trim import headsail_side, heel_share, read_size

    tack, sails = marched["tack"], 1.0 - marched["under_engine"]
    true, felt = marched["true_wind_angle_deg"], marched["apparent_wind_angle_deg"]
    wind = marched["apparent_wind_speed_kn"]
    roll, heel = sailing.roll_amplitude_deg, sailing.heel_deg
    boom, clew = sailing.boom_angle_deg, sailing.headsail_angle_deg
    side = headsail_side(tack, true, wing_on_wing_beyond_deg=sailing.wing_on_wing_beyond_deg)
    return {
        "heel_deg": -tack * sails * read_size(wind, heel.wind_kn, heel.value) * heel_share(felt),
        "pitch_deg": np.full(tack.size, LEVEL_PITCH_DEG),
        "roll_amplitude_deg": read_size(true, roll.angle_deg, roll.value),
        "boom_angle_deg": tack * sails * read_size(felt, boom.angle_deg, boom.value),
        "mainsail_hoist_fraction": sails * read_size(wind, sailing.hoist.wind_kn, sailing.hoist.value),
        "headsail_set_fraction": sails * read_size(wind, sailing.headsail_set.wind_kn, sailing.headsail_set.value),
        "headsail_angle_deg": side * sails * read_size(felt, clew.angle_deg, clew.value),
    }


def _failure(
    outcome: int, sailing: Sailing, passage: Passage, route: Route, last: dict[str, float], *, at: str
) -> Fault:
    """Return why the march ended before the destination, from its last entry and that moment."""
    from planner.simulation.march import CURRENT_WINS, OUT_OF_TIME

    engine_helps = sailing.engine_below_kn > 0.0
    lat, lon = last["lat"], last["lon"]
    place = f"at {abs(lat):.2f} {'NS'[lat < 0]}, {abs(lon):.2f} {'EW'[lon < 0]}"
    if outcome == OUT_OF_TIME:
        engine = (
            "the engine drives when she is slow" if engine_helps else "the engine never drives (engine_below_kn = 0)"
        )
        return Fault(
            "boat",
            "sailing",
            f"after {LONGEST_DAYS} days the boat is {place} with {last['distance_to_go_nm']:.0f} nm to go to "
            f"{route[-1].name or 'the destination'}; {engine}; wind there {last['true_wind_speed_kn']:.0f} kn.",
            "Look at the polar table, comfort_factor and engine_below_kn, and at the length of the route.",
        )
    if outcome == CURRENT_WINS:
        speed = f"{sailing.motoring_speed_kn:g} kn under engine" if engine_helps else "what the wind gives under sail"
        mend = "" if engine_helps else " Or let the engine drive: sailing.engine_below_kn above 0."
        return Fault(
            "passage",
            "current.drift_kn",
            f"{passage.current.drift_kn:g} kn setting {passage.current.set_deg:03.0f} beat the boat {place} on {at}; "
            f"no heading holds the course with {speed}.",
            f"Check the set (the direction it goes TO) and the drift.{mend}",
        )
    return Fault("forecast", "wind", f"no wind is given {place} on {at}.", "Fill the gap or take another forecast.")
