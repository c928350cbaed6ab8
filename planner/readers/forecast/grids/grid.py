"""The axes of a forecast file, whatever their order and names, and the part of them that a route needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints, Times
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.terms import plain

if TYPE_CHECKING:
    import xarray as xr

Corridor = tuple[float, float, float, float]
Span = tuple[np.datetime64, np.datetime64]

CIRCLE_DEG = 360.0
POLE_DEG = 90.0
LAT_NAMES = frozenset({"lat", "latitude", "ylat", "navlat"})
LON_NAMES = frozenset({"lon", "longitude", "xlon", "navlon", "long"})
_TIME_NAMES = frozenset({"validtime", "time", "t", "forecasttime"})
_MEMBER_NAMES = frozenset({"member", "number", "realization", "ensemble", "ens", "ensemblemember", "perturbation"})
_STEP_NAMES = frozenset({"step", "leadtime", "forecastperiod", "prediction_timedelta", "predictiontimedelta"})


@dataclass(frozen=True, eq=False)
class Axes:
    """The axes of one dataset.

    Attributes
    ----------
    lat_dim, lon_dim : str
        Dimensions along which latitude and longitude run.
    time_dim, member_dim : str or None
        None where the file holds one time, or no members.
    lat, lon : array
        As the file has them [degree].
    time : array of datetime64
        Valid times, UTC, as the file has them.
    member : array of float
        Members' numbers as the file has them; one, NaN, when the file does not say.
    """

    lat_dim: str
    lon_dim: str
    time_dim: str | None
    member_dim: str | None
    lat: Floats
    lon: Floats
    time: Times
    member: Floats


@dataclass(frozen=True, eq=False)
class Cut:
    """Which nodes of each axis to read, and the coordinates that they get.

    Attributes
    ----------
    time_index, lat_index, lon_index : array of int
        Into the file's axes, in rising order of the coordinate.
    time : array of datetime64
        UTC, rising.
    lat, lon : array
        Rising; lon continuous, in the corridor's own circle [degree].
    repairs : tuple of str
        What was put right of axes that no sound file has.
    """

    time_index: Ints
    lat_index: Ints
    lon_index: Ints
    time: Times
    lat: Floats
    lon: Floats
    repairs: tuple[str, ...] = ()


def find_axes(part: xr.Dataset, where: str) -> Axes:
    """Return the axes of a dataset.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    where : str
        File name, for messages.

    Raises
    ------
    InputError
        When latitude, longitude or time is missing, or is no plain axis.
    """
    lat, lon = coordinate(part, "latitude", LAT_NAMES), coordinate(part, "longitude", LON_NAMES)
    missing = [words for words, found in (("latitude", lat), ("longitude", lon)) if found is None]
    if lat is None or lon is None:
        held = ", ".join(map(str, part.variables)) or "none"
        remedy = f"It has the coordinates {held}; write coordinates with standard_name latitude and longitude."
        raise InputError([Fault(where, "", f"it has no {' and no '.join(missing)} axis.", remedy)])
    if lat.ndim == 1 and lat.dims == lon.dims:
        problem = (
            f"its {lat.size} places run along one dimension, {lat.dims[0]}: a list of stations or a track, no grid."
        )
        remedy = "Nothing tells the weather between them; take the provider's fields on a grid."
        raise InputError([Fault(where, str(lat.name), problem, remedy)])
    if lat.ndim > 1 or lon.ndim > 1:
        problem = "latitudes and longitudes do not run along the same dimensions."
        raise InputError([Fault(where, str(lat.name), problem, "Ask the provider for a regular grid.")])
    time_dim, time = _times(part, where)
    member_dim, member = _members(part)
    return Axes(
        lat_dim=str(lat.dims[0]) if lat.ndim else str(lat.name),
        lon_dim=str(lon.dims[0]) if lon.ndim else str(lon.name),
        time_dim=time_dim,
        member_dim=member_dim,
        lat=np.atleast_1d(lat.to_numpy().astype(np.float64)),
        lon=np.atleast_1d(lon.to_numpy().astype(np.float64)),
        time=time,
        member=member,
    )


def cut(axes: Axes, where: str, *, corridor: Corridor | None, span: Span | None) -> Cut:
    """Return the nodes that cover a corridor and a span with one more on each side.

    Parameters
    ----------
    axes : Axes
    where : str
        File name, for messages.
    corridor : (lat_min, lat_max, lon_west, lon_east) or None
        lon_east above lon_west, and may exceed 180 [degree]; None for the whole grid.
    span : (start, end) or None
        UTC; None for all times.

    Raises
    ------
    InputError
        When the file lies wholly outside the corridor or the span.
    """
    for name, values in (("latitude", axes.lat), ("longitude", axes.lon)):
        if not np.isfinite(values).all():
            raise InputError(
                [Fault(where, name, "the axis has missing values.", "The file is damaged; fetch it anew.")]
            )
    if np.abs(axes.lat).max() > POLE_DEG + 0.01:
        problem = f"latitudes from {axes.lat.min():g} to {axes.lat.max():g} are not on Earth."
        raise InputError([Fault(where, "latitude", problem, "The axes are probably exchanged, or not in degrees.")])
    lat_order = np.argsort(axes.lat, kind="stable")
    lat_order = lat_order[np.concatenate([[True], np.diff(axes.lat[lat_order]) > 0.0])]
    lat = axes.lat[lat_order]
    rising, lon_order = _continuous(axes.lon)
    time_order = np.argsort(axes.time, kind="stable")
    time = axes.time[time_order]
    last_of_equal = np.concatenate([np.diff(time) > np.timedelta64(0, "ns"), [True]])
    time_order, time = time_order[last_of_equal], time[last_of_equal]

    if corridor is None:
        west, east = float(rising[0]), float(rising[-1])
        lat_keep = np.arange(lat.size)
        lon_index, lon = _wrapped(rising, lon_order, west, east)
    else:
        _refuse_elsewhere(lat, rising, corridor, where)
        south, north, west, east = corridor
        lat_keep = _around(lat, south, north)
        lon_index, lon = _wrapped(rising, lon_order, west, east)
    time_keep = np.arange(time.size) if span is None else _within(time, span, where)
    return Cut(
        time_index=time_order[time_keep],
        lat_index=lat_order[lat_keep],
        lon_index=lon_index,
        time=time[time_keep],
        lat=lat[lat_keep],
        lon=lon,
        repairs=_repairs(axes, last_of_equal),
    )


def times_within(part: xr.Dataset, where: str, span: Span) -> tuple[str | None, Ints]:
    """Return the dimension of time and the places on it that cover a span, with one more on each side.

    Parameters
    ----------
    part : xarray.Dataset
        On whatever grid.
    where : str
        File name, for messages.
    span : (start, end)
        UTC.

    Raises
    ------
    InputError
        When no axis holds times, or all lie outside the span.
    """
    dim, time = _times(part, where)
    order = np.argsort(time, kind="stable")
    return dim, order[_within(time[order], span, where)]


def _within(time: Times, span: Span, where: str) -> Ints:
    """Return the places of rising times that cover a span, with one more on each side."""
    _refuse_other_times(time, span, where)
    return _around(time.astype(np.int64), *(int(x.astype("datetime64[ns]").astype(np.int64)) for x in span))


def _repairs(axes: Axes, last_of_equal: npt.NDArray[np.bool_]) -> tuple[str, ...]:
    """Return what had to be put right of the axes; falling latitudes are as good as rising ones."""
    repairs = []
    if np.any(np.diff(axes.time) < np.timedelta64(0, "ns")):
        repairs.append("its times do not rise; they are put in order.")
    if not last_of_equal.all():
        repairs.append(f"{np.count_nonzero(~last_of_equal)} times are given twice; the last of each is used.")
    for words, axis in (("latitudes", np.diff(axes.lat)), ("longitudes", np.diff(axes.lon) % CIRCLE_DEG)):
        backward = axis > 0.5 * CIRCLE_DEG if words == "longitudes" else axis < 0.0
        if backward.any() and not backward.all():
            repairs.append(f"its {words} neither rise nor fall throughout; they are put in order.")
        elif backward.any() and words == "longitudes":
            repairs.append("its longitudes run westward; they are turned round.")
    return tuple(repairs)


def coordinate(part: xr.Dataset, standard_name: str, names: frozenset[str]) -> xr.DataArray | None:
    """Return the coordinate of a standard name, else of a usual name.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    standard_name : str
        Of CF.
    names : frozenset of str
        Usual ones, in lower case without punctuation.
    """
    for name, variable in part.variables.items():
        if variable.attrs.get("standard_name") == standard_name:
            return part[name]
    return next((part[name] for name in part.variables if plain(str(name)) in names), None)


def _times(part: xr.Dataset, where: str) -> tuple[str | None, Times]:
    """Return the time dimension and the valid times."""
    dated = {plain(str(n)): v for n, v in part.variables.items() if np.issubdtype(v.dtype, np.datetime64)}
    steps = [v for n, v in part.variables.items() if plain(str(n)) in _STEP_NAMES and v.dtype.kind == "m"]
    chosen = next((dated[name] for name in ("validtime", "time", "t", "forecasttime") if name in dated), None)
    if chosen is None:
        chosen = next((v for v in dated.values() if v.attrs.get("standard_name") == "time"), None)
    if chosen is None:
        names = ", ".join(str(name) for name in part.variables if plain(str(name)) in _TIME_NAMES)
        raise InputError(
            [
                Fault(
                    where,
                    names,
                    "no axis holds times that can be understood.",
                    "Give the time axis units such as 'hours since 2027-05-08 12:00:00'.",
                )
            ]
        )
    if chosen is not dated.get("validtime") and chosen.ndim == 0 and steps and steps[0].ndim == 1:
        values = chosen.to_numpy() + steps[0].to_numpy()
        return str(steps[0].dims[0]), np.asarray(values, dtype="datetime64[ns]")
    if chosen.ndim > 1:
        raise InputError(
            [
                Fault(
                    where,
                    "time",
                    f"the times run along two dimensions ({', '.join(map(str, chosen.dims))}): several forecasts in "
                    "one file.",
                    "Take one forecast's times into a file of its own.",
                )
            ]
        )
    values = np.atleast_1d(chosen.to_numpy()).astype("datetime64[ns]")
    if np.isnat(values).any():
        raise InputError([Fault(where, "time", "some times are missing.", "The file is damaged; fetch it anew.")])
    return (str(chosen.dims[0]) if chosen.ndim else None), values


def _members(part: xr.Dataset) -> tuple[str | None, Floats]:
    """Return the member dimension and the members' numbers."""
    for dim in part.sizes:
        known = part.variables.get(dim)
        named = known is not None and known.attrs.get("standard_name") == "realization"
        if named or plain(str(dim)) in _MEMBER_NAMES:
            counted = np.arange(part.sizes[dim], dtype=np.float64)
            numeric = known is not None and known.dtype.kind in "iuf"
            return str(dim), known.to_numpy().astype(np.float64) if numeric and known is not None else counted
    scalar = next((v for n, v in part.variables.items() if plain(str(n)) in _MEMBER_NAMES and v.ndim == 0), None)
    return None, np.array([float(scalar.to_numpy()) if scalar is not None else np.nan])


def _continuous(lon: Floats) -> tuple[Floats, Ints]:
    """Return longitudes made rising and continuous, and the order that does it; a node met twice is left out."""
    order = np.arange(lon.size)
    if lon.size > 1 and np.median(np.diff(lon)) < 0.0:
        order = order[::-1]
    rising = lon[order[0]] + np.concatenate([[0.0], np.cumsum(np.diff(lon[order]) % CIRCLE_DEG)])
    if lon.size > 1 and not _is_axis(rising):
        order = np.argsort(lon, kind="stable")
        rising = lon[order]
    keep = (rising - rising[0]) < CIRCLE_DEG - 1e-6
    keep[1:] &= np.diff(rising) > 0.0
    return rising[keep], order[keep]


def _is_axis(rising: Floats) -> bool:
    """Tell whether longitudes unrolled eastward go round at most once."""
    return bool(rising[-1] - rising[0] < CIRCLE_DEG + 1e-6)


def _goes_round(lon: Floats) -> bool:
    """Tell whether a rising axis covers the whole circle."""
    return lon.size > 2 and bool(lon[-1] - lon[0] + 1.5 * np.max(np.diff(lon)) >= CIRCLE_DEG)


def _wrapped(lon: Floats, order: Ints, west: float, east: float) -> tuple[Ints, Floats]:
    """Return the nodes around [west, east], taken from the circle as often as needed, in the corridor's circle."""
    if _goes_round(lon):
        turns = range(int(np.floor((west - lon[0]) / CIRCLE_DEG)) - 1, int((east - lon[0]) // CIRCLE_DEG) + 2)
        tiled = np.concatenate([lon + CIRCLE_DEG * turn for turn in turns])
        tiled_order = np.tile(order, len(turns))
        keep = _around(tiled, west, east)
        return tiled_order[keep], tiled[keep]
    shifted = lon + CIRCLE_DEG * _nearest_turn(lon, west, east)
    keep = _around(shifted, west, east)
    return order[keep], shifted[keep]


def _nearest_turn(lon: Floats, west: float, east: float) -> float:
    """Return the whole turns that bring an axis nearest a corridor."""
    return float(np.round((0.5 * (west + east) - 0.5 * (lon[0] + lon[-1])) / CIRCLE_DEG))


def _around(axis: npt.NDArray[np.generic], low: float, high: float) -> Ints:
    """Return the nodes from one cell below the cell that holds ``low`` to one above that of ``high``."""
    first = int(np.searchsorted(axis, low, side="right")) - 2
    last = int(np.searchsorted(axis, high, side="left")) + 1
    return np.arange(max(first, 0), min(last, axis.size - 1) + 1)


def _refuse_elsewhere(lat: Floats, lon: Floats, corridor: Corridor, where: str) -> None:
    """Refuse a grid that does not touch the corridor; look whether swapped axes would."""
    south, north, west, east = corridor
    if _touches(lat, lon, corridor):
        return
    swapped = (west, east, south, north)
    remedy = (
        "Swapped latitude and longitude in the route would explain it."
        if _touches(lat, lon, swapped) and -90.0 <= west <= 90.0
        else "Take a forecast of the route's waters, or check the signs of the route's latitudes and longitudes."
    )
    raise InputError(
        [
            Fault(
                where,
                "",
                f"the forecast covers {lat[0]:.2f} to {lat[-1]:.2f} N and {lon[0]:.2f} to {lon[-1]:.2f} E; the route "
                f"needs {south:.2f} to {north:.2f} N and {west:.2f} to {east:.2f} E.",
                remedy,
            )
        ]
    )


def _touches(lat: Floats, lon: Floats, corridor: Corridor) -> bool:
    south, north, west, east = corridor
    near = lon + CIRCLE_DEG * _nearest_turn(lon, west, east)
    along = _goes_round(lon) or bool(near[-1] >= west and near[0] <= east)
    return bool(lat[-1] >= south and lat[0] <= north) and along


def _refuse_other_times(time: Times, span: Span, where: str) -> None:
    if time[-1] >= span[0] and time[0] <= span[1]:
        return
    raise InputError(
        [
            Fault(
                where,
                "time",
                f"the forecast runs from {_minute(time[0])} to {_minute(time[-1])} UTC; the passage begins at "
                f"{_minute(span[0])} UTC.",
                "Take a forecast for the passage's days, or correct the departure.",
            )
        ]
    )


def _minute(moment: np.datetime64) -> str:
    return str(moment.astype("datetime64[m]")).replace("T", " ")
