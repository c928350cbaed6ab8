"""Where compiled kernels are kept when neither the program's folder nor the user's own can be written to."""

from __future__ import annotations

import os
import stat
import sys
import tempfile
from pathlib import Path

VARIABLE = "NUMBA_CACHE_DIR"
OWNER_ALONE = 0o700


def ensure_kernel_cache() -> None:
    """Give numba a temporary folder for what it compiles where it finds no place of its own, and say so on stderr.

    Every package that holds kernels calls it before they are defined: numba refuses a kernel that it cannot cache.

    Raises
    ------
    OSError
        When no temporary folder can be written to either.
    """
    import numba

    try:
        numba.njit(cache=True)(_probe)  # registered, not compiled
    except RuntimeError:  # "no locator available": numba has tried each place
        folder = _temporary_folder()
        os.environ[VARIABLE] = str(folder)  # for processes that are begun from here, which then say nothing
        numba.config.CACHE_DIR = str(folder)  # type: ignore[attr-defined]  # numba makes its settings at run time
        sys.stderr.write(
            "passage-energy: neither the program's folder nor your cache folder can be written to; compiled code is "
            f"kept in '{folder}'. Set {VARIABLE} to a folder that stays, or each start may take a minute longer.\n"
        )


def _probe() -> None:
    """Be a kernel that is never compiled."""


def _temporary_folder() -> Path:
    """Return a folder that only this user can write to, the same from run to run where that can be had.

    What is cached is loaded as code: a folder that another user could have made, or can write to, is not used.
    """
    who = str(os.getuid()) if sys.platform != "win32" else "own"  # there each user has a temporary folder
    folder = Path(tempfile.gettempdir()) / f"passage-energy-kernels-{who}"
    try:
        folder.mkdir(mode=OWNER_ALONE)
    except FileExistsError:
        if not _is_ours_alone(folder):
            return Path(tempfile.mkdtemp(prefix="passage-energy-kernels-"))
    return folder


def _is_ours_alone(folder: Path) -> bool:
    if sys.platform == "win32":
        return folder.is_dir()
    found = folder.lstat()
    return stat.S_ISDIR(found.st_mode) and found.st_uid == os.getuid() and stat.S_IMODE(found.st_mode) == OWNER_ALONE
