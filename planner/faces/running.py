"""How every verb is run: on stderr what it is at, on stdout the result, and its files where the options ask."""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self, TypeVar

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

    from planner.domain.inputs.given import Inputs

ResultT = TypeVar("ResultT")
DONE, FAILED, WRONG_INPUT = 0, 1, 2
COLUMNS = 100  # where there is no terminal
FEWEST_COLUMNS, MOST_COLUMNS = 60, 120  # of a terminal: fewer cannot be kept apart, more tire the eye


def add_inputs(verb: argparse.ArgumentParser) -> None:
    """Give a verb the passage file and ``--set``."""
    verb.add_argument("passage", type=Path, metavar="PASSAGE.toml", help="the passage file")
    verb.add_argument(
        "--set",
        dest="overrides",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help="override an input by its dotted key, such as start.state_of_charge=0.8 or boat.bank.capacity_ah=400",
    )


def add_output_options(verb: argparse.ArgumentParser, *, quiet: str = "no progress") -> None:
    """Add to a verb the options of its output.

    Parameters
    ----------
    verb : ArgumentParser
    quiet : str
        What ``--quiet`` leaves out.
    """
    verb.add_argument("--json", action="store_true", help="print the result as JSON, for other programs")
    verb.add_argument("--quiet", action="store_true", help=quiet)


def add_failed_option(verb: argparse.ArgumentParser) -> None:
    """Give a verb that plans ``--failed``."""
    verb.add_argument(
        "--failed",
        action="append",
        default=[],
        metavar="NAME",
        help="plan without it: engine, alternator, autopilot, panels (the half that brings most), bank (off the "
        "bus), meter, or a controller by its name; may be given again",
    )


def add_days_option(verb: argparse.ArgumentParser) -> None:
    """Give a verb that plans ``--days``."""
    verb.add_argument(
        "--days",
        choices=("next", "all"),
        default="next",
        help="show the watches of the next 24 hours, or all",
    )


def finish(options: argparse.Namespace, work: Callable[[StageLine], ResultT], *, mute: bool = False) -> ResultT:
    """Do the work of a verb; write and show what comes of it as the options ask.

    Parameters
    ----------
    options : Namespace
        ``out``, a folder for all files, and ``page``, a file for the page alone, where the verb has them.
    work : callable
        Called with what reports its stages.
    mute : bool
        Whether no text is shown.

    Returns
    -------
    object
        The result.
    """
    out, page = getattr(options, "out", None), getattr(options, "page", None)
    with StageLine(quiet=options.quiet) as on_stage:
        from planner.app.stages import WRITING
        from planner.presentation import outputs

        if page is not None:
            outputs.refuse_unwritable(page, "--page")
        with outputs.claimed(out) if out is not None else nullcontext() as place:
            for words in place.cut_short() if place is not None else ():
                print(words, file=sys.stderr)
            on_stage("reading", 0.0)
            result = work(on_stage)
            written = [] if page is None else [page]
            if page is not None or place is not None:
                on_stage("writing", WRITING)
            if page is not None:
                outputs.write_page(result, page)
            if place is not None:
                written += outputs.write_into(result, place)
    if options.json:
        print(outputs.json_of(result), end="")
    elif not mute:
        print(outputs.text_of(result, _columns(), all_days=getattr(options, "days", "next") == "all"), end="")
        for path in written:
            if path.suffix == ".html":
                print(f"Page: {path}")
    return result


def read(options: argparse.Namespace) -> Inputs:
    """Return the passage that the options name."""
    from planner.app.inputs import read_passage

    return read_passage(options.passage, typed=options.overrides)


def _columns() -> int:
    """Return the terminal's columns within what reads well."""
    return min(max(shutil.get_terminal_size((COLUMNS, 0)).columns, FEWEST_COLUMNS), MOST_COLUMNS)


class StageLine:
    """Reports each stage as it begins, on stderr: a line each, or, used as a context at a terminal, a bar.

    Parameters
    ----------
    quiet : bool
        Nothing is reported.
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
        """Report a stage, and the part of the whole that is done [0..1] where it is known."""
        if self._quiet:
            return
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, description=stage, completed=share)
        else:
            print(f"{stage} ...", file=sys.stderr)
