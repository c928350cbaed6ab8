"""A command in a process that is watched: what hangs or crashes a file library ends in a sentence, not in silence."""

from __future__ import annotations

import math
import mmap
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from planner.faces.running import FAILED, WRONG_INPUT

READING_S = 20.0  # s of processor time for a file, and
SLOWEST: Final = 2_000_000  # byte/s, as slow as a sound one may read
READING_MEMORY: Final = 3 * 1024**3  # bytes of address space beyond what the process has as it begins to read
ORPHANED: Final = 1  # exit status; nobody is left to read it
LONGEST_NAME: Final = 256  # bytes
DAMAGED: Final = "It is damaged; fetch it again."
PASSED_ON: Final = ("SIGTERM", "SIGHUP")


def watched(run: Callable[[], int]) -> int:
    """Return the exit status of a command that runs in a child of this process, which says what ended it.

    A fork costs a few thousandths of a second as long as nothing is imported yet. Where the system has none, on
    Windows, the command runs in this process, without limits.

    Parameters
    ----------
    run : callable
        Returns the exit status; it reads forecast files under ``planner.readers.forecast.guard``.
    """
    if not hasattr(os, "fork"):
        return run()
    board = mmap.mmap(-1, LONGEST_NAME)  # shared: what the child reads
    alive, life = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(life)
        end_with(alive)
        _guard(board)
        return run()
    os.close(alive)
    return _end_like(child, board)


def _end_like(child: int, board: mmap.mmap) -> int:
    """Wait for the child, and return or end as it did; what a library did to it is said."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal sends it to both
    for name in PASSED_ON:
        signal.signal(getattr(signal, name), lambda number, _: os.kill(child, number))
    _, status = os.waitpid(child, 0)
    if os.WIFEXITED(status):
        return os.WEXITSTATUS(status)
    number = signal.Signals(os.WTERMSIG(status))
    if number in {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}:
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)
    reading = board[:].rstrip(b"\0").decode("utf-8", "replace")
    if reading:
        how = "comes to no end with it" if number is signal.SIGXCPU else f"crashed ({number.name})"
        print(
            f"passage-energy: 1 fault in the input\n  {reading}: the library that reads it {how}. {DAMAGED}",
            file=sys.stderr,
        )
        return WRONG_INPUT
    print(f"passage-energy: the system ended the planner ({number.name}).", file=sys.stderr)
    return FAILED


def end_with(alive: int) -> None:
    """End this process when nobody is left to write to a pipe: when the process that holds its other end is gone.

    Parameters
    ----------
    alive : int
        The pipe, to read from.
    """

    def watch() -> None:
        while os.read(alive, 1):
            pass
        os._exit(ORPHANED)

    threading.Thread(target=watch, daemon=True).start()


def _guard(board: mmap.mmap) -> None:
    from planner.app.guarding import guard_with

    guard_with(partial(held_back, board=board))


@contextmanager
def held_back(path: Path, *, board: mmap.mmap | None = None) -> Iterator[None]:
    """Limit memory and processor time while a file is read, where the system can.

    Parameters
    ----------
    path : Path
    board : mmap, optional
        Shows the file's name while it is read.
    """
    if find_spec("resource") is None:  # Windows
        yield
        return
    import resource

    used = resource.getrusage(resource.RUSAGE_SELF)
    allowed_s = READING_S + (path.stat().st_size if path.is_file() else 0) / SLOWEST
    limits = {
        resource.RLIMIT_CPU: math.ceil(used.ru_utime + used.ru_stime + allowed_s),
        resource.RLIMIT_AS: _address_space() + READING_MEMORY,
        resource.RLIMIT_CORE: 0,
    }
    before = {kind: resource.getrlimit(kind) for kind in limits}
    for kind, (soft, hard) in before.items():
        if soft == resource.RLIM_INFINITY or limits[kind] < soft:
            resource.setrlimit(kind, (limits[kind], hard))
    name = path.name.encode("utf-8", "replace")[:LONGEST_NAME]
    if board is not None:
        board[: len(name)] = name
    try:
        yield
    finally:
        if board is not None:
            board[: len(name)] = bytes(len(name))
        for kind, limit in before.items():
            resource.setrlimit(kind, limit)


def _address_space() -> int:
    """Return the size of this process's address space [byte]; where the system does not tell, none."""
    try:
        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
    except OSError:
        return 0
