"""A log as a table of text: its encoding, what parts its cells, where its heading stands, lines that are whole."""

from __future__ import annotations

import codecs
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from planner.domain.errors import Fault, InputError
from planner.readers.text_file import MOST_LINES, csv_rows, is_binary, read_bytes

SEPARATORS: Final = {"\t": "tabs", ";": "semicolons", ",": "commas"}
HEADING_WITHIN: Final = 30  # lines: a recorder may put some of its own before the heading
LEAST_LINES: Final = 12  # two hours of a log every ten minutes: fewer lines say nothing
MOST_BROKEN: Final = 0.02  # 1, part of the lines that may be cut short: by a power cut, not by another layout
EXPORT = "Save the log as CSV text: a heading, then a line a reading."
_ZIP, _OLD_SHEET = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_FIGURE = re.compile(r"[-+]?\d[\d.,:/ TZ+-]*", re.IGNORECASE)
IsHeading = Callable[[Sequence[str]], bool]


@dataclass(frozen=True)
class LogTable:
    """A log's cells.

    Attributes
    ----------
    where : str
        Name of the file.
    heading : tuple of str
        Of each column.
    lines : tuple of int
        Number of each row's line in the file.
    rows : tuple of tuple of str
        As many cells as columns.
    notes : tuple of str
        What was repaired or dropped.
    """

    where: str
    heading: tuple[str, ...]
    lines: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]


def read_table(path: Path, *, is_heading: IsHeading) -> LogTable:
    """Read a log's cells.

    Parameters
    ----------
    path : Path
    is_heading : callable
        Whether cells are a heading that can be read.

    Raises
    ------
    InputError
        When it is no table of text with a heading, or its lines do not keep to it.
    """
    notes: list[str] = []
    text = _text(path, notes)
    separator, at = _heading(text, path.name, is_heading)
    rows_of = csv_rows(text, path.name, separator=separator)
    numbered = [(line, tuple(cell.strip() for cell in row)) for line, row in rows_of]
    heading = _without_tail(next(cells for line, cells in numbered if line == at))
    _no_twins(heading, path.name)
    below = [(line, cells) for line, cells in numbered if line > at and any(cells)]
    below = [(line, cells) for line, cells in below if not cells[0].startswith("#") and cells != heading]
    if at > 1:
        notes.append(f"{path.name}: {at - 1} line{'s' if at > 2 else ''} above the heading passed over.")
    lines, rows = _whole_rows(below, heading, separator, path.name, notes)
    if len(rows) < LEAST_LINES:
        problem = f"{len(rows)} line{'s' if len(rows) != 1 else ''} of readings; {LEAST_LINES} are the fewest."
        remedy = "A longer log tells more: give the next days' logs with it."
        raise InputError([Fault(path.name, "", problem, remedy)])
    return LogTable(path.name, heading, lines, rows, tuple(notes))


def _text(path: Path, notes: list[str]) -> str:
    if not path.is_file():
        raise InputError([Fault(path.name, "", f"there is no file '{path}'.", "Check the name and the folder.")])
    content = read_bytes(path, MOST_LINES)
    if not content.strip():
        raise InputError([Fault(path.name, "", "the file is empty.", "Was the log exported before it was filled?")])
    if content.startswith((_ZIP, _OLD_SHEET)):
        raise InputError([Fault(path.name, "", "this is a workbook or an archive, no text.", EXPORT)])
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return content.decode("utf-16")
        except UnicodeDecodeError as error:
            problem = f"byte {error.start} is no UTF-16 text, as the file begins: it is probably cut short."
            raise InputError([Fault(path.name, "", problem, EXPORT)]) from error
    zeros = content.count(b"\0")
    if zeros:
        problem = f"{zeros} bytes of zero: this is no text, or the recorder lost power while it wrote."
        raise InputError([Fault(path.name, f"byte {content.index(0)}", problem, EXPORT)])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if is_binary(content):
            problem = f"byte {error.start} is no text; this is a binary file."
            raise InputError([Fault(path.name, "", problem, EXPORT)]) from error
        notes.append(f"{path.name}: not UTF-8; its letters were read as Latin-1.")
        return content.decode("latin-1")


def _heading(text: str, where: str, is_heading: IsHeading) -> tuple[str, int]:
    """Return what parts the cells, and the number of the line that is the heading."""
    likely: tuple[str, int] | None = None
    figures = False
    for separator in SEPARATORS:
        for line, row in csv_rows(text, where, separator=separator):
            cells = _without_tail([cell.strip() for cell in row])
            if is_heading(cells):
                return separator, line
            if len(cells) > 1 and not cells[0].startswith("#"):
                lead = any(_FIGURE.fullmatch(cell) for cell in cells)
                figures |= lead
                if not lead and likely is None and all(cells):
                    likely = separator, line
            if line >= HEADING_WITHIN:
                break
    if likely is None and figures:
        problem = "no heading: the lines hold figures from the first on."
        raise InputError(
            [Fault(where, "line 1", problem, "Write a heading, such as: time,SOC %,bank V,bank A,arch W")]
        )
    if likely is None:
        problem = "this is text, no table: no line has cells parted by commas, semicolons or tabs."
        raise InputError([Fault(where, "", problem, EXPORT)])
    return likely


def _without_tail(cells: Sequence[str]) -> tuple[str, ...]:
    kept = list(cells)
    while kept and not kept[-1]:
        kept.pop()
    return tuple(kept)


def _no_twins(heading: Sequence[str], where: str) -> None:
    counts = Counter(heading)
    faults = [
        Fault(where, f"'{name}'", f"{count} columns have this heading.", "Rename all but one, so that each is known.")
        if name
        else Fault(where, "heading", f"{count} columns have no heading.", "Write a heading over each.")
        for name, count in counts.items()
        if count > 1 or not name
    ]
    if faults:
        raise InputError(faults)


def _whole_rows(
    numbered: Sequence[tuple[int, tuple[str, ...]]],
    heading: tuple[str, ...],
    separator: str,
    where: str,
    notes: list[str],
) -> tuple[tuple[int, ...], tuple[tuple[str, ...], ...]]:
    """Return the rows that keep to the heading; a few that were cut short are dropped."""
    wide = len(heading)
    kept, broken = [], []
    for line, cells in numbered:
        row = cells[:wide] if len(cells) > wide and not any(cells[wide:]) else cells
        if len(row) == wide:
            kept.append((line, row))
        else:
            broken.append((line, row))
    if len(broken) > max(1.0, MOST_BROKEN * len(numbered)):
        raise InputError([_other_layout(broken, wide, separator, where)])
    if broken:
        named = ", ".join(str(line) for line, _ in broken[:5]) + (" ..." if len(broken) > 5 else "")
        notes.append(f"{where}: {len(broken)} cut or broken line{'s' if len(broken) > 1 else ''} dropped ({named}).")
    return tuple(line for line, _ in kept), tuple(row for _, row in kept)


def _other_layout(broken: Sequence[tuple[int, tuple[str, ...]]], wide: int, separator: str, where: str) -> Fault:
    line, cells = broken[0]
    together = separator.join(cells)
    for other, name in SEPARATORS.items():
        if other != separator and together.count(other) == wide - 1:
            problem = f"cells parted by {name}, the heading's by {SEPARATORS[separator]}."
            return Fault(where, f"line {line}", problem, "Use one separator throughout: export the log again.")
    problem = f"{len(cells)} cells where the heading has {wide}; so in {len(broken)} lines."
    if separator == "," and len(cells) > wide:
        remedy = "Decimals written with a comma in a log parted by commas? Part the cells by semicolons."
    else:
        remedy = "Are two logs of different headings joined in one file? Give them as two."
    return Fault(where, f"line {line}", problem, remedy)
