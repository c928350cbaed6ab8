"""Polar tables from CSV: true wind angle down, true wind speed across, boat speed within."""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path
from typing import Any

from planner.domain.errors import Fault, InputError
from planner.readers.text_file import csv_rows, is_binary, not_utf8, read_bytes


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
        With the line of every hole, non-number or row of another length; when it is no text.
    """
    if not os.path.isfile(path):
        raise InputError([Fault(str(path), "", "there is no such polar table.", "The boat file names it.")])
    lines = [(line, row) for line, row in csv_rows(_text(path), path.name) if any(cell.strip() for cell in row)]
    rows = [row for _, row in lines]
    if len(rows) < 3:
        raise InputError([Fault(path.name, "", f"{len(rows)} rows; a heading and two angles are needed.")])
    rows[0][0] = "0"  # the corner holds a label
    faults: list[Fault] = []
    numbers = [[_number(path, line, cell, faults) for cell in row] for line, row in lines]
    width = len(rows[0])
    faults += [
        Fault(path.name, f"line {line}", f"{len(row)} cells where the heading has {width}.")
        for line, row in lines
        if len(row) != width
    ]
    if not faults:
        faults += [
            Fault(
                path.name, f"line {lines[0][0]}", f"wind {after:g} follows {before:g}.", "Columns rise with the wind."
            )
            for before, after in pairwise(numbers[0][1:])
            if after <= before
        ]
        faults += [
            Fault(
                path.name, f"line {line}", f"angle {after[0]:g} follows {before[0]:g}.", "Rows rise with the angle."
            )
            for (before, after), (line, _) in zip(pairwise(numbers[1:]), lines[2:], strict=True)
            if after[0] <= before[0]
        ]
    if faults:
        raise InputError(faults)
    return {
        "true_wind_speed_kn": numbers[0][1:],
        "true_wind_angle_deg": [row[0] for row in numbers[1:]],
        "speed_kn": [row[1:] for row in numbers[1:]],
    }


def _text(path: Path) -> str:
    """Return a table's text; letters, which only its corner may hold, mean nothing, whichever way they are coded."""
    content = read_bytes(path)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if is_binary(content):
            raise InputError([not_utf8(content, error.start, path.name)]) from error
        return content.decode("latin-1")


def _number(path: Path, line: int, cell: str, faults: list[Fault]) -> float:
    try:
        return float(cell)
    except ValueError:
        faults.append(Fault(path.name, f"line {line}", f"'{cell}' is not a number.", "Fill the hole."))
        return 0.0
