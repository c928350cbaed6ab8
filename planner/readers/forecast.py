"""Read forecast files of any provider into the glossary's forecast: names, units, axes and members made plain.

What a variable is follows from its CF standard name, else from the usual short names; what is ambiguous is refused
with the candidates listed. Only the route's corridor and the passage's span are read from disk.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.schema import to_dataset
from planner.readers.forecast_beside import BESIDE, CURRENTS, brought_to
from planner.readers.forecast_fields import Field, Values, read_fields
from planner.readers.forecast_file import open_parts
from planner.readers.forecast_grid import Corridor, Floats, Span, Times
from planner.readers.forecast_terms import TERMS

if TYPE_CHECKING:
    import xarray as xr

_CONTROL = re.compile(r"(^|[_.\-])(c00|ctl|control|cf)([_.\-]|$)", re.IGNORECASE)
_NO_MEMBER = re.compile(r"(^|[_.\-])(avg|mean|spr|spread|std|stddev)([_.\-]|$)", re.IGNORECASE)
_LAYERS = ("cloud_low", "cloud_middle", "cloud_high")


@dataclass(frozen=True, eq=False)
class _Whole:
    """One quantity of every file put together: values (member, time, lat, lon) and their axes."""

    values: Values
    time: Times
    lat: Floats
    lon: Floats


def read_forecast(paths: Sequence[Path], *, corridor: Corridor | None, span: Span | None) -> xr.Dataset:
    """Return the forecast of one or several files.

    Parameters
    ----------
    paths : sequence of Path
        NetCDF or GRIB files: different quantities, times or members of one forecast.
    corridor : (lat_min, lat_max, lon_west, lon_east) or None
        Box to read, with a cell of margin; lon_east above lon_west, and may exceed 180 [degree]; None for all.
    span : (start, end) of datetime64 or None
        UTC; None for all times.

    Returns
    -------
    xarray.Dataset
        The glossary's forecast, with cloud layers where all three are given and the current where both parts are;
        member 0 the control, lon rising and continuous. Attributes ``source`` (file names), ``issued`` (ISO 8601,
        where known) and ``notes`` (repairs and readings of what the file leaves open, one a line).

    Raises
    ------
    InputError
        With every fault found.
    """
    fields, faults = _read_all(paths, corridor, span)
    if faults:
        raise InputError(faults)
    names = ", ".join(path.name for path in paths)
    notes = list(dict.fromkeys(note for field in fields for note in field.notes))
    whole = {
        quantity: _put_together([f for f in fields if f.quantity == quantity], names)
        for quantity in dict.fromkeys(field.quantity for field in fields)
    }
    beside = {name: whole.pop(name) for name in BESIDE if name in whole}
    if not beside.keys() >= set(CURRENTS):  # half a current is none
        beside = {name: part for name, part in beside.items() if name not in CURRENTS}
    whole = _one_grid(whole, names)
    values = {quantity: part.values for quantity, part in whole.items()}
    _derive(values, notes)
    _refuse_missing(values, fields, names)
    kept = {name: values[name] for name in FORECAST}
    if all(name in values for name in _LAYERS):
        kept |= {name: values[name] for name in _LAYERS}
    first = next(iter(whole.values()))
    axes, members = (first.time, first.lat, first.lon), kept["cloud_cover"].shape[0]
    kept |= {
        name: brought_to(part.values, (part.time, part.lat, part.lon), axes, members=members)
        for name, part in beside.items()
    }
    dataset = to_dataset(
        kept,
        {name: quantity for name, quantity in (FORECAST | FORECAST_OPTIONAL).items() if name in kept},
        coords=_coordinates(first, kept["cloud_cover"].shape[0]),
        door="forecast",
    )
    issued = [field.issued for field in fields if field.issued is not None]
    dataset.attrs = {"source": names, "notes": "\n".join(notes)}
    if issued:
        dataset.attrs["issued"] = f"{max(issued).astype('datetime64[s]')}Z"
    return dataset


def _read_all(paths: Sequence[Path], corridor: Corridor | None, span: Span | None) -> tuple[list[Field], list[Fault]]:
    """Read every file, control first, and gather the faults of all."""
    fields: list[Field] = []
    faults: list[Fault] = []
    if not paths:
        faults.append(Fault("forecast", "", "no forecast file is named."))
    for path in sorted(paths, key=lambda path: not _CONTROL.search(path.stem)):
        if len(paths) > 1 and _NO_MEMBER.search(path.stem):
            mend = "Leave it out: a mean or spread over the members is not one of them."
            faults.append(Fault(path.name, "", "by its name it holds a mean or a spread.", mend))
            continue
        try:
            parts = open_parts(path)
            try:
                fields += read_fields(parts, path.name, corridor=corridor, span=span)
            finally:
                for part in parts:
                    part.close()
        except InputError as error:
            faults += error.faults
    return fields, faults


def _put_together(fields: Sequence[Field], where: str) -> _Whole:
    """Join one quantity's pieces: those of equal times are members, the others follow in time."""
    groups: dict[bytes, list[Field]] = {}
    for field in fields:
        groups.setdefault(field.time.tobytes(), []).append(field)
    _refuse_other_axes(fields, where)
    joined: list[tuple[Times, Values]] = []
    for group in groups.values():
        numbers = np.concatenate([field.member for field in group])
        values = group[0].values if len(group) == 1 else np.concatenate([field.values for field in group], axis=0)
        if np.isfinite(numbers).all() and np.any(np.diff(numbers) < 0.0):
            values = values[np.argsort(numbers, kind="stable")]
        joined.append((group[0].time, values))
    if len({values.shape[0] for _, values in joined}) > 1:
        counts = ", ".join(str(values.shape[0]) for _, values in joined)
        raise InputError(
            [
                Fault(
                    where,
                    fields[0].name,
                    f"the files hold different numbers of members for different times ({counts}), or members of "
                    "unequal length.",
                    "Give every member with the same times.",
                )
            ]
        )
    if len(joined) == 1 and np.all(np.diff(joined[0][0]) > np.timedelta64(0, "ns")):
        return _Whole(joined[0][1], joined[0][0], fields[0].lat, fields[0].lon)
    time = np.concatenate([times for times, _ in joined])
    values = np.concatenate([values for _, values in joined], axis=1)
    order = np.argsort(time, kind="stable")  # where times meet twice, the file named later wins
    last = np.concatenate([np.diff(time[order]) > np.timedelta64(0, "ns"), [True]])
    order = order[last]
    return _Whole(values[:, order], time[order], fields[0].lat, fields[0].lon)


def _refuse_other_axes(fields: Sequence[Field], where: str) -> None:
    for field in fields[1:]:
        if not (np.array_equal(field.lat, fields[0].lat) and np.array_equal(field.lon, fields[0].lon)):
            raise InputError(
                [
                    Fault(
                        where,
                        field.name,
                        f"the grids differ: {field.lat.size} x {field.lon.size} points and "
                        f"{fields[0].lat.size} x {fields[0].lon.size}.",
                        "Give every file on the same grid.",
                    )
                ]
            )


def _one_grid(whole: dict[str, _Whole], where: str) -> dict[str, _Whole]:
    """Bring every quantity to the common times and number of members; refuse different grids."""
    parts = list(whole.values())
    if not parts:
        return whole
    for name, part in whole.items():
        if not (np.array_equal(part.lat, parts[0].lat) and np.array_equal(part.lon, parts[0].lon)):
            mend = "Give every quantity on the same grid."
            raise InputError([Fault(where, name, f"{TERMS[name].words} is on another grid than the rest.", mend)])
    time = parts[0].time
    for part in parts[1:]:
        time = np.intersect1d(time, part.time)
    members = max(part.values.shape[0] for part in parts)
    if not time.size:
        mend = "Give every quantity at the same times."
        raise InputError([Fault(where, "time", "the quantities have no time in common.", mend)])
    result = {}
    for name, part in whole.items():
        values = part.values if part.time.size == time.size else part.values[:, np.isin(part.time, time)]
        if values.shape[0] not in {1, members}:
            problem = f"{TERMS[name].words} has {values.shape[0]} members, the rest {members}."
            raise InputError([Fault(where, name, problem, "Give every quantity with the same members.")])
        everyone = values if values.shape[0] == members else np.repeat(values, members, axis=0)
        result[name] = _Whole(everyone, time, part.lat, part.lon)
    return result


def _derive(values: dict[str, Values], notes: list[str]) -> None:
    """Make wind components of speed and direction, and total cover of layers, where the files lack them."""
    if "wind_east_m_s" not in values and {"wind_speed", "wind_from"} <= set(values):
        speed, source = values["wind_speed"], np.radians(values["wind_from"])
        values["wind_east_m_s"], values["wind_north_m_s"] = -speed * np.sin(source), -speed * np.cos(source)
        notes.append("Wind components are made of speed and the direction it blows from.")
    if "cloud_cover" not in values and all(name in values for name in _LAYERS):
        clear = np.prod([1.0 - values[name] for name in _LAYERS], axis=0)
        values["cloud_cover"] = 1.0 - clear
        notes.append("Total cloud cover is made of the three layers, overlapping at random.")


def _refuse_missing(values: dict[str, Values], fields: Sequence[Field], where: str) -> None:
    faults = []
    held = "; ".join(dict.fromkeys(f"{field.name} ({TERMS[field.quantity].words})" for field in fields))
    for name in FORECAST:
        if name in values:
            continue
        term = TERMS[name]
        mend = f"Understood so far: {held or 'nothing'}. Wanted: standard_name {term.standard_names[0]}, or "
        mend += f"a name such as {', '.join(term.short_names[:3])}."
        if name.startswith("wind_") and "wind_speed" in values:
            mend = (
                "It holds the wind's speed but not its direction; ask for both, or for eastward and northward wind."
            )
        faults.append(Fault(where, "", f"it holds no {term.words}.", mend))
    if faults:
        raise InputError(faults)


def _coordinates(part: _Whole, members: int) -> dict[str, Any]:
    return {
        "member": ("member", np.arange(members), {"standard_name": "realization", "units": "1"}),
        "time": ("time", part.time, {"standard_name": "time"}),
        "lat": ("lat", part.lat, {"standard_name": "latitude", "units": "degrees_north"}),
        "lon": ("lon", part.lon, {"standard_name": "longitude", "units": "degrees_east"}),
    }
