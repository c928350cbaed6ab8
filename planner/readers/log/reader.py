"""Logs that a crew or a recorder kept, CSV with a heading, as the glossary's READINGS."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError, suggest
from planner.domain.glossary import READINGS
from planner.domain.inputs.log_mapping import LogMapping, as_headings
from planner.domain.schema import to_dataset
from planner.domain.ship_clock import ShipOffset
from planner.readers.log.checks import check_readings
from planner.readers.log.columns import DATE, TIME, WATTS, Columns, Key, is_heading, understand
from planner.readers.log.mapping import joined, to_toml
from planner.readers.log.merge import Logged, in_order, merged
from planner.readers.log.table import LogTable, read_table
from planner.readers.log.times import read_times
from planner.readers.log.values import LogColumn, decimal_of, flags, numbers, resolution

if TYPE_CHECKING:
    import xarray as xr

FRACTION_AT_MOST: Final = 1.0  # 1: a state of charge that never shows more is no percentage
ENGINE: Final[Key] = ("engine_on", "")
SOC: Final[Key] = ("meter_soc", "")


@dataclass(frozen=True)
class _Read:
    """A file's readings, how it was understood, its headings, and what was repaired."""

    logged: Logged
    mapping: LogMapping
    heading: tuple[str, ...]
    notes: tuple[str, ...]


def read_logs(
    paths: Sequence[Path],
    *,
    controllers: Sequence[str],
    ship_offset: ShipOffset,
    mapping: LogMapping | None = None,
    nominal_v: float | None = None,
    span: tuple[datetime, datetime] | None = None,
) -> xr.Dataset:
    """Read one or several logs of a passage.

    Parameters
    ----------
    paths : sequence of Path
        CSV files with a heading; they may overlap where they agree, and hold different columns.
    controllers : sequence of str
        Names in the boat file, in its order.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC, for logs kept by it.
    mapping : LogMapping, optional
        What the log does not say of itself.
    nominal_v : float, optional
        Of the boat's bank [V]; volts of another bank are refused.
    span : (datetime, datetime), optional
        Departure and arrival, with their offsets; a log wholly outside is refused.

    Returns
    -------
    xarray.Dataset
        The glossary's READINGS over ``time`` (UTC, rising, each moment once) and ``controller``; NaN where nothing
        was read. Each variable's attribute ``resolution`` is the step that its display counts by, in its unit, and of
        ``read_controller_power_w`` one a controller; NaN where nothing was logged. Attributes ``source``, ``covers``,
        ``repairs`` (list of str) and ``mapping`` (TOML that ``read_mapping`` reads).

    Raises
    ------
    InputError
        With file, line or column, and remedy of every fault that could be found.
    """
    asked = mapping or LogMapping()
    reads: list[_Read] = []
    faults = _unknown_controllers(asked, controllers)
    for path in paths:
        try:
            reads.append(_read_file(path, controllers, ship_offset, asked))
        except InputError as error:
            faults += error.faults
    if not paths:
        faults.append(Fault("reconcile", "LOG", "no log is given.", "Name one file or several."))
    elif len(reads) == len(paths):
        faults += _absent(asked, reads)
    if faults:
        raise InputError(faults)
    repairs = [note for read in reads for note in read.notes]
    whole = merged([read.logged for read in reads], repairs)
    readings = _to_readings(whole, controllers)
    readings.attrs = {
        "source": ", ".join(read.logged.where for read in reads),
        "covers": asked.covers,
        "repairs": repairs,
        "mapping": "",
    }
    before = readings["read_bank_current_a"].values.copy()
    check_readings(readings, mapping=asked, nominal_v=nominal_v, span=span, note=repairs.append)
    known = joined([read.mapping for read in reads])
    if np.isfinite(before).any() and known.amps_positive is None:
        turned = bool(np.nansum(before * readings["read_bank_current_a"].values) < 0.0)
        known = known.model_copy(update={"amps_positive": "discharging" if turned else "charging"})
    readings.attrs["mapping"] = to_toml(known)
    return readings


def _read_file(path: Path, controllers: Sequence[str], ship_offset: ShipOffset, asked: LogMapping) -> _Read:
    table = read_table(path, is_heading=partial(is_heading, controllers=controllers, mapping=asked))
    columns = understand(table.heading, controllers=controllers, mapping=asked, where=table.where)
    notes = list(table.notes)
    spare = [f"'{name}'" for name in columns.passed_over if name not in asked.ignore]
    if spare:
        notes.append(f"{table.where}: columns passed over: {', '.join(spare)}.")
    cells = _cells(table, columns.at[TIME])
    if DATE in columns.at:
        dates = _cells(table, columns.at[DATE])
        cells = tuple(f"{date} {time}".strip() for date, time in zip(dates, cells, strict=True))
    times = read_times(
        cells,
        table.lines,
        where=table.where,
        zone=asked.time_zone or columns.zone,
        date_order=asked.date_order,
        ship_offset=ship_offset,
    )
    notes += times.notes
    values, decimal, soc_as = _values(table, columns, asked, notes)
    logged = in_order(table.where, times.moments, values, notes)
    known = LogMapping(
        columns={name: table.heading[place] for (name, of), place in columns.at.items() if not of},
        controllers={name: table.heading[place] for (kind, name), place in columns.at.items() if kind == WATTS},
        ignore=columns.passed_over,
        time_zone=times.zone,
        date_order=times.date_order,
        decimal="," if decimal == "," else None,
        soc_as=soc_as,
        amps_positive=asked.amps_positive,
        covers=asked.covers,
    )
    return _Read(logged, known, table.heading, tuple(notes))


def _cells(table: LogTable, place: int) -> tuple[str, ...]:
    return tuple(row[place] for row in table.rows)


def _values(
    table: LogTable, columns: Columns, asked: LogMapping, notes: list[str]
) -> tuple[dict[Key, Floats], str, str | None]:
    """Return the figures of every column, what parts their decimals, and what the state of charge is in."""
    cells = {
        key: LogColumn(table.where, table.heading[place], table.lines, _cells(table, place))
        for key, place in columns.at.items()
        if key not in (TIME, DATE)
    }
    figures = [column for key, column in cells.items() if key != ENGINE]
    decimal = asked.decimal or decimal_of(figures, table.where)
    values: dict[Key, Floats] = {}
    faults: list[Fault] = []
    for key, column in cells.items():
        try:
            values[key], note = flags(column) if key == ENGINE else numbers(column, decimal=decimal)
            notes += [note] if note else []
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    if SOC not in values:
        return values, decimal, None
    soc_as = asked.soc_as or columns.soc_as
    fraction = bool(np.nanmax(values[SOC], initial=0.0) <= FRACTION_AT_MOST)
    if soc_as == "percent" and fraction and asked.soc_as is None:
        notes.append(f"{table.where}: the state of charge never shows over 1: read as a fraction.")
        soc_as = "fraction"
    soc_as = soc_as or ("fraction" if fraction else "percent")
    if soc_as == "percent":
        values[SOC] = values[SOC] / 100.0
    return values, decimal, soc_as


def _to_readings(whole: Logged, controllers: Sequence[str]) -> xr.Dataset:
    nothing = np.full(whole.time.size, np.nan)
    watts = [whole.values.get((WATTS, name), nothing) for name in controllers]
    arrays: dict[str, Floats] = {
        "read_controller_power_w": np.stack(watts, axis=-1) if watts else np.empty((whole.time.size, 0))
    }
    for name in READINGS:
        if name not in arrays:
            arrays[name] = whole.values.get((name.removeprefix("read_"), ""), nothing).copy()
    coords = {"time": whole.time.astype("datetime64[ns]"), "controller": list(controllers)}
    readings = to_dataset(arrays, READINGS, coords=coords, door="read_logs")
    for name, values in arrays.items():
        steps = [resolution(column) for column in values.T] if values.ndim > 1 else resolution(values)
        readings[name].attrs["resolution"] = steps
    return readings


def _unknown_controllers(asked: LogMapping, controllers: Sequence[str]) -> list[Fault]:
    return [
        Fault("mapping", f"controllers.{name}", "the boat file has no such controller.", suggest(name, controllers))
        for name in asked.controllers
        if name not in controllers
    ]


def _absent(asked: LogMapping, reads: Sequence[_Read]) -> list[Fault]:
    """Return a fault for each thing that the mapping finds under headings that no log has."""
    there = {heading for read in reads for heading in read.heading}
    named = [(f"columns.{name}", headings) for name, headings in asked.columns.items()]
    named += [(f"controllers.{name}", headings) for name, headings in asked.controllers.items()]
    return [
        Fault(
            "mapping",
            key,
            f"no log has the heading '{as_headings(headings)[0]}'.",
            suggest(as_headings(headings)[0], there),
        )
        for key, headings in named
        if not there & set(as_headings(headings))
    ]
