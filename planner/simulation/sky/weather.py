"""The sky over the track: sun, cloud, light and air at every step, for every outcome of the forecast.

Past either end of the forecast its calendar says what stands in; outside its grid the nearest edge is held. Both are
flagged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Bools, Floats, Times
from planner.domain.errors import Fault, InputError
from planner.domain.glossary import SKY
from planner.domain.schema import to_dataset
from planner.physics.frames import wrap_180
from planner.physics.sky.decomposition import beam_and_diffuse, beam_of_direct
from planner.simulation.clock import step_seconds
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import own_times
from planner.simulation.sky.light import light_along, sampler

if TYPE_CHECKING:
    import xarray as xr


MOST_UNCOVERED = 0.5  # 1, part of a passage that may lie beyond the forecast; the project's own rule
NM_PER_DEGREE = 60.0  # nautical mile per degree of latitude, rounded; used over half a step's run only


def sky_along(track: xr.Dataset, forecast: xr.Dataset) -> xr.Dataset:
    """Return sun, cloud, irradiance and air temperature along a track for every member.

    Sun and forecast are taken at the middle of the step, in time and place: the step's start and half its run.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it, with the step in its attribute ``step_s`` [s].
    forecast : xarray.Dataset
        As the glossary has it, from ``extend``.

    Returns
    -------
    xarray.Dataset
        The glossary's sky.

    Raises
    ------
    InputError
        When more than half of the track lies beyond the forecast.
    """
    refuse_uncovered(track, forecast)
    time, lat, lon = middles(track)
    sample = sampler(forecast, time, lat, _near_grid(lon, forecast))
    light = light_along(sample)
    azimuth, elevation, clear, extra = clear_sky(time, lat, lon)
    ghi = clear * light.index
    if light.direct_index is None:
        dni, dhi = beam_and_diffuse(ghi, elevation, extra)
    else:
        dni, dhi = beam_of_direct(ghi, clear * light.direct_index, elevation, extra)
    sky = to_dataset(
        {
            "sun_azimuth_deg": azimuth,
            "sun_elevation_deg": elevation,
            "cloud_cover": light.cover,
            "ghi_w_m2": ghi,
            "dni_w_m2": dni,
            "dhi_w_m2": dhi,
            "air_temp_c": sample("air_temp_c"),
            "rain_mm_h": sample("rain_mm_h") if "rain_mm_h" in forecast else np.zeros_like(ghi),
            "beyond_forecast": _beyond(track, forecast).astype(np.int8),
        },
        SKY,
        coords={"member": np.arange(ghi.shape[0]), "time": track["time"]},
        door="sky",
    )
    sky.attrs["step_s"] = track.attrs["step_s"]
    return sky


def refuse_uncovered(track: xr.Dataset, forecast: xr.Dataset) -> None:
    """Refuse a track of which more than half lies beyond the forecast; as ``sky_along``."""
    time, lat, lon = middles(track)
    late = _outside_times(time, forecast)
    astray = _outside_grid(lat, lon, forecast)
    if float((late | astray).mean()) > MOST_UNCOVERED:
        raise InputError([_uncovered_fault(time, late, astray, forecast)])


def within_reach(track: xr.Dataset, forecast: xr.Dataset) -> xr.Dataset:
    """Return a track as far as the forecast serves it: its longest first part that ``sky_along`` does not refuse.

    Parameters
    ----------
    track, forecast : xarray.Dataset
        As ``sky_along`` takes them.

    Returns
    -------
    xarray.Dataset
        The track itself where all of it is served; a part of it has an empty ``arrival``.
    """
    beyond = _beyond(track, forecast)
    share = np.cumsum(beyond) / np.arange(1, beyond.size + 1)
    served = np.flatnonzero(share <= MOST_UNCOVERED)
    if not served.size or served[-1] == beyond.size - 1:
        return track
    return track.isel(time=slice(0, int(served[-1]) + 1)).assign_attrs(arrival="")


def _beyond(track: xr.Dataset, forecast: xr.Dataset) -> Bools:
    """Return the steps of a track to which a forecast does not reach, in time or in place."""
    time, lat, lon = middles(track)
    return _outside_times(time, forecast) | _outside_grid(lat, lon, forecast)


def middles(track: xr.Dataset) -> tuple[Times, Floats, Floats]:
    """Return time, latitude and longitude at the middle of each step: its start and half its run.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it, with the step in its attribute ``step_s`` [s].

    Returns
    -------
    time : array of datetime64 (n,)
        UTC.
    lat, lon : array (n,)
        North and east, lon in [-180, 180) [degree]. The half run is laid off on a plane: over half an hour at 10 kn
        the error is under a metre in low latitudes.
    """
    step_s = step_seconds(track)
    half_run_deg = track["speed_over_ground_kn"].to_numpy() * step_s / 7200.0 / NM_PER_DEGREE
    course = np.radians(track["course_deg"].to_numpy())
    lat = track["lat"].to_numpy() + half_run_deg * np.cos(course)
    lon = track["lon"].to_numpy() + half_run_deg * np.sin(course) / np.cos(np.radians(lat))
    start: Times = track["time"].to_numpy().astype("datetime64[ns]")
    middle: Times = start + np.timedelta64(round(step_s * 5e8), "ns")
    return middle, lat, wrap_180(lon)


def _near_grid(lon: Floats, forecast: xr.Dataset) -> Floats:
    """Return longitudes turned by whole circles to lie nearest the grid's middle."""
    axis = forecast["lon"].to_numpy()
    middle = 0.5 * (axis[0] + axis[-1])
    return np.asarray(middle + wrap_180(lon - middle), dtype=np.float64)


def _outside_times(time: Times, forecast: xr.Dataset) -> Bools:
    """Return where times lie outside the forecast's own, before any extension."""
    own = own_times(forecast)
    return np.asarray((time < own[0]) | (time > own[-1]))


def _outside_grid(lat: Floats, lon: Floats, forecast: xr.Dataset) -> Bools:
    rows, columns = forecast["lat"].to_numpy(), forecast["lon"].to_numpy()
    near = _near_grid(lon, forecast)
    return np.asarray((lat < rows[0]) | (lat > rows[-1]) | (near < columns[0]) | (near > columns[-1]))


def _iso(moment: np.datetime64) -> str:
    return f"{moment.astype('datetime64[s]')}Z"


def _uncovered_fault(time: Times, late: Bools, astray: Bools, forecast: xr.Dataset) -> Fault:
    """Say how much of the passage the forecast misses, in time or in place, whichever is more."""
    source = str(forecast.attrs.get("source", "forecast"))
    if astray.mean() > late.mean():
        rows, columns = forecast["lat"].to_numpy(), forecast["lon"].to_numpy()
        return Fault(
            source,
            "",
            f"{astray.mean():.0%} of the passage lies outside the forecast's grid, which runs from {rows[0]:.2f} to "
            f"{rows[-1]:.2f} N and {columns[0]:.2f} to {columns[-1]:.2f} E; at most {MOST_UNCOVERED:.0%} may.",
            "Take a forecast of the waters of the route, or look for latitude and longitude swapped in the route.",
        )
    own = [_iso(edge) for edge in own_times(forecast)[[0, -1]]]
    return Fault(
        source,
        "",
        f"{late.mean():.0%} of the passage, {_iso(time[0])} to {_iso(time[-1])}, lies outside the forecast's times, "
        f"{own[0]} to {own[1]}; at most {MOST_UNCOVERED:.0%} may.",
        "Take a later or longer forecast, type the weather on in [[weather]], or check the departure's date.",
    )
