"""A command in a process that is watched: what hangs or crashes a file library ends in a sentence, not in silence."""

from __future__ import annotations

import mmap
import os
import signal
import sys
import threading
from collections.abc import Callable
from functools import partial
from typing import Final

from planner.faces.running import FAILED, WRONG_INPUT

ORPHANED: Final = 1  # exit status; nobody is left to read it
LONGEST_NAME: Final = 256  # bytes
PASSED_ON: Final = ("SIGTERM", "SIGHUP")


def watched(run: Callable[[], int]) -> int:
    """Return the exit status of a command that runs in a child of this process, which says what ended it.

    A fork costs a few thousandths of a second as long as nothing is imported yet. Where the system has none, on
    Windows, the command runs in this process, and reads forecasts as any other program does.

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
        from planner.app.guarding import ended_by

        print(f"passage-energy: 1 fault in the input\n  {ended_by(number, reading)}", file=sys.stderr)
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
    from planner.app.guarding import guard_with, held_back

    def tell(name: str) -> None:
        board[:] = name.encode("utf-8", "replace")[:LONGEST_NAME].ljust(LONGEST_NAME, b"\0")

    guard_with(partial(held_back, tell=tell))
