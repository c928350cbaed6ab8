"""The text of a file in UTF-8, or what its bytes are instead."""

from __future__ import annotations

import codecs
import re
from pathlib import Path
from typing import Final

from planner.domain.errors import Fault, InputError

SAVE: Final = "Open it in the editor or spreadsheet that it comes from, and save it with the encoding UTF-8."
_DECLARED = re.compile(rb"\s*<\?xml[^>]*\sencoding\s*=\s*[\"']([A-Za-z][\w.-]*)[\"']")
BINARY: Final = 0.01  # 1, part of the letters that no text has; more make a file binary


def read_utf8(path: Path) -> str:
    """Return a file's text.

    Parameters
    ----------
    path : Path
        In UTF-8, with or without a byte-order mark.

    Raises
    ------
    InputError
        When it is in another encoding, or no text: with the line, and how to save it.
    """
    content = path.read_bytes()
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
    content = path.read_bytes()
    declared = _DECLARED.match(content)
    if declared is not None:
        try:
            return content.decode(declared[1].decode("ascii"))
        except (LookupError, UnicodeDecodeError):  # an encoding that is not known, or another than is declared
            pass
    return read_utf8(path)


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
