"""Open a forecast file, or say what is wrong with it."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.domain.errors import Fault, InputError
from planner.readers.forecast.projection import PARALLEL_ROWS, PROJECTION, RELATIVE, grib_projection
from planner.readers.forecast.terms import ELSEWHERE, LAYERS_1, ON_SURFACE_1, TERMS, WMO_CODES, WMO_CODES_1, plain

if TYPE_CHECKING:
    import xarray as xr

_HDF5 = b"\x89HDF\r\n\x1a\n"  # HDF5 file format specification 3.0, section II.A
_CLASSIC = b"CDF"  # NetCDF classic format specification
_GRIB = b"GRIB"  # WMO FM 92 GRIB, section 0
_HEAD = 1024
ACCUMULATED_FROM = "accumulated_from"
"""Attribute of a GRIB variable: end of each span to its start, seconds since 1970."""
TAKEN_AS = "taken_as"
"""Attribute of a GRIB variable: what it was taken for, where its file leaves that open."""
LEFT_UNREAD = "left_unread"
"""Attribute of a GRIB file's first dataset: names of fields that are not used."""
ABOVE_GROUND = "heightAboveGround"
UNKNOWN = "unknown"  # what the library calls a field that it has no name for
SPANNING = frozenset({"avg", "accum"})
STEP_TYPES = ("instant", "avg", "accum")
SECONDS_PER_STEP_UNIT = {0: 60, 1: 3600, 2: 86400, 10: 10800, 11: 21600, 12: 43200, 13: 1}  # s, WMO code table 4.4
_WANTED = frozenset(name for term in TERMS.values() for name in term.short_names)
_FLUXES = frozenset(name for term in TERMS.values() if term.flux for name in term.short_names)
_SPAN_KEYS = ("dataDate", "dataTime", "stepUnits", "startStep", "endStep")
GRIB_UNREAD = "it begins as GRIB but cannot be read"
VALUES_UNREAD = "its values cannot be read"
CUT_SHORT = "It is probably cut short or damaged; fetch it again."
LACKING = "It is whole, but does not say what is needed; ask for NetCDF or GRIB 2."
_FieldKind = tuple[str, str, int, str, str]
"""Short name, type of level, height above ground, control or perturbed, and what distinguishes the grid."""
WORDS = ("standard_name", "units", "long_name", "level", "cell_methods", "grid_mapping", "bounds")
"""Attributes of NetCDF that are text; whatever else a file has in their place is no list when it is looked up."""
MOST_PLACES = 20_000_000  # of an axis, and of a grid: 1.8 km round the whole Earth; they are read whole
MOST_BYTES = 2 * 1024**3  # of one quantity as it is read; 51 members of ten days on 100 by 100 nodes are half of it
_ALONG_GRID = 8  # bit 5 of the resolution and component flags, WMO flag table 3.3


def open_parts(path: Path) -> list[xr.Dataset]:
    """Return a file's contents, nothing of its fields read yet: one dataset, or several of a GRIB file.

    Parameters
    ----------
    path : Path
        A NetCDF or GRIB file.

    Returns
    -------
    list of xarray.Dataset
        To be closed by the caller.

    Raises
    ------
    InputError
        When the file is missing, empty, cut short, or of another kind.
    """
    if not path.exists():
        raise _fault(path, "there is no such file.", "Check the name and the folder.")
    if path.is_dir():
        raise _fault(path, "it is a folder, not a file.", "Name the forecast files in it.")
    with path.open("rb") as file:
        head = file.read(_HEAD)
    refuse_other_kinds(head, path.name)
    return [_open_netcdf(path)] if head.startswith((_HDF5, _CLASSIC)) else _open_grib(path)


def refuse_other_kinds(head: bytes, where: str) -> None:
    """Refuse a file that is neither NetCDF nor GRIB.

    Parameters
    ----------
    head : bytes
        What it begins with, some thousand or all.
    where : str
        Its name, for messages.

    Raises
    ------
    InputError
    """
    if not head:
        remedy = "The download probably failed; fetch it again."
        raise InputError([Fault(where, "", "the file is empty (0 bytes).", remedy)])
    if not head.startswith((_HDF5, _CLASSIC)) and _GRIB not in head[:_HEAD]:
        problem = f"it is neither NetCDF nor GRIB; it begins with {_glimpse(head)}."
        raise InputError([Fault(where, "", problem, _guess(head))])


@contextmanager
def library_errors(where: str, key: str, problem: str, remedy: str) -> Iterator[None]:
    """Turn whatever a file library raises within into one sentence; nothing of our own belongs within.

    Parameters
    ----------
    where, key : str
        File name, and what of it is read.
    problem, remedy : str
        As ``Fault`` takes them, the problem without what the library says and without its full stop.
    """
    try:
        yield
    except InputError:
        raise
    except Exception as error:  # of xarray, netCDF4, cfgrib, ecCodes: no list of what they may raise is complete
        mend = LACKING if remedy == CUT_SHORT and isinstance(error, KeyError) else remedy
        raise InputError([Fault(where, key, f"{problem} ({_first_line(error)}).", mend)]) from error


def refuse_giant(places: int, where: str, key: str) -> None:
    """Refuse an axis or a grid of more places than any forecast has.

    Raises
    ------
    InputError
    """
    if places > MOST_PLACES:
        problem = f"it is said to be of {places} places; {MOST_PLACES} is the most that is read."
        raise InputError([Fault(where, key, problem, "The file is damaged, or no forecast.")])


def refuse_too_large(size: int, where: str, key: str) -> None:
    """Refuse to read more of one quantity than memory should hold.

    Parameters
    ----------
    size : int
        Of what would be read [byte].
    where, key : str
        File name, and the variable's.

    Raises
    ------
    InputError
    """
    if size > MOST_BYTES:
        problem = (
            f"what is wanted of it takes {size / 1024**3:.1f} GB of memory; {MOST_BYTES / 1024**3:.0f} is the most."
        )
        raise InputError([Fault(where, key, problem, "Take fewer members, times or a smaller area into a file.")])


def _open_netcdf(path: Path) -> xr.Dataset:
    import netCDF4
    import xarray as xr

    with library_errors(path.name, "", "it begins as NetCDF but cannot be opened", CUT_SHORT):
        with netCDF4.Dataset(path) as file:  # the next library reads every axis as it opens a file
            for name, axis in file.dimensions.items():
                refuse_giant(axis.size, path.name, f"axis {name}")
        try:
            part = xr.open_dataset(path, engine="netcdf4", decode_timedelta=True)
            for variable in part.variables.values():
                variable.attrs |= {key: str(variable.attrs[key]) for key in WORDS if key in variable.attrs}
            return part
        except (ValueError, TypeError, OverflowError) as error:
            problem = f"its times or packing cannot be understood ({_first_line(error)})."
            remedy = "Times must be numbers with units such as 'hours since 2027-05-08 12:00:00'."
            raise _fault(path, problem, remedy) from error


def _open_grib(path: Path) -> list[xr.Dataset]:
    """Open the fields that may be used, those of one name, level, kind and grid together; the rest is left unread."""
    if find_spec("cfgrib") is None:
        raise _fault(
            path,
            "it is a GRIB file, and the reader for those is not installed.",
            "Install it with: pip install 'passage-energy[grib]'.",
        )
    import pyproj  # noqa: F401 - before cfgrib: both carry a PROJ library, and the second one loaded crashes
    from cfgrib.messages import FileStream

    stream = FileStream(str(path), errors="ignore")
    with library_errors(path.name, "", GRIB_UNREAD, CUT_SHORT):
        entries = [_entry(place, message, path.name) for place, message in stream.items()]
    groups: dict[_FieldKind, dict[str, list[_Entry]]] = {}
    for entry in entries:
        if entry.step_type:
            groups.setdefault(entry.kind, {}).setdefault(entry.step_type, []).append(entry)
    names = {entry.short for entry in entries}
    if not groups:
        held = ", ".join(sorted(names)) or "nothing that can be read"
        raise _fault(path, "no field is one that is used.", f"It holds {held}.")
    parts = []
    for (short, *_), by_step in groups.items():
        order = STEP_TYPES[::-1] if plain(short) in _FLUXES else STEP_TYPES
        chosen = next((by_step[kind] for kind in order if kind in by_step), next(iter(by_step.values())))
        parts.append(_grib_part(path, stream, chosen))
    parts[0].attrs[LEFT_UNREAD] = tuple(sorted(names - {short for short, *_ in groups}))
    return parts


@dataclass(frozen=True)
class _Entry:
    """A GRIB message: its place in the file, what it is, its span's keys, and units where the library has none."""

    place: Any
    short: str
    kind: _FieldKind
    step_type: str
    span: tuple[int, int, int, int, int] | None
    units: str = ""


def _entry(place: Any, message: Any, where: str) -> _Entry:
    short, level_type, units = _named(message)
    refuse_giant(int(message.get("numberOfDataPoints", 0) or 0), where, short)
    wanted = plain(short) in _WANTED or (short in ON_SURFACE_1 and level_type == ABOVE_GROUND)
    if level_type in ELSEWHERE or not wanted:
        return _Entry(place, short, (short, level_type, 0, "", ""), "", None)
    height = message["level"] if level_type == ABOVE_GROUND else 0
    # GRIB 1 distinguishes control from perturbed only where its centre has added a section of its own
    kind = (short, level_type, height, message.get("dataType", UNKNOWN), message["md5GridSection"])
    step_type = message["stepType"]
    span = tuple(int(message[key]) for key in _SPAN_KEYS) if step_type in SPANNING else None
    return _Entry(place, short, kind, step_type, span, units)  # type: ignore[arg-type]


def _grib_part(path: Path, stream: Mapping[str, Any], entries: Sequence[_Entry]) -> xr.Dataset:
    """Open messages of one name, level, kind and grid as a dataset."""
    import xarray as xr

    places = tuple(entry.place for entry in entries)
    options: dict[str, Any] = {"engine": "cfgrib", "backend_kwargs": {"errors": "ignore"}, "decode_timedelta": True}
    with warnings.catch_warnings(), library_errors(path.name, entries[0].short, GRIB_UNREAD, CUT_SHORT):
        warnings.simplefilter("ignore")  # the reader's own warnings about its libraries
        part = xr.open_dataset(_Chosen(stream, places), **options)  # type: ignore[arg-type]
        of_grid = _of_grid(stream[places[0]])
    first = entries[0]
    part = part.rename({name: first.short for name in part.data_vars if name == UNKNOWN})
    spans = [_seconds(path, entry) for entry in entries if entry.span is not None]
    ends = {end: start for start, end in spans}
    for variable in part.data_vars.values():
        variable.attrs |= of_grid | ({ACCUMULATED_FROM: ends} if ends else {})
        taken = f"its code is taken for {first.short} in {first.units}" if first.units else ""
        if first.short in ON_SURFACE_1 and variable.attrs.get("GRIB_typeOfLevel") == "surface":
            taken = f"it stands on the surface, and is taken for {ON_SURFACE_1[first.short]}"
        variable.attrs["GRIB_typeOfLevel"] = first.kind[1]
        variable.attrs |= ({"units": first.units} if first.units else {}) | ({TAKEN_AS: taken} if taken else {})
    return part


def _of_grid(message: Any) -> dict[str, Any]:
    """Return what a GRIB message states of its grid and of the axes that vectors are given along, as attributes."""
    if message["gridType"] in PARALLEL_ROWS:
        return {RELATIVE: 0}
    return {
        RELATIVE: int(bool(int(message["resolutionAndComponentFlags"]) & _ALONG_GRID)),
        PROJECTION: grib_projection(message),
    }


def _named(message: Any) -> tuple[str, str, str]:
    """Return a GRIB message's short name, type of level and, where the library has no name, units; by its codes."""
    short, level_type = str(message["shortName"]), str(message["typeOfLevel"])
    if message["edition"] == 1:
        code, level = int(message["indicatorOfParameter"]), int(message["indicatorOfTypeOfLevel:int"])
        if short in ON_SURFACE_1 and level_type == "surface":
            return short, ABOVE_GROUND, ""
        name, units = WMO_CODES_1.get((code, level), (short, "")) if short == UNKNOWN else (short, "")
        return name, LAYERS_1.get(level, level_type), units
    if short == UNKNOWN:
        code_2 = (message.get("discipline"), message.get("parameterCategory"), message.get("parameterNumber"))
        short = WMO_CODES.get(code_2, short)
    return short, level_type, ""


def _seconds(path: Path, entry: _Entry) -> tuple[int, int]:
    """Return the start and end of the span that a GRIB message covers, seconds since 1970, UTC."""
    if entry.span is None or entry.span[2] not in SECONDS_PER_STEP_UNIT:
        raise _fault(path, f"the steps of {entry.short} are given in a unit that is not known.", "Ask for hours.")
    date, minute, unit, *steps = entry.span
    year, month, day = date // 10000, date // 100 % 100, date % 100
    begun = datetime(year, month, day, minute // 100, minute % 100, tzinfo=UTC).timestamp()
    start, end = (round(begun + SECONDS_PER_STEP_UNIT[unit] * step) for step in steps)
    return start, end


class _Chosen(Mapping[Any, Any]):
    """Some messages of a GRIB file, each read when it is asked for."""

    def __init__(self, stream: Mapping[Any, Any], places: tuple[Any, ...]) -> None:
        self._stream, self._places = stream, places

    def __getitem__(self, place: Any) -> Any:
        return self._stream[place]

    def __iter__(self) -> Iterator[Any]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)


def _fault(path: Path, problem: str, remedy: str) -> InputError:
    return InputError([Fault(path.name, "", problem, remedy)])


def _first_line(error: Exception) -> str:
    if isinstance(error, KeyError):
        return f"a message lacks {error}"
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)  # without its path
    lines = reason.splitlines()
    return lines[0][:120] if lines else type(error).__name__


def _glimpse(head: bytes) -> str:
    return repr(head[:24].decode("ascii", errors="replace"))


def _guess(head: bytes) -> str:
    start = head.lstrip().lower()
    if start.startswith((b"<!doctype", b"<html")):
        return "It looks like a web page: the download gave an error or a log-in page instead of the file."
    if start.startswith((b"\x1f\x8b", b"bzh", b"pk\x03\x04")):
        return "It looks compressed; unpack it first."
    if all(byte in b"\t\n\r" or 32 <= byte < 127 for byte in head):
        return "It looks like text; save the forecast as NetCDF."
    return "Save the forecast as NetCDF, or name the right file."
