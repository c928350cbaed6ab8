"""The sky over the track, and what stands in where the forecast does not reach.

Past either end of the forecast each member takes whole days, drawn from the days that all members cover at the same
place; outside its grid the nearest edge is held. Both are flagged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from planner.domain.errors import Fault, InputError
from planner.domain.glossary import SKY
from planner.domain.schema import to_dataset
from planner.simulation.clock import step_seconds

if TYPE_CHECKING:
    import xarray as xr

Floats = npt.NDArray[np.float64]
Times = npt.NDArray[np.datetime64]
Flags = npt.NDArray[np.bool_]

DAY = np.timedelta64(24, "h")
MOST_UNCOVERED = 0.5  # 1, part of a passage that may lie beyond the forecast; the project's own rule
LAYERS = ("cloud_low", "cloud_middle", "cloud_high")
NM_PER_DEGREE = 60.0  # nautical mile per degree of latitude, rounded; used over half a step's run only


def extend(
    forecast: xr.Dataset,
    start: datetime | np.datetime64,
    end: datetime | np.datetime64 | None = None,
    *,
    seed: int,
) -> xr.Dataset:
    """Return a forecast that covers [start, end], whole days being drawn for what lies outside its own times.

    Each added day is, member by member, one of the whole days that the forecast covers, of a member drawn from all,
    at the same time of day and place: the spread of the members then holds that between days, too.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    start, end : datetime or datetime64
        UTC where naive; without an end, as far past the forecast's end as it covers from the start: a passage that
        needs more is refused by ``sky_along``.
    seed : int
        Of the draws.

    Returns
    -------
    xarray.Dataset
        With attributes ``covered_from`` and ``covered_until``: the forecast's own times, ISO 8601, UTC.
    """
    own = forecast["time"].to_numpy().astype("datetime64[ns]")
    first, last = own[0], own[-1]
    begin = _utc(start)
    stop = _utc(end) if end is not None else last + max(last - begin, np.timedelta64(0, "ns"))
    attrs = {**forecast.attrs, "covered_from": _iso(first), "covered_until": _iso(last)}
    before, after = _days(first - begin), _days(stop - last)
    if not before and not after:
        return forecast.assign_attrs(attrs)
    rng = np.random.default_rng(seed)
    members = forecast.sizes["member"]
    # a day's own times: those of the first day move back, those of the last day move on
    first_day = own[(own < first + DAY) & ((own < last) | (own == first))]
    last_day = own[(own > last - DAY) & ((own > first) | (own == last))]
    days = [_draw(own, first_day, -n, members, rng) for n in range(before, 0, -1)]
    days += [_draw(own, last_day, n, members, rng) for n in range(1, after + 1)]
    return _with_days(forecast, days, before).assign_attrs(attrs)


@dataclass(frozen=True, eq=False)
class _Day:
    """One drawn day: when it is, and for each member whose state it takes and of when."""

    labels: Times
    donors: npt.NDArray[np.int64]
    sources: Times


def _days(gap: np.timedelta64) -> int:
    """Return how many whole days fill a gap; none when there is no gap."""
    return max(0, int(np.ceil(gap / DAY)))


def _draw(own: Times, like: Times, days_on: int, members: int, rng: np.random.Generator) -> _Day:
    """Draw a day that lies some days on from the first or last covered one (back, where negative)."""
    room = like[0] - own[0] if days_on > 0 else own[-1] - like[-1]
    donors = rng.integers(0, members, size=members)
    shifts = rng.integers(0, int(room / DAY) + 1, size=members) * -np.sign(days_on)
    return _Day(like + days_on * DAY, donors, like[None, :] + shifts[:, None] * DAY)


def _with_days(forecast: xr.Dataset, days: Sequence[_Day], before: int) -> xr.Dataset:
    """Return the forecast with drawn days, so many of them before it and the others after it."""
    import xarray as xr

    from planner.physics.sampling import cells

    own = forecast["time"].to_numpy().astype("datetime64[ns]")
    axis = (own - own[0]) / DAY
    pieces = [day.labels for day in days]
    time = np.concatenate([*pieces[:before], own, *pieces[before:]])
    starts = np.cumsum([0, *(len(piece) for piece in pieces)])[:-1] + np.where(
        np.arange(len(days)) < before, 0, own.size
    )
    offset = int(sum(len(piece) for piece in pieces[:before]))
    variables: dict[str, Any] = {}
    for name, variable in forecast.data_vars.items():
        field = variable.to_numpy()
        values = np.empty((field.shape[0], time.size, *field.shape[2:]))
        values[:, offset : offset + own.size] = field
        for day, begin in zip(days, starts, strict=True):
            for member, (donor, source) in enumerate(zip(day.donors, day.sources, strict=True)):
                index, part = cells(axis, (source - own[0]) / DAY)
                drawn = field[donor, index]
                if part.any():  # the file's step changes, so that the hour lies between two of its times
                    weight = part[:, None, None]
                    drawn = (1.0 - weight) * drawn + weight * field[donor, np.minimum(index + 1, own.size - 1)]
                values[member, begin : begin + source.size] = drawn
        variables[str(name)] = (variable.dims, values, variable.attrs)
    return xr.Dataset(
        variables, coords={**forecast.drop_vars("time").coords, "time": ("time", time, forecast["time"].attrs)}
    )


def coverage(time: Times, forecast: xr.Dataset) -> tuple[float, np.datetime64 | None]:
    """Return how much of a span of times the forecast itself covers, and where it first does not.

    Parameters
    ----------
    time : array of datetime64 (n,)
        UTC.
    forecast : xarray.Dataset
        As the glossary has it, extended or not.

    Returns
    -------
    fraction : float
        Of the times [0..1].
    first_uncovered : datetime64 or None
        UTC; None when all are covered.
    """
    missing = _outside_times(time, forecast)
    first = time[int(np.argmax(missing))] if missing.any() else None
    return 1.0 - float(missing.mean()), first


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
    from planner.physics.cloud import index_of_layers, index_of_total
    from planner.physics.decomposition import beam_and_diffuse
    from planner.physics.sampling import along

    time, lat, lon = middles(track)
    late = _outside_times(time, forecast)
    astray = _outside_grid(lat, lon, forecast)
    if float((late | astray).mean()) > MOST_UNCOVERED:
        raise InputError([_uncovered_fault(time, late, astray, forecast)])

    where = _cells(time, lat, lon, forecast)
    cover = np.clip(along(forecast["cloud_cover"].to_numpy(), *where), 0.0, 1.0)
    if all(name in forecast for name in LAYERS):
        index = index_of_layers(*(along(forecast[name].to_numpy(), *where) for name in LAYERS))
    else:
        index = index_of_total(cover)
    azimuth, elevation, clear, extra = clear_sky(time, lat, lon)
    ghi = clear * index
    dni, dhi = beam_and_diffuse(ghi, elevation, extra)
    sky = to_dataset(
        {
            "sun_azimuth_deg": azimuth,
            "sun_elevation_deg": elevation,
            "cloud_cover": cover,
            "ghi_w_m2": ghi,
            "dni_w_m2": dni,
            "dhi_w_m2": dhi,
            "air_temp_c": along(forecast["air_temp_c"].to_numpy(), *where),
            "rain_mm_h": along(forecast["rain_mm_h"].to_numpy(), *where)
            if "rain_mm_h" in forecast
            else np.zeros_like(cover),
            "beyond_forecast": (late | astray).astype(np.int8),
        },
        SKY,
        coords={"member": forecast["member"].to_numpy(), "time": track["time"]},
        door="sky",
    )
    sky.attrs["step_s"] = track.attrs["step_s"]
    return sky


def sky_warnings(sky: xr.Dataset) -> list[str]:
    """Return a warning of a sky that is drawn, for some of the track, for want of a forecast.

    Parameters
    ----------
    sky : xarray.Dataset
        With ``beyond_forecast``.
    """
    beyond = float(sky["beyond_forecast"].to_numpy().mean())
    if not beyond:
        return []
    return [
        f"{beyond:.0%} of the passage lies beyond the forecast: its weather is drawn from the forecast's own days. "
        "Plan again with a fresh forecast under way."
    ]


def clear_sky(time: Times, lat: Floats, lon: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the sun's azimuth and elevation, clear-sky global and extraterrestrial normal irradiance.

    Parameters
    ----------
    time : array of datetime64 (n,)
        UTC.
    lat, lon : array (n,)
        North and east, lon in [-180, 180) [degree].

    Returns
    -------
    azimuth_deg, elevation_deg, ghi_w_m2, extraterrestrial_w_m2 : array (n,)
        Clockwise from north and apparent [degree], at sea level [W/m2].
    """
    from planner.physics.clearsky import clear_sky_ghi, turbidity_on_day
    from planner.physics.sun import day_of_year, extraterrestrial, sun_position
    from planner.simulation.turbidity import monthly_turbidity

    azimuth, elevation = sun_position(time, lat, lon)
    days = day_of_year(time)
    turbidity = turbidity_on_day(monthly_turbidity(lat, lon), days, _leap(time))
    extra = extraterrestrial(days)
    return azimuth, elevation, clear_sky_ghi(elevation, turbidity, extra), extra


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
    from planner.physics.frames import wrap_180

    step_s = step_seconds(track)
    half_run_deg = track["speed_over_ground_kn"].to_numpy() * step_s / 7200.0 / NM_PER_DEGREE
    course = np.radians(track["course_deg"].to_numpy())
    lat = track["lat"].to_numpy() + half_run_deg * np.cos(course)
    lon = track["lon"].to_numpy() + half_run_deg * np.sin(course) / np.cos(np.radians(lat))
    start: Times = track["time"].to_numpy().astype("datetime64[ns]")
    middle: Times = start + np.timedelta64(round(step_s * 5e8), "ns")
    return middle, lat, wrap_180(lon)


def _cells(time: Times, lat: Floats, lon: Floats, forecast: xr.Dataset) -> tuple[Any, Any, Any]:
    """Return the cells of times and places on the forecast's axes; time in seconds from its first."""
    from planner.physics.sampling import cells

    own = forecast["time"].to_numpy().astype("datetime64[ns]")
    second = np.timedelta64(1, "s")
    return (
        cells((own - own[0]) / second, (time - own[0]) / second),
        cells(forecast["lat"].to_numpy(), lat),
        cells(forecast["lon"].to_numpy(), _near_grid(lon, forecast)),
    )


def _near_grid(lon: Floats, forecast: xr.Dataset) -> Floats:
    """Return longitudes turned by whole circles to lie nearest the grid's middle."""
    from planner.physics.frames import wrap_180

    axis = forecast["lon"].to_numpy()
    middle = 0.5 * (axis[0] + axis[-1])
    return np.asarray(middle + wrap_180(lon - middle), dtype=np.float64)


def _own_times(forecast: xr.Dataset) -> tuple[np.datetime64, np.datetime64]:
    """Return the first and last time of the forecast itself, before any extension."""
    if "covered_until" in forecast.attrs:
        first, last = (str(forecast.attrs[name]).removesuffix("Z") for name in ("covered_from", "covered_until"))
        return np.datetime64(first, "ns"), np.datetime64(last, "ns")
    time = forecast["time"].to_numpy().astype("datetime64[ns]")
    return time[0], time[-1]


def _outside_times(time: Times, forecast: xr.Dataset) -> Flags:
    """Return where times lie outside the forecast's own, before any extension."""
    first, last = _own_times(forecast)
    return np.asarray((time < first) | (time > last))


def _outside_grid(lat: Floats, lon: Floats, forecast: xr.Dataset) -> Flags:
    rows, columns = forecast["lat"].to_numpy(), forecast["lon"].to_numpy()
    near = _near_grid(lon, forecast)
    return np.asarray((lat < rows[0]) | (lat > rows[-1]) | (near < columns[0]) | (near > columns[-1]))


def _leap(time: Times) -> Flags:
    years = time.astype("datetime64[Y]").astype(np.int64) + 1970
    return np.asarray((years % 4 == 0) & ((years % 100 != 0) | (years % 400 == 0)))


def _iso(moment: np.datetime64) -> str:
    return f"{moment.astype('datetime64[s]')}Z"


def _utc(moment: datetime | np.datetime64) -> np.datetime64:
    if isinstance(moment, datetime):
        naive = moment if moment.tzinfo is None else moment.astimezone(UTC).replace(tzinfo=None)
        return np.datetime64(naive, "ns")
    exact: np.datetime64 = moment.astype("datetime64[ns]")
    return exact


def _uncovered_fault(time: Times, late: Flags, astray: Flags, forecast: xr.Dataset) -> Fault:
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
    own = [_iso(edge) for edge in _own_times(forecast)]
    return Fault(
        source,
        "",
        f"{late.mean():.0%} of the passage, {_iso(time[0])} to {_iso(time[-1])}, lies outside the forecast's times, "
        f"{own[0]} to {own[1]}; at most {MOST_UNCOVERED:.0%} may.",
        "Take a later or longer forecast, or check the departure's date.",
    )
