"""A forecast file fetched whole by HTTP, and gone on with where a connection was cut."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from http.client import HTTPResponse
from pathlib import Path
from typing import Final

from planner.domain.addresses import Address
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.file import refuse_other_kinds
from planner.readers.network.keeping import CHUNK, Kept, keep, written
from planner.readers.network.transport import CutError, StatusError, again, answer, refused

PART: Final = ".part"
PARTIAL: Final = 206
UNSATISFIABLE: Final = 416
OnSize = Callable[[int | None], None]
"""Called before anything is read, with how many bytes will be; None where the server does not say."""
_RANGE: Final = re.compile(r"bytes (\d+)-\d+/(\d+)")


@dataclass(frozen=True)
class _Version:
    """What tells one version of a file at an address from another.

    Attributes
    ----------
    address : str
        Digest of what is asked for.
    tag : str
        Strong entity tag, or the date of the last change, as ``If-Range`` takes it; empty where there is neither.
    size : int or None
    """

    address: str
    tag: str
    size: int | None


def fetch_file(address: Address, folder: Path, *, most_bytes: int, on_size: OnSize) -> Kept:
    """Fetch what lies at an address as one file.

    What has come when the connection is cut stays beside its place, under a hidden name, and the next call goes on
    from there (RFC 9110, sections 13.1.5 and 14) while the server says that it is the same file still.

    Parameters
    ----------
    address : Address
    folder : Path
    most_bytes : int
        More are refused, before they are read where the server tells the size.
    on_size : callable

    Raises
    ------
    InputError
        When there is no file, it is too large, neither NetCDF nor GRIB, or the connection is cut again and again.
    OutputError
        When it cannot be written.
    """
    part = folder / f".{address.file_name}{PART}"
    left = part.stat().st_size if part.exists() else 0
    fetching = _Fetching(address, part, most_bytes, on_size)

    try:
        again(address, fetching.go_on, kept=fetching.kept)
    except StatusError as error:
        raise refused(address, error) from None
    with part.open("rb") as file:
        head = file.read(CHUNK)
    try:
        refuse_other_kinds(head, address.shown)
    except InputError:
        fetching.forget()
        raise
    done = keep(part, folder, address.file_name, resumed_bytes=left if fetching.resumed else 0)
    fetching.forget()
    return done


class _Fetching:
    """One file on its way."""

    def __init__(self, address: Address, part: Path, most_bytes: int, on_size: OnSize) -> None:
        self._address, self._part, self._most, self._on_size = address, part, most_bytes, on_size
        self._told = part.with_name(f"{part.name}.json")
        self._asked = hashlib.sha256(address.asking().encode()).hexdigest()
        self.resumed = False

    def go_on(self) -> None:
        """Fetch what is still lacking."""
        version, held = self._known()
        headers = {"Range": f"bytes={held}-", "If-Range": version.tag} if version and held else {}
        if version is not None and held and held == version.size:
            return
        try:
            with answer(self._address, headers=headers) as response:
                self._take(response, held if headers else 0)
        except StatusError as error:
            if error.code != UNSATISFIABLE or not headers:
                raise
            self.forget()
            raise CutError("the file has become another meanwhile") from None

    def kept(self) -> str:
        """Say how much of the file another call would find."""
        held = self._known()[1]
        return f"{held / 1e3:.0f} kB of it have come, and are kept." if held else ""

    def forget(self) -> None:
        """Remove what is there of an unfinished file."""
        self._part.unlink(missing_ok=True)
        self._told.unlink(missing_ok=True)

    def _known(self) -> tuple[_Version | None, int]:
        """Return of which version a part is there, and how much; None where it is not certain."""
        try:
            version = _Version(**json.loads(self._told.read_text(encoding="utf-8")))
            held = self._part.stat().st_size
        except (FileNotFoundError, ValueError, TypeError):
            return None, 0
        known = version.address == self._asked and version.tag and held <= (version.size or self._most)
        return (version, held) if known else (None, 0)

    def _take(self, response: HTTPResponse, held: int) -> None:
        """Write the body of an answer behind what is held, or anew where the answer is the whole file."""
        partial = response.status == PARTIAL
        span = _RANGE.fullmatch(response.headers.get("Content-Range", "")) if partial else None
        begin = int(span.group(1)) if span else 0
        if partial and (span is None or begin != held):
            self.forget()
            raise CutError("the server gives another part of the file than was asked for")
        length = response.headers.get("Content-Length", "")
        size = int(span.group(2)) if span else int(length) if length.isdecimal() else None
        self._on_size(None if size is None else size - begin)
        self._refuse_above(size or 0)
        tag = response.headers.get("ETag", "")
        tag = response.headers.get("Last-Modified", "") if not tag or tag.startswith("W/") else tag
        self.resumed = self.resumed or begin > 0
        with written(self._part):
            file = self._part.open("ab" if begin else "wb")
        with file:
            with written(self._told):
                self._told.write_text(json.dumps(asdict(_Version(self._asked, tag, size))), encoding="utf-8")
            here = begin
            while chunk := response.read(CHUNK):
                here += len(chunk)
                self._refuse_above(here)
                with written(self._part):
                    file.write(chunk)
        if size is not None and here < size:
            raise CutError(f"the connection was cut after {here / 1e3:.0f} of {size / 1e3:.0f} kB")
        if (size is not None and here > size) or not self._part.exists() or self._part.stat().st_size != here:
            self.forget()
            raise CutError("more came than the file holds, or another fetch wrote to it at the same time")

    def _refuse_above(self, size: int) -> None:
        if size > self._most:
            self.forget()
            problem = f"it is of {size / 1e6:.1f} MB or more, and no more than {self._most / 1e6:g} MB are fetched."
            remedy = "Take a smaller area or fewer members, or allow for it by --limit."
            raise InputError([Fault(self._address.shown, "", problem, remedy)])
