"""Figures of a log: numbers with points or commas, engine on and off, and the step that a display counts by."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError

EMPTY: Final = frozenset({"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "?"})
ON: Final = frozenset({"1", "on", "yes", "y", "true", "running", "run"})
OFF: Final = frozenset({"0", "off", "no", "n", "false", "stopped", "stop"})
SHOWN: Final = 3  # faults of a column that are named before the rest are counted
MOST_SPOILT: Final = 0.02  # 1, part of a column's cells that may be no numbers
_NUMBER = re.compile(r"([-+\N{MINUS SIGN}]?)\s*(\d+(?:[.,]\d*)?|[.,]\d+)\s*(?:%|[vVaAwW]|[aA][hH])?")
_COMMA, _POINT = re.compile(r"\d+,\d+"), re.compile(r"\d+\.\d+")


@dataclass(frozen=True)
class LogColumn:
    """Cells under a heading.

    Attributes
    ----------
    where, heading : str
        File and heading.
    lines : tuple of int (line,)
        Numbers of the cells' lines in the file.
    cells : tuple of str (line,)
    """

    where: str
    heading: str
    lines: tuple[int, ...]
    cells: tuple[str, ...]


def decimal_of(columns: Sequence[LogColumn], where: str) -> str:
    """Return what parts wholes and decimals in a log: ',' or '.'.

    Parameters
    ----------
    columns : sequence of LogColumn
        Those of numbers.
    where : str
        Name of the file.

    Raises
    ------
    InputError
        When both occur.
    """
    commas = next((cell for column in columns for cell in column.cells if _COMMA.search(cell)), None)
    points = next((cell for column in columns for cell in column.cells if _POINT.search(cell)), None)
    if commas and points:
        problem = f"decimals with a comma ('{commas}') and with a point ('{points}')."
        remedy = 'Are the commas for thousands? Then drop them. Else say in a mapping file: decimal = "," or ".".'
        raise InputError([Fault(where, "decimals", problem, remedy)])
    return "," if commas else "."


def numbers(column: LogColumn, *, decimal: str) -> tuple[Floats, str]:
    """Return a column's numbers, NaN where a cell is empty or spoilt, and a note on what was spoilt.

    Parameters
    ----------
    column : LogColumn
        A unit may stand behind the figures.
    decimal : str
        '.' or ','.

    Returns
    -------
    values : array (line,)
    note : str
        May be empty.

    Raises
    ------
    InputError
        When more than a few are no numbers.
    """
    values = np.full(len(column.cells), np.nan)
    spoilt: list[int] = []
    for place, cell in enumerate(column.cells):
        if cell.casefold() in EMPTY:
            continue
        found = _NUMBER.fullmatch(cell)
        if found is None or ("," if decimal == "." else ".") in found[2]:
            spoilt.append(place)
            continue
        size = float(found[2].replace(",", "."))
        values[place] = -size if found[1] in {"-", "\N{MINUS SIGN}"} else size
    return values, _spoilt_note(column, spoilt, "a number")


def flags(column: LogColumn) -> tuple[Floats, str]:
    """Return a column of on and off as 1 and 0, NaN where a cell is empty or spoilt, and a note on what was spoilt.

    Parameters
    ----------
    column : LogColumn
        1, on, yes, true, running; or 0, off, no, false, stopped.

    Returns
    -------
    values : array (line,)
    note : str
        May be empty.

    Raises
    ------
    InputError
        When more than a few are neither.
    """
    values = np.full(len(column.cells), np.nan)
    spoilt: list[int] = []
    for place, cell in enumerate(column.cells):
        word = cell.casefold().removesuffix(".0")
        if word in ON or word in OFF:
            values[place] = float(word in ON)
        elif word not in EMPTY:
            spoilt.append(place)
    return values, _spoilt_note(column, spoilt, "on or off")


def resolution(values: Floats) -> float:
    """Return the step that a column counts by: the largest that all its figures are whole multiples of.

    Parameters
    ----------
    values : array (line,)
        NaN is passed over.

    Returns
    -------
    float
        In the unit of the column; NaN where nothing was read, or nothing but zero.
    """
    read = np.unique(values[np.isfinite(values)])
    for decimals in range(7):
        scaled = read * 10.0**decimals
        if np.all(np.abs(scaled - np.round(scaled)) < 1e-6 + 1e-12 * np.abs(scaled)):
            step = int(np.gcd.reduce(np.round(scaled).astype(np.int64), initial=0))
            return step / 10.0**decimals if step else float("nan")
    return 0.0


def _spoilt_note(column: LogColumn, spoilt: Sequence[int], wanted: str) -> str:
    if not spoilt:
        return ""
    where, heading, cells = column.where, column.heading, column.cells
    if len(spoilt) > max(2.0, MOST_SPOILT * len(cells)):
        faults = [
            Fault(where, f"line {column.lines[place]}, '{heading}'", f"'{cells[place]}' is not {wanted}.")
            for place in spoilt[:SHOWN]
        ]
        more = f"{len(spoilt)} cells of {len(cells)} are not {wanted}."
        remedy = "Is this the right column? A mapping file says which is; 'ignore' passes over it."
        raise InputError([*faults, Fault(where, f"'{heading}'", more, remedy)])
    named = ", ".join(f"'{cells[place]}' in line {column.lines[place]}" for place in spoilt[:SHOWN])
    return f"{where}: {len(spoilt)} cells of '{heading}' that are not {wanted} left out ({named})."
