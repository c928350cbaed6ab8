"""The one door for files of text: their size, their encoding, and what their parsers raise."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from planner.domain.errors import Fault, InputError

SAVE: Final = "Open it in the editor or spreadsheet that it comes from, and save it with the encoding UTF-8."
_DECLARED = re.compile(rb"\s*<\?xml[^>]*\sencoding\s*=\s*[\"']([A-Za-z][\w.-]*)[\"']")
MOST_BYTES: Final = 4 * 1024**2  # of a passage, boat or table
MOST_LINES: Final = 64 * 1024**2  # bytes of a track or a log: months, a line a second
BINARY: Final = 0.01  # 1, part of the letters that no text has; more make a file binary


def read_bytes(path: Path, most: int = MOST_BYTES) -> bytes:
    """Return what a file of text holds.

    Parameters
    ----------
    path : Path
    most : int
        It may hold [byte].

    Raises
    ------
    InputError
        When it is larger, or cannot be read.
    """
    try:
        size = path.stat().st_size
        if size <= most:
            return path.read_bytes()
    except OSError as error:
        raise InputError([Fault(path.name, "", f"it cannot be read: {error.strerror}.")]) from error
    problem = f"it holds {size / 1024**2:.0f} MB; {most / 1024**2:.0f} MB is the most."
    raise InputError([Fault(path.name, "", problem, "Is this the right file?")])


def parsed(parse: Callable[[str], Any], text: str, where: str, what: str, remedy: str) -> Any:
    """Return what a parser of TOML or JSON makes of a text.

    Parameters
    ----------
    parse : callable
    text, where : str
        And the name of its file, for messages.
    what, remedy : str
        What the file ought to be, and what to do where it is not.

    Raises
    ------
    InputError
        When the parser does not understand it.
    """
    try:
        return parse(text)
    except RecursionError as error:
        raise InputError([Fault(where, "", f"this is no {what}: it is nested too deeply.", remedy)]) from error
    except ValueError as error:  # of the form, with line and column, or of a number of thousands of digits
        raise InputError([Fault(where, "", f"this is no {what}: {str(error).rstrip('.')}.", remedy)]) from error


def csv_rows(text: str, where: str, *, separator: str = ",") -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a table, each with the number of its last line.

    Parameters
    ----------
    text, where : str
        And the name of its file, for messages.
    separator : str
        Between cells.

    Raises
    ------
    InputError
        When the cells cannot be told apart.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True)
    try:
        yield from ((reader.line_num, row) for row in reader)
    except csv.Error as error:
        remedy = "A quotation mark that is opened and not closed swallows the lines after it."
        problem = f"the cells cannot be told apart: {error}."
        raise InputError([Fault(where, f"line {reader.line_num}", problem, remedy)]) from error


def read_utf8(path: Path, most: int = MOST_BYTES) -> str:
    """Return a file's text.

    Parameters
    ----------
    path : Path
        In UTF-8, with or without a byte-order mark.
    most : int
        It may hold [byte].

    Raises
    ------
    InputError
        When it is in another encoding, or no text: with the line, and how to save it; or too large.
    """
    content = read_bytes(path, most)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError([not_utf8(content, error.start, path.name)]) from error


def read_xml(path: Path) -> str:
    """Return the text of an XML file in the encoding that it declares, or in UTF-8 where it declares none.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        When it is in another encoding than it declares, or no text.

    References
    ----------
    W3C Extensible Markup Language (XML) 1.0, fifth edition, section 4.3.3.
    """
    content = read_bytes(path, MOST_LINES)
    declared = _DECLARED.match(content)
    if declared is not None:
        try:
            return content.decode(declared[1].decode("ascii"))
        except (LookupError, UnicodeError):  # an encoding that is not known, or another than is declared
            pass
    return read_utf8(path, MOST_LINES)


def not_utf8(content: bytes, place: int, where: str) -> Fault:
    """Return the fault of bytes that are not UTF-8.

    Parameters
    ----------
    content : bytes
    place : int
        Of the first byte that cannot be understood.
    where : str
        Name of the file.
    """
    line = content.count(b"\n", 0, place) + 1
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return Fault(where, "", "the file is text in UTF-16, not in UTF-8.", SAVE)
    if is_binary(content):
        problem = f"byte {place} is not UTF-8, and the file is no text."
        return Fault(where, f"line {line}", problem, "Name the right file.")
    problem = f"byte {place} is not UTF-8 text; the letters seem to be in Latin-1 (Windows-1252)."
    return Fault(where, f"line {line}", problem, SAVE)


def is_binary(content: bytes) -> bool:
    """Tell whether bytes, read as Latin-1, hold more that is no letter than text does."""
    text = content.decode("latin-1")
    return sum(not letter.isprintable() and not letter.isspace() for letter in text) > BINARY * len(text)
