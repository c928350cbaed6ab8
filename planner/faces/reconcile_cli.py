"""The verb that holds a crew's readings against the model: reconcile."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from planner.faces.stages import add_saying, say, teller

AddInputs = Callable[[argparse.ArgumentParser], None]


def add_reconcile_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser], add_inputs: AddInputs) -> None:
    """Add the verb to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    add_inputs : callable
        Gives a verb the passage file and ``--set``.
    """
    verb = verbs.add_parser("reconcile", help="hold a log of readings against the model: panels, loads, bank, sky")
    add_inputs(verb)
    verb.add_argument(
        "logs", type=Path, nargs="+", metavar="LOG.csv", help="readings of the passage, one file or several"
    )
    verb.add_argument("--map", dest="mapping", type=Path, metavar="FILE.toml", help="what the log's headings mean")
    clock = verb.add_mutually_exclusive_group()
    clock.add_argument(
        "--utc", dest="clock", action="store_const", const="utc", help="the log keeps UTC where it does not say"
    )
    clock.add_argument(
        "--ship-time", dest="clock", action="store_const", const="ship", help="the log keeps ship's time, likewise"
    )
    verb.add_argument(
        "--calibrate", action="store_true", help="write a boat file by what the readings showed, beside the old one"
    )
    verb.add_argument("--out", type=Path, metavar="DIR", help="folder for the page and the figures")
    add_saying(verb)
    verb.set_defaults(run=_reconcile)


def _reconcile(options: argparse.Namespace) -> int:
    with teller(options) as tell:
        from planner.app.verbs.reconcile import reconcile_files

        done = reconcile_files(
            options.passage,
            options.logs,
            options.overrides,
            mapping_file=options.mapping,
            clock=options.clock,
            folder=options.out,
            calibrates=options.calibrate,
            tell=tell,
        )
    say(done.told, options)
    if not options.json:
        for path in done.files:
            print(f"Written: {path}")
    return 0
