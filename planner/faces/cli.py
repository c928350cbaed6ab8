"""The command ``passage-energy VERB ...``: parse, call the application layer, show."""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from planner.domain.errors import InputError, PlannerError
from planner.domain.version import __version__
from planner.faces.reconcile_cli import add_reconcile_verb
from planner.faces.serve_cli import add_serve_verb
from planner.faces.stages import add_saying, say, teller
from planner.faces.studies_cli import add_study_verbs
from planner.faces.weather_cli import add_weather_verb

DONE, FAILED, WRONG_INPUT = 0, 1, 2
FEWEST_COLUMNS, MOST_COLUMNS = (
    60,
    120,
)  # of a terminal: fewer cannot be kept apart, more tire the eye
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
        Exit status: 0 done, 2 the input is wrong, 1 anything else.
    """
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
    except InputError as error:
        _complain(error)
        return WRONG_INPUT
    except PlannerError as error:
        print(f"passage-energy: {error}", file=sys.stderr)
        return FAILED
    except OSError as error:  # a full disk, a file that may not be read: the system's own sentence
        place = f"'{error.filename}': " if error.filename else ""
        print(f"passage-energy: {place}{error.strerror or error}", file=sys.stderr)
        return FAILED
    return status


def _complain(error: InputError) -> None:
    count = len(error.faults)
    print(f"passage-energy: {count} fault{'s' if count > 1 else ''} in the input", file=sys.stderr)
    for fault in error.faults:
        print(f"  {fault}", file=sys.stderr)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="passage-energy",
        description="Plan a yacht's battery bank, engine charging and watch bill for a passage on solar panels.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"passage-energy {__version__}")
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)

    plan = verbs.add_parser("plan", help="plan the passage and write the report, watch bill and data")
    _add_inputs(plan)
    plan.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the outputs")
    add_saying(plan, quiet="no progress and no table")
    plan.set_defaults(run=_plan)

    check = verbs.add_parser("check", help="read and cross-check the input without planning")
    _add_inputs(check)
    add_saying(check)
    check.set_defaults(run=_check)

    add_weather_verb(verbs, columns=_columns)
    add_study_verbs(verbs, _add_inputs)
    add_reconcile_verb(verbs, _add_inputs)
    add_serve_verb(verbs)
    return parser


def _add_inputs(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("passage", type=Path, metavar="PASSAGE.toml", help="the passage file")
    verb.add_argument(
        "--set",
        dest="overrides",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help="override an input by its dotted key, such as start.state_of_charge=0.8 or boat.bank.capacity_ah=400",
    )


def _plan(options: argparse.Namespace) -> int:
    with teller(options) as tell:
        from planner.app.verbs.plan import TABLE_COLUMNS, write_plan

        columns = _columns(TABLE_COLUMNS)
        written = write_plan(options.passage, options.overrides, folder=options.out, tell=tell, columns=columns)
    if options.json or not options.quiet:
        say(written.told, options)
    return DONE


def _columns(wanted: int) -> int:
    """Return the terminal's columns within what reads well; so many where there is no terminal."""
    return min(max(shutil.get_terminal_size((wanted, 0)).columns, FEWEST_COLUMNS), MOST_COLUMNS)


def _check(options: argparse.Namespace) -> int:
    with teller(options) as tell:
        from planner.app.verbs.check import describe_inputs

        told = describe_inputs(options.passage, options.overrides, tell=tell)
    say(told, options)
    return DONE


if __name__ == "__main__":
    sys.exit(main())
