"""The verb that holds a crew's readings against the model: reconcile."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from planner.faces.running import StageLine, add_inputs, add_output_options, finish, read

if TYPE_CHECKING:
    from planner.domain.results.calibration import Calibration
    from planner.domain.results.reconcile.findings import Reconciliation


def add_reconcile_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    """
    verb = verbs.add_parser("reconcile", help="hold a log of readings against the model: panels, loads, bank, sky")
    add_inputs(verb)
    verb.add_argument(
        "logs", type=Path, nargs="+", metavar="LOG.csv", help="readings of the passage, one file or several"
    )
    add_log_options(verb)
    verb.add_argument(
        "--calibrate", action="store_true", help="write a boat file by what the readings showed, beside the old one"
    )
    verb.add_argument("--out", type=Path, metavar="DIR", help="folder for the page and the figures")
    add_output_options(verb)
    verb.set_defaults(run=_reconcile)


def add_log_options(verb: argparse.ArgumentParser) -> None:
    """Add what says how a log is to be read."""
    verb.add_argument("--map", dest="mapping", type=Path, metavar="FILE.toml", help="what the log's headings mean")
    clock = verb.add_mutually_exclusive_group()
    clock.add_argument(
        "--utc", dest="clock", action="store_const", const="utc", help="the log keeps UTC where it does not say"
    )
    clock.add_argument(
        "--ship-time", dest="clock", action="store_const", const="ship", help="the log keeps ship's time, likewise"
    )


def _reconcile(options: argparse.Namespace) -> None:
    from planner.app.verbs.calibrate import calibrate
    from planner.app.verbs.reconcile import reconcile
    from planner.presentation.outputs import text_of, write

    changes: list[Calibration] = []

    def work(on_stage: StageLine) -> Reconciliation:
        inputs = read(options)
        found = reconcile(inputs, options.logs, mapping=options.mapping, clock=options.clock, on_stage=on_stage)
        if options.calibrate:
            changes.append(calibrate(found, inputs))
        return found

    finish(options, work)
    for calibration in changes:
        write(calibration, calibration.old.parent)
        if not options.json:
            print(f"\n{text_of(calibration)}", end="")
