"""The engine's log of the passage so far: a CSV of runs."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from planner.domain.errors import Fault, InputError
from planner.readers.text_file import csv_rows, read_utf8

COLUMNS = ("start", "stop")
FUEL = "fuel_l"
Run = tuple[datetime, datetime, float | None]
"""Start and stop [UTC] and, where it is logged, fuel [L]."""


def read_engine_log(path: Path) -> tuple[Run, ...]:
    """Read the runs of an engine's log.

    Parameters
    ----------
    path : Path
        CSV with the columns ``start`` and ``stop``, ISO 8601 with an offset, and optionally ``fuel_l``.

    Returns
    -------
    tuple of (datetime, datetime, float or None)
        In the file's order.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    rows = [(line, row) for line, row in csv_rows(read_utf8(path), path.name) if row]
    names = rows[0][1] if rows else []
    missing = [name for name in COLUMNS if name not in names]
    if missing:
        remedy = "Head it: start,stop or start,stop,fuel_l."
        raise InputError([Fault(path.name, name, "this column is missing.", remedy) for name in missing])
    faults: list[Fault] = []
    cells = ((dict(zip(names, [*row, *[""] * len(names)], strict=False)), line) for line, row in rows[1:])
    runs = [run for row, line in cells if (run := _run(row, f"{path.name}:{line}", faults))]
    if faults:
        raise InputError(faults)
    return tuple(runs)


def _run(row: dict[str, str], where: str, faults: list[Fault]) -> Run | None:
    moments: list[datetime] = []
    for name in COLUMNS:
        try:
            moment = datetime.fromisoformat(row[name].strip())
            moments.append(moment.astimezone(UTC))
        except (ValueError, OverflowError):  # the latter of the first year, which UTC may put before all years
            faults.append(Fault(where, name, f"'{row[name]}' is no moment.", "Write 2027-05-10T09:00:00+12:00."))
            continue
        if moment.tzinfo is None:
            faults.append(Fault(where, name, f"the time '{row[name]}' says no offset from UTC.", "Add it, or Z."))
    if len(moments) < len(COLUMNS):
        return None
    start, stop = moments
    if stop <= start:
        faults.append(Fault(where, "stop", "it is not after the start.", "Are the two swapped?"))
    return start, stop, _fuel(row.get(FUEL), where, faults)


def _fuel(text: str | None, where: str, faults: list[Fault]) -> float | None:
    if text is None or not text.strip():
        return None
    try:
        fuel = float(text)
    except ValueError:
        fuel = -1.0
    if not fuel >= 0.0:
        faults.append(Fault(where, FUEL, f"'{text}' is no amount of litres.", "Write a number, or leave it empty."))
    return fuel
