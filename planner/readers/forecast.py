"""Read forecast files of any provider into the glossary's forecast: names, units, axes and members made plain.

What a variable is follows from its CF standard name, else from the usual short names; what is ambiguous is refused
with the candidates listed. Only the route's corridor and the passage's span are read from disk.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.schema import to_dataset
from planner.readers.forecast_fields import Field, read_fields
from planner.readers.forecast_file import open_parts
from planner.readers.forecast_grid import Corridor, Span
from planner.readers.forecast_join import Whole, on_common_axes, put_together
from planner.readers.forecast_terms import TERMS

if TYPE_CHECKING:
    import xarray as xr

_CONTROL = re.compile(r"(^|[_.\-])(c00|ctl|control|cf)([_.\-]|$)", re.IGNORECASE)
_NO_MEMBER = re.compile(r"(^|[_.\-])(avg|mean|spr|spread|std|stddev)([_.\-]|$)", re.IGNORECASE)
_LAYERS = ("cloud_low", "cloud_middle", "cloud_high")
_LIGHT = ("ghi_w_m2", "direct_w_m2")
_KNOWN = frozenset({*FORECAST, *FORECAST_OPTIONAL})
_CURRENTS = ("current_east_m_s", "current_north_m_s")


def read_forecast(
    paths: Sequence[Path], *, corridor: Corridor | None, span: Span | None, free_to_lack: Collection[str] = ()
) -> xr.Dataset:
    """Return the forecast of one or several files.

    Parameters
    ----------
    paths : sequence of Path
        NetCDF or GRIB files: different quantities, times, cycles or members of one forecast.
    corridor : (lat_min, lat_max, lon_west, lon_east) or None
        Box to read, with a cell of margin; lon_east above lon_west, and may exceed 180 [degree]; None for all.
    span : (start, end) of datetime64 or None
        UTC; None for all times.
    free_to_lack : collection of str
        Quantities that are known from elsewhere where the files lack them.

    Returns
    -------
    xarray.Dataset
        The glossary's forecast, with whatever of its optional quantities the files hold: cloud layers where all three
        are there, the current where both parts are. Member 0 is the control, lon rising and continuous. Attributes
        ``source`` (file names), ``issued`` (ISO 8601, where known) and ``notes`` (repairs and readings of what the
        file leaves open, one a line).

    Raises
    ------
    InputError
        With every fault found.
    """
    fields, faults, aside = read_files(paths, corridor=corridor, span=span)
    if faults:
        raise InputError(faults)
    names = ", ".join(path.name for path in paths)
    notes = [note for field in fields for note in field.notes]
    notes += [f"Left unused: {fault}" for fault in aside]
    held = "; ".join(dict.fromkeys(f"{field.name} ({TERMS[field.quantity].words})" for field in fields))
    issued = [field.issued for field in fields if field.issued is not None]
    whole: dict[str, Whole] = {}
    for quantity in dict.fromkeys(field.quantity for field in fields):
        whole[quantity] = put_together([field for field in fields if field.quantity == quantity], names)
        fields = [field for field in fields if field.quantity != quantity]  # what was joined need not be kept twice
    _derive(whole, notes)
    missing = _missing(whole, held, names, free_to_lack)
    if missing:
        raise InputError([*missing, *aside])
    whole = on_common_axes({name: part for name, part in whole.items() if name in _KNOWN}, names, notes)
    dataset = _as_dataset(whole)
    dataset.attrs = {"source": names, "notes": "\n".join(dict.fromkeys(notes))}
    if issued:
        dataset.attrs["issued"] = f"{max(issued).astype('datetime64[s]')}Z"
    return dataset


def read_files(
    paths: Sequence[Path], *, corridor: Corridor | None, span: Span | None
) -> tuple[list[Field], list[Fault], list[Fault]]:
    """Read every file, control first.

    Parameters
    ----------
    paths, corridor, span
        As ``read_forecast`` takes them.

    Returns
    -------
    fields : list of Field
        What was understood.
    faults, set_aside : list of Fault
        Of all files; of quantities that a plan can do without.
    """
    fields: list[Field] = []
    faults: list[Fault] = []
    aside: list[Fault] = []
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
                read = read_fields(parts, path.name, corridor=corridor, span=span)
                fields += read.fields
                aside += read.set_aside
            finally:
                for part in parts:
                    part.close()
        except InputError as error:
            faults += error.faults
    return fields, faults, aside


def _derive(whole: dict[str, Whole], notes: list[str]) -> None:
    """Make what can be made of other quantities, and leave out what is of no use by itself."""
    _make_wind(whole, notes)
    _make_cover(whole, notes)
    for parts in (_LAYERS, _CURRENTS):
        if not all(name in whole for name in parts):
            for name in parts:
                whole.pop(name, None)
    rain = whole.get("rain_mm_h")
    if rain is not None and rain.start is not None:
        whole["rain_mm_h"] = replace(rain, time=rain.start + (rain.time - rain.start) // 2, start=None)
    _settle_light(whole, notes)


def _make_wind(whole: dict[str, Whole], notes: list[str]) -> None:
    speed, source = whole.get("wind_speed"), whole.get("wind_from")
    if "wind_east_m_s" not in whole and speed is not None and source is not None and _alike(speed, source):
        angle = np.radians(source.values)
        for name, part in (("wind_east_m_s", np.sin(angle)), ("wind_north_m_s", np.cos(angle))):
            whole[name] = replace(speed, values=-speed.values * part)
        notes.append("Wind components are made of speed and the direction it blows from.")


def _make_cover(whole: dict[str, Whole], notes: list[str]) -> None:
    layers = [whole[name] for name in _LAYERS if name in whole]
    if "cloud_cover" in whole or len(layers) < len(_LAYERS):
        return
    if all(_alike(layers[0], layer) for layer in layers):
        clear = np.prod([1.0 - layer.values for layer in layers], axis=0)
        whole["cloud_cover"] = replace(layers[0], values=1.0 - clear)
        notes.append("Total cloud cover is made of the three layers, overlapping at random.")


def _settle_light(whole: dict[str, Whole], notes: list[str]) -> None:
    """Keep direct light only beside all light over the same spans; give light at moments spans without length."""
    light, direct = whole.get("ghi_w_m2"), whole.get("direct_w_m2")
    if direct is not None and (light is None or not _alike(light, direct)):
        del whole["direct_w_m2"]
        notes.append(f"Left unused: {direct.name}, for want of all radiation over the same spans.")
    for name in _LIGHT:
        if name in whole and whole[name].start is None:
            whole[name] = replace(whole[name], start=whole[name].time)


def _alike(one: Whole, other: Whole) -> bool:
    """Tell whether two quantities have the same members, times, spans and grid."""
    axes = ((part.time, part.lat, part.lon, part.time if part.start is None else part.start) for part in (one, other))
    return one.values.shape == other.values.shape and all(np.array_equal(a, b) for a, b in zip(*axes, strict=True))


def _missing(whole: dict[str, Whole], held: str, where: str, free_to_lack: Collection[str]) -> list[Fault]:
    """Return a fault for each quantity that a plan needs and nobody gives."""
    faults = []
    for name in (*FORECAST, "cloud_cover"):
        if name in whole or name in free_to_lack or (name == "cloud_cover" and "ghi_w_m2" in whole):
            continue
        term = TERMS[name]
        mend = f"Understood so far: {held or 'nothing'}. Wanted: standard_name {term.standard_names[0]}, or "
        mend += f"a name such as {', '.join(term.short_names[:3])}."
        if name.startswith("wind_") and "wind_speed" in whole:
            mend = (
                "It holds the wind's speed but not its direction; ask for both, or for eastward and northward wind."
            )
        faults.append(Fault(where, "", f"it holds no {term.words}.", mend))
    return faults


def _as_dataset(whole: dict[str, Whole]) -> xr.Dataset:
    """Return the quantities under their glossary names; sunlight over its own spans."""
    first = next(iter(whole.values()))
    states = next((part for part in whole.values() if part.start is None), first)
    coords: dict[str, Any] = {
        "member": ("member", np.arange(first.values.shape[0]), {"standard_name": "realization", "units": "1"}),
        "time": ("time", states.time, {"standard_name": "time"}),
        "lat": ("lat", first.lat, {"standard_name": "latitude", "units": "degrees_north"}),
        "lon": ("lon", first.lon, {"standard_name": "longitude", "units": "degrees_east"}),
    }
    light = whole.get("ghi_w_m2")
    if light is not None:
        coords |= {"interval": ("interval", light.start), "interval_end": ("interval", light.time)}
    known = {name: quantity for name, quantity in (FORECAST | FORECAST_OPTIONAL).items() if name in whole}
    return to_dataset({name: whole[name].values for name in known}, known, coords=coords, door="forecast")
