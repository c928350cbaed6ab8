"""Read forecast files of any provider into the glossary's forecast: names, units, axes and members made plain.

What a variable is follows from its CF standard name, else from the usual short names; what is ambiguous is refused
with the candidates listed. Only the route's corridor and the passage's span are read from disk.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.schema import to_dataset
from planner.readers.forecast.field import Field, Gaps, Refused
from planner.readers.forecast.fields import OPTIONAL, read_fields
from planner.readers.forecast.file import open_parts
from planner.readers.forecast.grids.grid import Corridor, Span
from planner.readers.forecast.grids.plane import Meshes
from planner.readers.forecast.guard import apart, guarded
from planner.readers.forecast.join import on_common_axes
from planner.readers.forecast.members import Whole, put_together
from planner.readers.forecast.sunlight.kinds import settle
from planner.readers.forecast.terms import TERMS
from planner.readers.forecast.uses import half_of_wind

if TYPE_CHECKING:
    import xarray as xr

_CONTROL = re.compile(r"(^|[_.\-])(c00|ctl|control|cf)([_.\-]|$)", re.IGNORECASE)
_NO_MEMBER = re.compile(r"(^|[_.\-])(avg|mean|spr|spread|std|stddev)([_.\-]|$)", re.IGNORECASE)
_LAYERS = ("cloud_low", "cloud_middle", "cloud_high")
_LIGHT = ("ghi_w_m2", "direct_w_m2")
_KNOWN = frozenset({*FORECAST, *FORECAST_OPTIONAL})
_CURRENTS = ("current_east_m_s", "current_north_m_s")


@apart
def read_forecast(
    paths: Sequence[Path],
    *,
    corridor: Corridor | None,
    span: Span | None,
    free_to_lack: Collection[str] = (),
    sunlight: str | None = None,
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
    sunlight : str, optional
        What each value of sunlight is, in the words of ``flux.GIVEN``, where the files leave it open.

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
    fields, faults, aside = _read_all(paths, corridor=corridor, span=span, sunlight=sunlight)
    if faults:
        raise InputError(faults)
    cloud = {"cloud_cover", *_LAYERS}
    if aside and not any(
        field.quantity in {*cloud, "ghi_w_m2"} for field in fields
    ):  # mend it rather than do without
        free_to_lack = [name for name in free_to_lack if name not in cloud]
    names = ", ".join(path.name for path in paths)
    notes = [note for field in fields for note in field.notes]
    notes += [f"Left unused: {fault}" for fault in aside]
    held = held_words(fields)
    issued = [field.issued for field in fields if field.issued is not None]
    whole = merge(fields, names, notes)
    missing = missing_faults(whole, held, names, free_to_lack)
    if missing:
        raise InputError([*missing, *aside])
    if not usable(whole):
        remedy = f"It holds {held or 'nothing'}; leave the file out, or take one with more beside it."
        raise InputError([Fault(names, "", "nothing of it is of use by itself.", remedy), *aside])
    dataset = gridded(whole, names, notes)
    dataset.attrs = {"source": names, "notes": "\n".join(dict.fromkeys(notes))}
    if issued:
        dataset.attrs["issued"] = f"{max(issued).astype('datetime64[s]')}Z"
    return dataset


@dataclass(frozen=True, eq=False)
class FileRead:
    """What came of reading one file.

    Attributes
    ----------
    path : Path
    fields : tuple of Field
        What was understood.
    refused : tuple of Refused
        Variables that cannot be understood.
    unused : tuple of str
        Other variables, described.
    faults : tuple of Fault
        Why nothing of it can be used.
    """

    path: Path
    fields: tuple[Field, ...] = ()
    refused: tuple[Refused, ...] = ()
    unused: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()


def read_each(
    paths: Sequence[Path],
    *,
    corridor: Corridor | None,
    span: Span | None,
    stride: int = 1,
    gaps: Gaps = "filled",
    sunlight: str | None = None,
) -> list[FileRead]:
    """Read file after file, control first; what no file settles of its sunlight by itself, all of them together do.

    Parameters
    ----------
    paths, corridor, span
        As ``read_forecast`` takes them.
    stride : int
        Of the grids' rows and columns, every so many-th is read [1].
    gaps : {'filled', 'left'}
        What is done about missing values.
    sunlight
        As ``read_forecast`` takes it.
    """
    ordered = sorted(paths, key=lambda path: not _CONTROL.search(path.stem))
    read = partial(_read_one, corridor=corridor, span=span, stride=stride, gaps=gaps, meshes={})
    found = [
        _left_out(path) if len(paths) > 1 and _NO_MEMBER.search(path.stem) else read(path, sunlight=sunlight)
        for path in ordered
    ]
    undecided = {n: one for n, each in enumerate(found) for one in each.refused if one.open_light is not None}
    lights = [one.open_light for one in undecided.values() if one.open_light is not None]
    if len(lights) < 2:
        return found
    open_yet = dict.fromkeys(reading for light in lights for reading in light.readings)
    left = settle(open_yet, [each for light in lights for each in light.given])
    if len(left) == 1:
        return [read(each.path, sunlight=left[0].given) if n in undecided else each for n, each in enumerate(found)]
    where = f"{found[min(undecided)].path.name} and {len(undecided) - 1} more"
    for n, one in undecided.items():  # asked once for all
        asked = (replace(one, faults=tuple(replace(fault, where=where) for fault in one.faults)),)
        others = tuple(other for other in found[n].refused if other is not one)
        found[n] = replace(found[n], refused=(*others, *(asked if n == min(undecided) else ())))
    return found


def _left_out(path: Path) -> FileRead:
    remedy = "Leave it out: a mean or spread over the members is not one of them."
    return FileRead(path, faults=(Fault(path.name, "", "by its name it holds a mean or a spread.", remedy),))


def _read_one(
    path: Path,
    *,
    corridor: Corridor | None,
    span: Span | None,
    stride: int,
    gaps: Gaps,
    meshes: Meshes,
    sunlight: str | None,
) -> FileRead:
    """Read one file."""
    try:
        with guarded(path), ExitStack() as held:
            parts = open_parts(path)
            for part in parts:
                held.callback(part.close)
            read = read_fields(
                parts,
                path.name,
                corridor=corridor,
                span=span,
                stride=stride,
                gaps=gaps,
                meshes=meshes,
                sunlight=sunlight,
            )
    except InputError as error:
        return FileRead(path, faults=error.faults)
    return FileRead(path, read.fields, read.refused, read.unused)


def _read_all(
    paths: Sequence[Path], *, corridor: Corridor | None, span: Span | None, sunlight: str | None
) -> tuple[list[Field], list[Fault], list[Fault]]:
    """Return what was understood, all faults, and those of quantities that a plan can do without."""
    fields: list[Field] = []
    faults: list[Fault] = []
    aside: list[Fault] = []
    if not paths:
        faults.append(Fault("forecast", "", "no forecast file is named."))
    for read in read_each(paths, corridor=corridor, span=span, sunlight=sunlight):
        fields += read.fields
        faults += read.faults
        for one in read.refused:
            (aside if one.quantity in OPTIONAL else faults).extend(one.faults)
    return fields, faults, aside


def held_words(fields: Sequence[Field]) -> str:
    """Return what was understood, in a line."""
    return "; ".join(dict.fromkeys(f"{field.name} ({TERMS[field.quantity].words})" for field in fields))


def merge(fields: list[Field], where: str, notes: list[str]) -> dict[str, Whole]:
    """Put each quantity's pieces together and make what can be made of them; the list is emptied on the way.

    Parameters
    ----------
    fields : list of Field
        Control first.
    where : str
        File names, for messages.
    notes : list of str
        Gets what was repaired and derived.

    Raises
    ------
    InputError
        When pieces do not fit together.
    """
    whole: dict[str, Whole] = {}
    for quantity in dict.fromkeys(field.quantity for field in fields):
        whole[quantity] = put_together([field for field in fields if field.quantity == quantity], where, notes)
        fields[:] = [field for field in fields if field.quantity != quantity]  # what was joined need not stay twice
    _derive(whole, notes)
    return whole


def usable(whole: Mapping[str, Whole]) -> bool:
    """Tell whether anything of what is merged is a quantity of the glossary's forecast."""
    return not _KNOWN.isdisjoint(whole)


def gridded(whole: Mapping[str, Whole], where: str, notes: list[str]) -> xr.Dataset:
    """Return what is merged as the glossary has it, on common axes.

    Parameters
    ----------
    whole : mapping of str to Whole
        From ``merge``.
    where : str
        File names, for messages.
    notes : list of str
        Gets what was brought to other axes.

    Raises
    ------
    InputError
        When quantities have no time or place in common, or other members.
    """
    dataset = _as_dataset(
        on_common_axes({name: part for name, part in whole.items() if name in _KNOWN}, where, notes)
    )
    if dataset.sizes["time"] == 1:
        moment = str(dataset["time"].to_numpy()[0].astype("datetime64[m]")).replace("T", " ")
        notes.append(f"There is a single time, {moment} UTC: its weather stands still.")
    return dataset


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


def missing_faults(
    whole: Mapping[str, Whole], held: str, where: str, free_to_lack: Collection[str] = ()
) -> list[Fault]:
    """Return a fault for each quantity that a plan needs and nobody gives."""
    faults = []
    for name in (*FORECAST, "cloud_cover"):
        if name in whole or name in free_to_lack or (name == "cloud_cover" and "ghi_w_m2" in whole):
            continue
        term = TERMS[name]
        remedy = f"Understood so far: {held or 'nothing'}. Wanted: standard_name {term.standard_names[0]}, or "
        remedy += f"a name such as {', '.join(term.short_names[:3])}."
        half = half_of_wind(whole) if name.startswith("wind_") else ""
        if half:
            remedy = f"{half[0].upper()}{half[1:]}; ask for both, or for eastward and northward wind."
        faults.append(Fault(where, "", f"it holds no {term.words}.", remedy))
    return faults


def _as_dataset(whole: Mapping[str, Whole]) -> xr.Dataset:
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
