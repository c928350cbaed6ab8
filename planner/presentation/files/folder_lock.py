"""A lock on a folder: one process at a time writes to it, and a process that dies leaves it free."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from planner.domain.errors import Fault, InputError
from planner.domain.file_format import SETS

LOCK = "lock"
ATTEMPTS = 20  # to open a lock file that others, who wrote nothing, remove


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder's lock; what was made for it is removed where nothing was written.

    The operating system ends the lock with the process that holds it.

    Parameters
    ----------
    folder : Path
        Made when it does not exist.

    Raises
    ------
    InputError
        When another process holds the lock, or the folder cannot be written to.
    """
    is_new = not folder.exists()
    try:
        handle = _acquired(folder)
    except (FileExistsError, NotADirectoryError):
        raise InputError(
            [Fault(str(folder), "", "a file has this name, and a folder is needed.", "Name another folder.")]
        ) from None
    except OSError as error:
        problem = f"the folder cannot be written to ({error.strerror})."
        raise InputError([Fault(str(folder), "", problem, "Name a folder of your own on a local disk.")]) from error
    try:
        yield
    finally:
        if sys.platform == "win32":  # where no open file can be removed
            os.close(handle)
        _remove_unused(folder, is_new=is_new)
        if sys.platform != "win32":
            os.close(handle)


def _acquired(folder: Path) -> int:
    path = folder / SETS / LOCK
    for _ in range(ATTEMPTS):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except FileNotFoundError:
            continue
        if not _taken(handle):
            os.close(handle)
            break
        with suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(handle), path.stat()):
                return handle
        os.close(handle)  # its holder removed it between our opening and its release
    remedy = "Wait until it is done, or name another folder."
    raise InputError([Fault(str(folder), "", "another planner is writing to this folder.", remedy)])


def _taken(handle: int) -> bool:
    """Return whether an open file is now locked for this process; False when another has it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):  # as POSIX and Windows say it
        return False
    except OSError:
        os.close(handle)
        raise
    return True


def _remove_unused(folder: Path, *, is_new: bool) -> None:
    """Remove the lock where no set stands beside it, and the folder where it was made for nothing."""
    sets = folder / SETS
    with suppress(OSError):  # what is not empty stays, and on Windows a lock that another process has opened
        for place in sets.iterdir():
            if place.is_dir():
                place.rmdir()
        (sets / LOCK).unlink()
        sets.rmdir()
        if is_new:
            folder.rmdir()
