"""Files that are there whole or not at all, and on the disk when that is said."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from planner.domain.errors import Fault, InputError, OutputError

SCRATCH = ".partial-"
UNHARMED = "What was there before is unharmed."
STALE_S = 24 * 3600.0  # s; scratch of that age is a dead process's


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8; as ``write_whole``."""
    write_whole(path, lambda made: made.write_text(text, encoding="utf-8"))


def write_new(path: Path, content: str | bytes) -> tuple[Path]:
    """Write text, or bytes, to a name that is free yet; as ``write_whole``, which is refused where it is taken."""
    with failures_reported(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(exist_ok=False)  # the name is ours
    try:
        whole = content.encode("utf-8") if isinstance(content, str) else content
        write_whole(path, lambda made: made.write_bytes(whole))
    except OutputError:
        path.unlink()
        raise
    return (path,)


def write_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file in a hidden folder beside its place and move it there; missing folders are made.

    Scratch that is older than a day is removed.

    Parameters
    ----------
    path : Path
    write : callable
        Writes the file to the path that it is given.

    Raises
    ------
    OutputError
        When it cannot be written; an earlier file is left as it was.
    """
    with failures_reported(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        for left in path.parent.glob(f"{SCRATCH}*"):
            if left.is_dir() and time.time() - left.stat().st_mtime > STALE_S:
                shutil.rmtree(left, ignore_errors=True)
        with tempfile.TemporaryDirectory(prefix=SCRATCH, dir=path.parent) as scratch:
            made = Path(scratch) / path.name
            write(made)
            to_disk(made)
            os.replace(made, path)


def to_disk(path: Path) -> None:
    """Have the system put a file, or the list of a folder's entries, on the disk.

    Windows keeps a folder's entries by itself and opens no folder; some network disks take no such order for folders.
    """
    is_folder = path.is_dir()
    if is_folder and os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY if is_folder else os.O_RDWR)
    try:
        os.fsync(handle)
    except OSError as error:
        if not is_folder or error.errno != errno.EINVAL:
            raise
    finally:
        os.close(handle)


@contextmanager
def failures_reported(path: Path, standing: Callable[[], str] = lambda: UNHARMED) -> Iterator[None]:
    """Turn the system's refusals while something is written into one sentence.

    Parameters
    ----------
    path : Path
        What is written.
    standing : callable
        Returns a sentence on what stands there now.

    Raises
    ------
    OutputError
    """
    try:
        yield
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError(
            f"'{path}' could not be written ({why}{_room(path)}). {standing()} "
            "Free some space, or name another place."
        ) from error


def _room(path: Path) -> str:
    """Return in words how much room a disk has: libraries call a full one by other names."""
    nearest = next((parent for parent in (path, *path.absolute().parents) if parent.exists()), None)
    return f"; {shutil.disk_usage(nearest).free / 1e6:.1f} MB are free there" if nearest else ""


def refuse_unwritable(path: Path, option: str) -> None:
    """Refuse, before anything is computed, the name of a file that could not be written.

    Parameters
    ----------
    path : Path
    option : str
        That names it.

    Raises
    ------
    InputError
    """
    nearest = next((parent for parent in path.absolute().parents if parent.exists()), Path(path.anchor))
    if path.is_dir():
        problem = f"'{path}' is a folder, and a file is needed."
    elif not nearest.is_dir():
        problem = f"'{path}' cannot be: '{nearest}' is a file."
    elif not os.access(nearest, os.W_OK):
        problem = f"'{path}' cannot be: '{nearest}' cannot be written to."
    else:
        return
    raise InputError([Fault(option, "", problem, "Name a file in a folder of your own.")])
