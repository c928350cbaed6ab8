"""The command ``passage-energy VERB ...``: parse, call the application layer, show."""

from __future__ import annotations

import argparse
import logging
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from planner.domain.addresses import masked
from planner.domain.errors import InputError, OutputError, PlannerError
from planner.domain.version import __version__
from planner.faces.log_file import logged
from planner.faces.reconcile_cli import add_reconcile_verb
from planner.faces.running import (
    DONE,
    FAILED,
    WRONG_INPUT,
    add_days_option,
    add_failed_option,
    add_inputs,
    add_output_options,
    finish,
    read,
)
from planner.faces.serve_cli import add_serve_verb
from planner.faces.start_cli import add_start_verbs
from planner.faces.studies_cli import add_study_verbs
from planner.faces.watched import watched
from planner.faces.weather_cli import add_weather_verb

if TYPE_CHECKING:
    from planner.app.stages import OnStage
    from planner.domain.results.plan import Plan

log = logging.getLogger(__name__)

CAUTION = "A planning aid, not for navigation; forecasts err. The report carries the cautions: read them."


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Without the program's name; taken from the process when None.

    Returns
    -------
    int
        Exit status: 0 done, 2 the input is wrong or the output cannot be written, 1 anything else.
    """
    given = sys.argv[1:] if arguments is None else list(arguments)
    options = _parser().parse_args(given)
    run = partial(_run, options, given)
    return watched(run) if arguments is None and options.watched else run()  # a program that calls may have threads


def _run(options: argparse.Namespace, given: Sequence[str]) -> int:
    try:
        with logged(options.log):
            log.info("passage-energy %s: %s", __version__, " ".join(map(masked, given)))
            status = _outcome(options)
            log.info("ended with status %d", status)
            return status
    except InputError as error:  # of the log itself
        return _complain(error)


def _outcome(options: argparse.Namespace) -> int:
    """Run the verb and return its exit status; what goes wrong is reported on stderr, and noted in the log."""
    status = FAILED
    try:
        return options.run(options) or DONE
    except InputError as error:
        return _complain(error)
    except OutputError as error:
        words, status = str(error), WRONG_INPUT
    except PlannerError as error:
        words = str(error)
    except OSError as error:  # a full disk, a file that may not be read: the system's own sentence
        place = f"'{error.filename}': " if error.filename else ""
        words = f"{place}{error.strerror or error}"
    except Exception:
        log.exception("the planner failed")
        raise
    log.error("%s", words)
    print(f"passage-energy: {masked(words)}", file=sys.stderr)
    return status


def _complain(error: InputError) -> int:
    count = len(error.faults)
    print(f"passage-energy: {count} fault{'s' if count > 1 else ''} in the input", file=sys.stderr)
    for fault in error.faults:
        log.error("%s", fault)
        print(f"  {masked(str(fault))}", file=sys.stderr)
    return WRONG_INPUT


class _Parser(argparse.ArgumentParser):
    """Repeats what it does not understand without the secrets of an address."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong, and end."""
        super().error(masked(message))


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = _Parser(
        prog="passage-energy",
        description="Plan a yacht's battery bank, engine charging and watch bill for a passage on solar panels.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"passage-energy {__version__}")
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)

    plan = verbs.add_parser("plan", help="plan the passage and write the report, watch bill and data")
    add_inputs(plan)
    plan.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the outputs")
    add_failed_option(plan)
    add_days_option(plan)
    add_output_options(plan, quiet="no progress and no table")
    plan.set_defaults(run=_plan)

    add_start_verbs(verbs)

    check = verbs.add_parser("check", help="find all that plan would refuse, and what is odd, without planning")
    add_inputs(check)
    add_output_options(check)
    check.set_defaults(run=_check)

    add_weather_verb(verbs)
    add_study_verbs(verbs)
    add_reconcile_verb(verbs)
    add_serve_verb(verbs)
    for name, verb in verbs.choices.items():
        verb.set_defaults(watched=name != "serve")  # whose own processes read files
        verb.add_argument("--log", type=Path, metavar="FILE", help="add what is done, and what goes wrong, to a file")
    return parser


def _plan(options: argparse.Namespace) -> None:
    from planner.app.preparing import compiled_beside
    from planner.app.verbs.plan import plan

    def planned(on_stage: OnStage) -> Plan:
        with compiled_beside() as first_run:
            if first_run:
                on_stage("preparing the compiled parts, once", 0.0)
            return plan(read(options), failed=options.failed, on_stage=on_stage)

    finish(options, planned, mute=options.quiet)


def _check(options: argparse.Namespace) -> None:
    from planner.app.verbs.check import check

    finish(options, lambda on_stage: check(options.passage, typed=options.overrides, on_stage=on_stage))


if __name__ == "__main__":
    sys.exit(main())
