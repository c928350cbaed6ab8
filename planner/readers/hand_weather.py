"""Weather typed by hand laid out as the glossary's forecast, alone or with what a forecast file holds.

Each row holds from its time until the next one begins: a bulletin states the weather of a span, and drawn from row to
row it would hold for a moment alone. What is typed is the same everywhere and for every member.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Bools, Floats, Times
from planner.domain.errors import Fault, InputError
from planner.domain.glossary import BY_HAND, FORECAST, FORECAST_OPTIONAL, ON_GRID
from planner.domain.inputs.hand_weather import DEFAULT_AIR_TEMP_C, WeatherRow, end_of
from planner.domain.schema import to_dataset
from planner.domain.units import M_S_PER_KN
from planner.domain.utc import to_numpy
from planner.readers.forecast.join import brought_to

if TYPE_CHECKING:
    import xarray as xr


SPACING: Final = np.timedelta64(3, "h")  # of times within a row, so that the doubt of its light can move
CHANGE: Final = np.timedelta64(1, "s")  # from one row to the next, or from file to row
WIND: Final = ("wind_east_m_s", "wind_north_m_s")
DISPENSABLE: Final = frozenset({"air_temp_c", "cloud_cover", *WIND})
"""What a forecast file may lack where weather is typed by hand."""
ADD_WIND: Final = 'Add for example wind_from = "SE" and wind_kn = 15, as the bulletin says.'


@dataclass(frozen=True, eq=False)
class _Typed:
    """Rows in order, as columns.

    Attributes
    ----------
    begins : array of datetime64 (row,)
        UTC.
    ends : datetime64
        Of the last row, UTC.
    instead : array of bool (row,)
        Whether a row stands instead of the file.
    cover : array (row,)
        As an observer states it [0..1].
    columns : dict of str to array (row,)
        The quantities on the grid, in the glossary's units, with what stands in where a row gives none.
    given : dict of str to array of bool (row,)
        Whether the row itself gives it.
    """

    begins: Times
    ends: np.datetime64
    instead: Bools
    cover: Floats
    columns: dict[str, Floats]
    given: dict[str, Bools]

    def row_at(self, time: Times) -> npt.NDArray[np.int64]:
        """Return the row that holds at each time; the first one before all, the last one after."""
        return np.clip(np.searchsorted(self.begins, time, side="right") - 1, 0, None)


@dataclass(frozen=True, eq=False)
class _Reign:
    """Which times are whose.

    Attributes
    ----------
    time : array of datetime64 (time,)
        UTC.
    row : array of int (time,)
        The row that holds, or the nearest.
    covered : array of bool (time,)
        Where the rows say something.
    beyond, instead : array of bool (time,)
        Where no file reaches; where a row stands instead of it.
    cloud : array of bool (time,)
        Where the rows' cloud stands.
    """

    time: Times
    row: npt.NDArray[np.int64]
    covered: Bools
    beyond: Bools
    instead: Bools
    cloud: Bools


def forecast_by_hand(rows: Sequence[WeatherRow], *, where: str) -> xr.Dataset:
    """Return a forecast that is all typed by hand.

    Parameters
    ----------
    rows : sequence of WeatherRow
        In order, at least one.
    where : str
        Name of the file that they stand in.

    Returns
    -------
    xarray.Dataset
        The glossary's forecast and what it has by hand, without a cloud of its own, of one member on one cell round
        the globe. Attributes ``source`` and ``notes``.

    Raises
    ------
    InputError
        When a row has no wind.
    """
    faults = [
        Fault(where, f"weather.{index}.wind_kn", "the row has no wind, and no forecast file is named.", ADD_WIND)
        for index, row in enumerate(rows)
        if row.wind_kn is None
    ]
    if faults:
        raise InputError(faults)
    typed = _columns(rows)
    time = _times(typed, (typed.begins[0], typed.ends), None)
    everywhere, nowhere = np.ones(time.size, dtype=np.bool_), np.zeros(time.size, dtype=np.bool_)
    reign = _Reign(time, typed.row_at(time), everywhere, everywhere, nowhere, everywhere)
    coords = {"member": [0], "time": time, "lat": [-90.0, 90.0], "lon": [-180.0, 180.0]}
    result = _laid_out({}, np.zeros((1, time.size, 2, 2)), typed, reign, coords)
    return result.assign_attrs(source=f"{where}, [[weather]]", notes="\n".join(_notes_on_air(typed, lacking=True)))


def carried_by_hand(forecast: xr.Dataset, rows: Sequence[WeatherRow], *, where: str) -> xr.Dataset:
    """Return a file's forecast with what it lacks, and what lies before or after it, from rows typed by hand.

    What the file holds wins within its times, but for rows that stand instead of it. Where it holds neither cloud nor
    sunlight, or no wind, the result covers the times of the rows alone.

    Parameters
    ----------
    forecast : xarray.Dataset
        As ``read_forecast`` gives it, free to lack what is dispensable.
    rows, where
        As for ``forecast_by_hand``.

    Returns
    -------
    xarray.Dataset
        The glossary's forecast and what it has by hand, on the file's grid and for its members. Its waves and
        currents hold beyond it, and so does its air where no row gives one.

    Raises
    ------
    InputError
        When file and rows leave a gap between them, or a row has no wind that reaches beyond the file's.
    """
    typed = _columns(rows)
    own = forecast["time"].to_numpy().astype("datetime64[ns]")
    windless = not all(name in forecast for name in WIND)
    faults = _faults(rows, typed, own, where, windless=windless)
    if faults:
        raise InputError(faults)
    cloudless = "cloud_cover" not in forecast and "ghi_w_m2" not in forecast
    first, last = typed.begins[0], typed.ends
    rows_alone = cloudless or windless
    time = _times(typed, (first, last) if rows_alone else (min(own[0], first), max(own[-1], last)), own)
    row, covered = typed.row_at(time), (time >= first) & (time <= last)
    beyond = (time < own[0]) | (time > own[-1])
    instead = covered & ~beyond & typed.instead[row]
    reign = _Reign(time, row, covered, beyond, instead, beyond | instead | cloudless)
    lat, lon = (forecast[axis].to_numpy() for axis in ("lat", "lon"))
    on_grid = {str(name): field for name, field in forecast.items() if field.dims == ON_GRID}
    on_grid = {name: field for name, field in on_grid.items() if not windless or name not in WIND}
    filed = {name: brought_to(field.to_numpy(), (own, lat, lon), (time, lat, lon)) for name, field in on_grid.items()}
    coords = {str(name): axis for name, axis in forecast.coords.items()} | {"time": time}
    none = np.zeros((forecast.sizes["member"], time.size, lat.size, lon.size), dtype=np.float32)
    result = _laid_out(filed, none, typed, reign, coords)
    result = result.assign({name: field for name, field in forecast.items() if name not in {*on_grid, *WIND}})
    notes = [
        *str(forecast.attrs.get("notes", "")).splitlines(),
        *_notes_on_air(typed, lacking="air_temp_c" not in forecast),
        *_notes_on_reach(typed, reign, own, lacks="cloud" if cloudless else "wind" if windless else ""),
    ]
    return result.assign_attrs(forecast.attrs | {"notes": "\n".join(notes)})


def _columns(rows: Sequence[WeatherRow]) -> _Typed:
    toward = np.radians([np.nan if row.blows_from_deg is None else row.blows_from_deg + 180.0 for row in rows])
    speed = np.array([np.nan if row.wind_kn is None else row.wind_kn for row in rows]) * M_S_PER_KN
    air = np.array([np.nan if row.air_temp_c is None else row.air_temp_c for row in rows])
    rain = np.array([np.nan if row.rain_mm_h is None else row.rain_mm_h for row in rows])
    columns = {"wind_east_m_s": speed * np.sin(toward), "wind_north_m_s": speed * np.cos(toward)}
    columns |= {"air_temp_c": air, "rain_mm_h": rain}
    return _Typed(
        begins=np.array([to_numpy(row.begins) for row in rows]),
        ends=to_numpy(end_of(tuple(rows))),
        instead=np.array([row.instead for row in rows]),
        cover=np.array([row.cover for row in rows]),
        columns=columns | {"air_temp_c": _held(air), "rain_mm_h": np.nan_to_num(rain)},
        given={name: np.isfinite(column) for name, column in columns.items()},
    )


def _held(values: Floats) -> Floats:
    """Return values with each hole filled by what stands before it, at the beginning by what comes first."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == 0:
        return values
    before = np.searchsorted(known, np.arange(values.size), side="right") - 1
    return values[known[np.clip(before, 0, None)]]


def _times(typed: _Typed, reach: tuple[np.datetime64, np.datetime64], own: Times | None) -> Times:
    """Return the file's times, both sides of each change, and times between where only rows stand."""
    changes = [*typed.begins, typed.ends + CHANGE]
    spans = [reach]
    if own is not None:
        changes += [own[0], own[-1] + CHANGE]
        spans = [(reach[0], own[0]), (own[-1], reach[1])]
    fill = [np.arange(begin, end, SPACING) for begin, end in spans]
    sides = np.array(changes)
    every = np.concatenate([np.array(reach), sides, sides - CHANGE, *fill, *([] if own is None else [own])])
    time: Times = np.unique(every.astype("datetime64[ns]"))
    return time[(time >= reach[0]) & (time <= reach[1])]


def _laid_out(
    filed: dict[str, Any], none: npt.NDArray[Any], typed: _Typed, reign: _Reign, coords: dict[str, Any]
) -> xr.Dataset:
    """Return fields of a file, on the new times, overlaid with the rows where they stand."""
    fields = dict(filed)
    for name, column in typed.columns.items():
        values, own = column[reign.row], filed.get(name)
        if own is not None:
            stands = reign.beyond | (reign.instead & typed.given[name][reign.row])
            stands &= np.isfinite(values)
        elif name == "rain_mm_h":
            if not np.any(values > 0.0):
                continue  # no rain is what a forecast without rain says
            stands = reign.covered
        else:
            values, stands = np.where(np.isfinite(values), values, DEFAULT_AIR_TEMP_C), np.ones_like(reign.covered)
        over = values.astype(none.dtype)[None, :, None, None]
        fields[name] = np.where(stands[None, :, None, None], over, none if own is None else own)
    windy = reign.beyond | (reign.instead & typed.given["wind_east_m_s"][reign.row]) | (WIND[0] not in filed)
    by_hand = {"seen_cover": typed.cover[reign.row], "cloud_by_hand": reign.cloud, "wind_by_hand": windy}
    known = {name: quantity for name, quantity in (FORECAST | FORECAST_OPTIONAL).items() if name in fields} | BY_HAND
    arrays = fields | {name: np.asarray(values, dtype=np.float64) for name, values in by_hand.items()}
    return to_dataset(arrays, known, coords=coords, door="weather typed by hand")


def _faults(rows: Sequence[WeatherRow], typed: _Typed, own: Times, where: str, *, windless: bool) -> list[Fault]:
    """Return what keeps rows and file from being joined."""
    reach = f"{_iso(own[0])} to {_iso(own[-1])}"
    if typed.begins[0] > own[-1] or typed.ends < own[0]:
        said = f"{_iso(typed.begins[0])} to {_iso(typed.ends)}"
        problem = f"the rows reach from {said}, and the forecast file from {reach}: between them lies a gap."
        return [Fault(where, "weather", problem, "Let them meet or overlap; there the file wins.")]
    ends = [*typed.begins[1:], typed.ends]
    return [
        Fault(
            where,
            f"weather.{index}.wind_kn",
            "the row has no wind, nor has the forecast file."
            if windless
            else f"the row has no wind, and reaches beyond the forecast file, {reach}.",
            ADD_WIND if windless else f"{ADD_WIND} Or end it where the file ends.",
        )
        for index, row in enumerate(rows)
        if row.wind_kn is None and (windless or typed.begins[index] < own[0] or ends[index] > own[-1])
    ]


def _notes_on_air(typed: _Typed, *, lacking: bool) -> list[str]:
    if typed.given["air_temp_c"].any():
        return []
    if lacking:
        return [f"No air temperature is given: {DEFAULT_AIR_TEMP_C:g} C is taken."]
    return ["No row gives an air temperature: the file's last one is held."]


def _notes_on_reach(typed: _Typed, reign: _Reign, own: Times, *, lacks: str) -> list[str]:
    if lacks and (typed.ends < own[-1] or typed.begins[0] > own[0]):
        rest, to_type = ("wind", "sky") if lacks == "cloud" else ("sky", "wind")
        return [
            f"The file has no {lacks}, and the rows typed by hand reach from {_iso(typed.begins[0])} to "
            f"{_iso(typed.ends)}: its {rest} before and after is left unused. Type the {to_type} for all of it."
        ]
    if not lacks and not reign.beyond.any() and not reign.instead.any():
        return ["No row typed by hand is used: the file reaches over all of them, and none says instead = true."]
    return []


def _iso(moment: np.datetime64) -> str:
    return f"{moment.astype('datetime64[m]')}Z"
