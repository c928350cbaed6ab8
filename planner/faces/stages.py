"""How the verbs tell what they are at, and what they say at the end: on stderr the work, on stdout the result."""

from __future__ import annotations

import argparse
import sys
from types import TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

    from planner.app.told import Told


def add_saying(verb: argparse.ArgumentParser, *, quiet: str = "no progress") -> None:
    """Add to a verb what decides how it speaks.

    Parameters
    ----------
    verb : ArgumentParser
    quiet : str
        What ``--quiet`` leaves out.
    """
    verb.add_argument("--json", action="store_true", help="print the result as JSON, for other programs")
    verb.add_argument("--quiet", action="store_true", help=quiet)


def say(told: Told, options: argparse.Namespace) -> None:
    """Print a result as the options ask."""
    print(told.json if options.json else told.text, end="")


class Teller:
    """Tells each stage as it begins, on stderr: a line each, or, used as a context at a terminal, a bar.

    Parameters
    ----------
    quiet : bool
        Nothing is told.
    """

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def __enter__(self) -> Self:
        if not self._quiet and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

            self._bar = Progress(
                TextColumn("{task.description}", markup=False),
                BarColumn(bar_width=24),
                TaskProgressColumn(),
                TimeElapsedColumn(),
                console=Console(stderr=True),
                transient=True,
            )
            self._task = self._bar.add_task("starting", total=1.0)
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()
            self._bar = None

    def __call__(self, stage: str, share: float | None = None) -> None:
        """Tell a stage, and the part of the whole that is done [0..1] where it is known."""
        if self._quiet:
            return
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, description=stage, completed=share)
        else:
            print(f"{stage} ...", file=sys.stderr)


def teller(options: argparse.Namespace) -> Teller:
    """Return what tells each stage, unless the options ask for quiet."""
    return Teller(quiet=options.quiet)
