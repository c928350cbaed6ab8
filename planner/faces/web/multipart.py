"""Forms with files (RFC 7578), read from the connection piece by piece, never held whole."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http import HTTPStatus
from pathlib import Path
from typing import BinaryIO, Final

from planner.faces.web.guard import Refusal

PIECE: Final = 64 * 1024  # bytes
MOST_PARTS: Final = 64
MOST_TEXT: Final = 64 * 1024  # bytes of one field that is no file
MOST_HEAD: Final = 4096  # bytes of one part's head
_BOUNDARY = re.compile(
    r'^multipart/form-data\s*;.*boundary=(?:"([^"]{1,70})"|([^\s;"]{1,70}))(?:[\s;]|$)', re.IGNORECASE
)
_NAME = re.compile(rb'[;\s]name="([^"\r\n]*)"', re.IGNORECASE)
_FILE_NAME = re.compile(rb'[;\s]filename="([^"\r\n]*)"', re.IGNORECASE)


@dataclass(frozen=True)
class Upload:
    """A file of a form, kept on disk.

    Attributes
    ----------
    given_name : str
        What the sender calls it; never used as a path.
    path : Path
        Where it lies.
    """

    given_name: str
    path: Path


@dataclass
class Form:
    """What a form holds.

    Attributes
    ----------
    fields : dict of str to str
        The last value of each field.
    files : dict of str to list of Upload
        Of each field, files that were really given.
    """

    fields: dict[str, str] = field(default_factory=dict)
    files: dict[str, list[Upload]] = field(default_factory=dict)


def read_multipart(
    stream: BinaryIO, *, content_type: str, length: int, folder: Path, admit: Callable[[str, str], None]
) -> Form:
    """Read a form and keep its files in a folder under names of our own.

    Parameters
    ----------
    stream : binary file
        The connection.
    content_type : str
        As the request has it, with its boundary.
    length : int
        Bytes to read and no more; the caller has held it against the limit.
    folder : Path
        For the files.
    admit : callable
        Told name and value of the first field, both empty where that is a file; raises when the form may not come
        in, before anything is kept of it.

    Returns
    -------
    Form

    Raises
    ------
    Refusal
        400 when it is no such form or breaks off, 413 when it has too many or too large parts.
    """
    match = _BOUNDARY.match(content_type)
    if match is None:
        raise Refusal(HTTPStatus.BAD_REQUEST, "The form names no boundary between its parts.")
    reader = _Parts(stream, length, b"\r\n--" + (match[1] or match[2]).encode("ascii", "replace"))
    form = Form()
    for number, (name, file_name) in enumerate(reader.heads()):
        if number >= MOST_PARTS:
            raise Refusal(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"The form has more than {MOST_PARTS} parts.")
        if file_name is None:
            form.fields[name] = _text(reader)
        if number == 0:
            admit(name if file_name is None else "", form.fields.get(name, ""))
        if file_name is not None:
            path = folder / f"upload-{number}"
            with path.open("wb") as kept:
                for piece in reader.body():
                    kept.write(piece)
            if file_name:
                form.files.setdefault(name, []).append(Upload(file_name, path))
    return form


def _text(reader: _Parts) -> str:
    value = b""
    for piece in reader.body():
        value += piece
        if len(value) > MOST_TEXT:
            raise Refusal(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "A field of the form is too long.")
    return value.decode("utf-8", "replace")


class _Parts:
    """Walks from part to part, holding a piece of the connection at a time."""

    def __init__(self, stream: BinaryIO, length: int, mark: bytes) -> None:
        self._stream = stream
        self._left = length
        self._mark = mark
        self._held = b"\r\n"  # so that the first mark looks like every other

    def heads(self) -> Iterator[tuple[str, str | None]]:
        """Yield name and, of a file, its given name; the body must be read before the next."""
        for _ in self.body():  # what stands before the first mark means nothing
            pass
        while True:
            while len(self._held) < 2:
                self._fill()
            if self._held.startswith(b"--"):
                return
            head = self._until_blank_line()
            name = _NAME.search(head)
            if name is None:
                raise Refusal(HTTPStatus.BAD_REQUEST, "A part of the form has no name.")
            given = _FILE_NAME.search(head)
            yield name[1].decode("utf-8", "replace"), given and given[1].decode("utf-8", "replace")

    def body(self) -> Iterator[bytes]:
        """Yield the pieces up to the next mark and pass it."""
        while True:
            at = self._held.find(self._mark)
            if at >= 0:
                piece, self._held = self._held[:at], self._held[at + len(self._mark) :]
                yield piece
                return
            safe = len(self._held) - len(self._mark) + 1
            if safe > 0:
                piece, self._held = self._held[:safe], self._held[safe:]
                yield piece
            self._fill()

    def _until_blank_line(self) -> bytes:
        while (at := self._held.find(b"\r\n\r\n")) < 0:
            if len(self._held) > MOST_HEAD:
                raise Refusal(HTTPStatus.BAD_REQUEST, "A part of the form has too long a head.")
            self._fill()
        head, self._held = self._held[:at], self._held[at + 4 :]
        return head

    def _fill(self) -> None:
        piece = self._stream.read(min(PIECE, self._left))
        if not piece:
            raise Refusal(HTTPStatus.BAD_REQUEST, "The form breaks off. Send it again.")
        self._left -= len(piece)
        self._held += piece
