"""Open a forecast file, or say what is wrong with it."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.domain.errors import Fault, InputError
from planner.readers.forecast_projection import PARALLEL_ROWS, PROJECTION, RELATIVE, grib_projection
from planner.readers.forecast_terms import ELSEWHERE, TERMS, WMO_CODES, plain

if TYPE_CHECKING:
    import xarray as xr

_HDF5 = b"\x89HDF\r\n\x1a\n"  # HDF5 file format specification 3.0, section II.A
_CLASSIC = b"CDF"  # NetCDF classic format specification
_GRIB = b"GRIB"  # WMO FM 92 GRIB, section 0
_HEAD = 1024
ACCUMULATED_FROM = "accumulated_from"
"""Attribute of a GRIB variable: end of each span to its start, seconds since 1970."""
LEFT_UNREAD = "left_unread"
"""Attribute of a GRIB file's first dataset: names of fields that are not used."""
UNKNOWN = "unknown"  # what the library calls a field that it has no name for
SPANNING = frozenset({"avg", "accum"})
STEP_TYPES = ("instant", "avg", "accum")
SECONDS_PER_STEP_UNIT = {0: 60, 1: 3600, 2: 86400, 10: 10800, 11: 21600, 12: 43200, 13: 1}  # s, WMO code table 4.4
_WANTED = frozenset(name for term in TERMS.values() for name in term.short_names)
_FLUXES = frozenset(name for term in TERMS.values() if term.flux for name in term.short_names)
_FieldKind = tuple[str, str, int, str, str]
"""Short name, type of level, height above ground, control or perturbed, and what tells the grid from others."""
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
    if not head:
        raise _fault(path, "the file is empty (0 bytes).", "The download probably failed; fetch it again.")
    if head.startswith((_HDF5, _CLASSIC)):
        return [_open_netcdf(path)]
    if _GRIB in head:
        return _open_grib(path)
    raise _fault(path, f"it is neither NetCDF nor GRIB; it begins with {_glimpse(head)}.", _guess(head))


def _open_netcdf(path: Path) -> xr.Dataset:
    import xarray as xr

    try:
        return xr.open_dataset(path, engine="netcdf4", decode_timedelta=True)
    except (OSError, RuntimeError) as error:
        raise _fault(
            path,
            f"it begins as NetCDF but cannot be opened ({_first_line(error)}).",
            "It is probably cut short; fetch it again.",
        ) from error
    except (ValueError, TypeError, OverflowError) as error:
        raise _fault(
            path,
            f"its times or packing cannot be understood ({_first_line(error)}).",
            "Times must be numbers with units such as 'hours since 2027-05-08 12:00:00'.",
        ) from error


def _open_grib(path: Path) -> list[xr.Dataset]:
    if find_spec("cfgrib") is None:
        raise _fault(
            path,
            "it is a GRIB file, and the reader for those is not installed.",
            "Install it with: pip install 'passage-energy[grib]'.",
        )
    try:
        return _grib_parts(path)
    except (OSError, EOFError, ValueError, KeyError) as error:
        if isinstance(error, InputError):
            raise
        raise _fault(
            path,
            f"it begins as GRIB but cannot be read ({_first_line(error)}).",
            "It is probably cut short; fetch it again.",
        ) from error


def _grib_parts(path: Path) -> list[xr.Dataset]:
    """Open the fields that may be used, those of one name, level and kind together; the rest is left unread."""
    import pyproj  # noqa: F401 - before cfgrib: both carry a PROJ library, and the second one loaded crashes
    import xarray as xr
    from cfgrib.messages import FileStream

    stream = FileStream(str(path), errors="ignore")
    names: set[str] = set()
    groups: dict[_FieldKind, dict[str, list[Any]]] = {}
    begins: dict[Any, tuple[int, int]] = {}
    for place, message in stream.items():
        short, level_type = _short_name(message), message["typeOfLevel"]
        names.add(short)
        if level_type in ELSEWHERE or plain(short) not in _WANTED:
            continue
        height = message["level"] if level_type == "heightAboveGround" else 0
        kind = (short, level_type, height, message.get("dataType", UNKNOWN), message["md5GridSection"])
        groups.setdefault(kind, {}).setdefault(message["stepType"], []).append(place)
        if message["stepType"] in SPANNING:
            begins[place] = _span(message)
    if not groups:
        held = ", ".join(sorted(names)) or "nothing that can be read"
        raise _fault(path, "no field is one that is used.", f"It holds {held}.")
    parts = []
    for (short, *_), by_step in groups.items():
        order = STEP_TYPES[::-1] if plain(short) in _FLUXES else STEP_TYPES
        places = next((by_step[kind] for kind in order if kind in by_step), next(iter(by_step.values())))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the reader's own warnings about its libraries
            chosen = {"engine": "cfgrib", "backend_kwargs": {"errors": "ignore"}, "decode_timedelta": True}
            part = xr.open_dataset(_Chosen(stream, tuple(places)), **chosen)  # type: ignore[arg-type]
        part = part.rename({name: short for name in part.data_vars if name == UNKNOWN})
        ends = {end: start for start, end in (begins[place] for place in places if place in begins)}
        for variable in part.data_vars.values():
            variable.attrs |= _of_grid(stream[places[0]]) | ({ACCUMULATED_FROM: ends} if ends else {})
        parts.append(part)
    used = {short for short, *_ in groups}
    parts[0].attrs[LEFT_UNREAD] = tuple(sorted(names - used))
    return parts


def _of_grid(message: Any) -> dict[str, Any]:
    """Return what a GRIB message states of its grid and of the axes that vectors are given along, as attributes."""
    if message["gridType"] in PARALLEL_ROWS:
        return {RELATIVE: 0}
    return {
        RELATIVE: int(bool(int(message["resolutionAndComponentFlags"]) & _ALONG_GRID)),
        PROJECTION: grib_projection(message),
    }


def _short_name(message: Any) -> str:
    """Return a GRIB message's short name, by its WMO code where the library has none."""
    short = str(message["shortName"])
    if short != UNKNOWN:
        return short
    code = (message.get("discipline"), message.get("parameterCategory"), message.get("parameterNumber"))
    return WMO_CODES.get(code, short)


def _span(message: Any) -> tuple[int, int]:
    """Return the start and end of the span that a GRIB message covers, seconds since 1970, UTC."""
    day, minute = divmod(int(message["dataDate"]), 100), int(message["dataTime"])
    year, month = divmod(day[0], 100)
    begun = datetime(year, month, day[1], minute // 100, minute % 100, tzinfo=UTC).timestamp()
    seconds = SECONDS_PER_STEP_UNIT[int(message["stepUnits"])]
    return tuple(round(begun + seconds * int(message[key])) for key in ("startStep", "endStep"))  # type: ignore[return-value]


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


def _fault(path: Path, problem: str, mend: str) -> InputError:
    return InputError([Fault(path.name, "", problem, mend)])


def _first_line(error: Exception) -> str:
    told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)  # without its path
    lines = told.splitlines()
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
