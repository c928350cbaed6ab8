"""What was fetched, kept beside the passage: whole, under a name of its own, with its digest."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Final

from planner.domain.errors import OutputError

DIGEST: Final = ".sha256"
CHUNK: Final = 1 << 16  # bytes


@dataclass(frozen=True)
class Kept:
    """A file that was fetched.

    Attributes
    ----------
    path : Path
    size_bytes : int
    sha256 : str
        Of its bytes, in hexadecimal.
    resumed_bytes : int
        Of these, how many an earlier try had left.
    was_there : bool
        Whether the very same file lay there already.
    """

    path: Path
    size_bytes: int
    sha256: str
    resumed_bytes: int
    was_there: bool


def keep(made: Path, folder: Path, name: str, *, resumed_bytes: int) -> Kept:
    """Move a whole file to its place by one rename, with its digest beside it as ``sha256sum -c`` reads it.

    A file of that name is left as it is: plans tell by its digest what they were made from. The new one then gets a
    number; the very same file is not kept twice.

    Parameters
    ----------
    made : Path
        In the same folder.
    folder : Path
    name : str
        Wanted.
    resumed_bytes : int
        As ``Kept`` has it.
    """
    digest = digest_of(made)
    for number in count(1):
        stem, dot, ending = name.rpartition(".")
        path = folder / (name if number == 1 else f"{stem or ending}-{number}{dot + ending if stem else ''}")
        if path.exists() and digest_of(path) != digest:
            continue
        was_there, size = path.exists(), made.stat().st_size
        with written(path):
            with made.open("r+b") as file:
                os.fsync(file.fileno())
            os.replace(made, path)
            path.with_name(path.name + DIGEST).write_text(f"{digest}  {path.name}\n", encoding="utf-8")
        return Kept(path, size, digest, resumed_bytes, was_there)
    raise AssertionError("numbers do not end")


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextmanager
def written(path: Path) -> Iterator[None]:
    """Turn the system's refusals while something is written into one sentence.

    Raises
    ------
    OutputError
    """
    try:
        yield
    except OSError as error:
        problem = (
            f"'{path}' could not be written ({error.strerror or error}). Free some space, or look at its folder."
        )
        raise OutputError(problem) from error
