"""Look at forecast files without planning: what each variable is taken for, and what a plan would make of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Times
from planner.domain.errors import Fault, InputError
from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.results.forecast import ForecastAccount, ForecastFile, HeldVariable, RefusedVariable
from planner.readers.forecast.field import Field, Gaps
from planner.readers.forecast.fields import OPTIONAL
from planner.readers.forecast.file import open_parts
from planner.readers.forecast.grids.grid import Corridor, Span
from planner.readers.forecast.grids.points import scattered
from planner.readers.forecast.guard import apart, guarded
from planner.readers.forecast.meaning import choose
from planner.readers.forecast.members import Whole
from planner.readers.forecast.reader import FileRead, gridded, merge, read_each, usable
from planner.readers.forecast.terms import TERMS
from planner.readers.forecast.uses import uses_of

if TYPE_CHECKING:
    import xarray as xr

MOST_VALUES: Final = 16_000_000  # of all variables and files together; more are looked at row by so many-th row
MOST_POINTS: Final = 250_000  # of a projected grid, whose mesh takes more than its values do
HOUR: Final = np.timedelta64(3600, "s")
UNITS: Final = {"wind_speed": "m s-1", "wind_from": "degree"}  # of quantities that the glossary has not


@apart
def survey(
    paths: Sequence[Path],
    *,
    corridor: Corridor | None,
    span: Span | None,
    departure: datetime | None,
    sunlight: str | None = None,
) -> ForecastAccount:
    """Return what forecast files hold and how it was understood; what is wrong with them is listed, not raised.

    Parameters
    ----------
    paths : sequence of Path
    corridor, span : optional
        As ``read_forecast`` takes them; without a corridor large grids are looked at thinly.
    departure : datetime or None
        That the forecast's age is given for.
    sunlight : str, optional
        As ``read_forecast`` takes it.
    """
    stride = _stride(paths) if corridor is None else 1
    gaps: Gaps = "left" if corridor is None else "filled"  # far from any route they matter to nobody
    read = read_each(paths, corridor=corridor, span=span, stride=stride, gaps=gaps, sunlight=sunlight)
    fields = [field for one in read for field in one.fields]
    notes = [note for field in fields for note in field.notes]
    held = _held(fields)
    where = ", ".join(path.name for path in paths)
    faults: tuple[Fault, ...] = ()
    whole: dict[str, Whole] = {}
    joined: xr.Dataset | None = None
    quantities = {field.quantity for field in fields}
    try:
        whole = merge(fields, where, notes)
        joined = gridded(whole, where, notes) if usable(whole) else None
    except InputError as error:
        faults = error.faults
    return ForecastAccount(
        files=tuple(_file(one) for one in read),
        held=held,
        refused=tuple(_refusals(read)),
        uses=uses_of(whole, quantities, {one.quantity: one for one in held}),
        faults=faults,
        notes=tuple(dict.fromkeys(notes)),
        stride=stride,
        departure=departure,
        route_only=corridor is not None,
        joined=joined,
    )


def _stride(paths: Sequence[Path]) -> int:
    """Return how thinly to look, so that memory and time keep within bounds whatever the files' size."""
    values, points = 0, 0
    for path in paths:
        try:
            with guarded(path):
                parts = open_parts(path)
        except InputError:
            continue  # said when it is read
        for part in parts:
            try:
                values += sum(part[name].size for name in choose(part, path.name).values())
                projected = scattered(part)
                points = points if projected is None else max(points, projected[0].size)
            except InputError:
                continue  # likewise
            finally:
                part.close()
    return max(1, int(np.ceil(np.sqrt(max(values / MOST_VALUES, points / MOST_POINTS)))))


def _refusals(read: Sequence[FileRead]) -> list[RefusedVariable]:
    return [
        RefusedVariable(
            name=one.name,
            units_found=one.units,
            words=TERMS[one.quantity].words,
            faults=one.faults,
            needed=one.quantity not in OPTIONAL,
        )
        for each in read
        for one in each.refused
    ]


def _file(read: FileRead) -> ForecastFile:
    issued = [field.issued for field in read.fields if field.issued is not None]
    return ForecastFile(
        name=read.path.name,
        size_bytes=read.path.stat().st_size if read.path.is_file() else 0,
        issued=_moment(max(issued)) if issued else None,
        faults=read.faults,
        unused=read.unused,
    )


def _held(fields: Sequence[Field]) -> tuple[HeldVariable, ...]:
    """Return each variable once, however many files hold it."""
    alike: dict[tuple[object, ...], list[Field]] = {}
    for field in fields:
        key = (list(TERMS).index(field.quantity), field.name, field.units, field.reading, field.grid)
        alike.setdefault(key, []).append(field)
    return tuple(_variable(alike[key]) for key in sorted(alike, key=lambda key: key[:4]))


def _variable(pieces: Sequence[Field]) -> HeldVariable:
    first = pieces[0]
    times: Times = np.unique(np.concatenate([piece.time for piece in pieces]))
    spans = [(piece.time - piece.start) / HOUR if piece.start is not None else None for piece in pieces]
    begun = {piece.issued for piece in pieces if piece.issued is not None}
    lengths = [span for span in spans if span is not None]
    return HeldVariable(
        name=first.name,
        units_found=first.units,
        quantity=first.quantity,
        words=TERMS[first.quantity].words,
        units=_units(first.quantity),
        low=float(min(np.fmin.reduce(piece.values, axis=None) for piece in pieces)),
        high=float(max(np.fmax.reduce(piece.values, axis=None) for piece in pieces)),
        files=tuple(dict.fromkeys(piece.file for piece in pieces)),
        issued=tuple(_moment(each) for each in sorted(begun)),
        first=_moment(times[0]),
        last=_moment(times[-1]),
        times=times.size,
        steps_h=_distinct(np.diff(times) / HOUR),
        members=_most_at_once(pieces),
        numbered=all(bool(np.isfinite(piece.member).all()) for piece in pieces),
        grid=first.grid,
        reading=first.reading,
        spans_h=_distinct(np.concatenate(lengths)) if lengths else (0.0,) if first.reading else (),
    )


def _most_at_once(pieces: Sequence[Field]) -> int:
    """Return how many members a time has at most, of forecasts begun together."""
    counts: dict[tuple[np.datetime64 | None, np.datetime64], int] = {}
    for piece in pieces:
        for time in np.unique(piece.time[[0, -1]]):
            key = (piece.issued, time)
            counts[key] = counts.get(key, 0) + piece.member.size
    return max(counts.values())


def _units(quantity: str) -> str:
    known = {**FORECAST, **FORECAST_OPTIONAL}
    return known[quantity].units if quantity in known else UNITS[quantity]


def _distinct(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, ...]:
    """Return each value once, in the order of the first of it."""
    return tuple(dict.fromkeys(round(float(value), 3) for value in values))


def _moment(time: np.datetime64) -> datetime:
    return datetime.fromtimestamp(int(time.astype("datetime64[s]").astype(np.int64)), UTC)
