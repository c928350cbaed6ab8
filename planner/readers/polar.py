"""Polar tables from CSV: true wind angle down, true wind speed across, boat speed within."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from planner.domain.errors import Fault, InputError


def read_polar(path: Path) -> dict[str, Any]:
    """Return a polar table as ``domain.boat.Polar`` takes it.

    The first row holds a corner label and the wind speeds [kn], each further row an angle [degree] and the boat
    speeds [kn].

    Parameters
    ----------
    path : Path
        Comma-separated file.

    Returns
    -------
    dict
        ``true_wind_speed_kn``, ``true_wind_angle_deg``, ``speed_kn``.

    Raises
    ------
    InputError
        With the line of every hole, non-number or row of another length.
    """
    if not path.is_file():
        raise InputError([Fault(str(path), "", "there is no such polar table.", "The boat file names it.")])
    with path.open(newline="", encoding="utf-8-sig") as stream:
        rows = [row for row in csv.reader(stream) if any(cell.strip() for cell in row)]
    if len(rows) < 3:
        raise InputError([Fault(path.name, "", f"{len(rows)} rows; a heading and two angles are needed.")])
    rows[0][0] = "0"  # the corner holds a label
    faults: list[Fault] = []
    numbers = [[_number(path, line, cell, faults) for cell in row] for line, row in enumerate(rows, start=1)]
    width = len(rows[0])
    faults += [
        Fault(path.name, f"line {line}", f"{len(row)} cells where the heading has {width}.")
        for line, row in enumerate(rows, start=1)
        if len(row) != width
    ]
    if faults:
        raise InputError(faults)
    return {
        "true_wind_speed_kn": numbers[0][1:],
        "true_wind_angle_deg": [row[0] for row in numbers[1:]],
        "speed_kn": [row[1:] for row in numbers[1:]],
    }


def _number(path: Path, line: int, cell: str, faults: list[Fault]) -> float:
    try:
        return float(cell)
    except ValueError:
        faults.append(Fault(path.name, f"line {line}", f"'{cell}' is not a number.", "Fill the hole."))
        return 0.0
