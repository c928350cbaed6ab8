"""The verbs that try something else: headings, compare, panels, replan."""

from __future__ import annotations

import argparse
from pathlib import Path

from planner.faces.reconcile_cli import add_log_options
from planner.faces.running import add_days_option, add_failed_option, add_inputs, add_output_options, finish, read


def add_study_verbs(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verbs to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    """
    _add_headings(verbs.add_parser("headings", help="what other headings and the other tack win or cost"))
    _add_compare(verbs.add_parser("compare", help="variants side by side on the same weather"))
    _add_panels(verbs.add_parser("panels", help="what each panel, its wiring and the next one are worth"))
    _add_replan(verbs.add_parser("replan", help="plan the rest from a fix and what the bank shows"))


def _add_headings(verb: argparse.ArgumentParser) -> None:
    add_inputs(verb)
    verb.add_argument(
        "--at",
        metavar="TIME",
        help="2027-05-10T09:00:00+12:00, or ship's time: 09:00, 'day 3 09:00' (departure when absent)",
    )
    verb.add_argument("--hours", type=float, default=4.0, metavar="H", help="for so long (4)")
    verb.add_argument("--step", type=float, default=10.0, metavar="DEGREES", help="between headings (10)")
    _add_shown(verb)
    verb.set_defaults(run=_headings)


def _add_compare(verb: argparse.ArgumentParser) -> None:
    add_inputs(verb)
    verb.add_argument(
        "--vary",
        action="append",
        default=[],
        metavar="KEY=V1,V2,...",
        help="values of an input; several keys make a grid; LOW..HIGH/STEP is a range, as departure=+0h..+23h/1h",
    )
    verb.add_argument("--variants", type=Path, metavar="FILE.toml", help="named variants, one [[variant]] each")
    verb.add_argument("--jobs", type=int, metavar="N", help="processes (as many as processors)")
    _add_shown(verb)
    verb.set_defaults(run=_compare)


def _add_panels(verb: argparse.ArgumentParser) -> None:
    add_inputs(verb)
    verb.add_argument("--rating", type=float, default=100.0, metavar="W", help="of the panel tried on places (100)")
    _add_shown(verb)
    verb.set_defaults(run=_panels)


def _add_replan(verb: argparse.ArgumentParser) -> None:
    add_inputs(verb)
    verb.add_argument("--fix", required=True, metavar='"LAT LON"', help="such as '30-31.2S 177-15.0E'")
    verb.add_argument(
        "--time",
        required=True,
        metavar="TIME",
        help="of the fix, as for headings --at; days are numbered from the first departure, also after a replan; a "
        "time without a day is the first such time after the last plan's start, or after departure, where the fix "
        "fits no other day",
    )
    verb.add_argument("--soc", metavar="S", help="what the battery monitor shows, 0.72 or 72%%")
    verb.add_argument("--volts", type=float, metavar="V", help="of the bank after hours of rest")
    verb.add_argument("--meter-error", type=float, metavar="E", help="standard deviation of the monitor, 0 to 0.5")
    verb.add_argument("--next", dest="following", metavar="WAYPOINT", help="next waypoint (found from the fix)")
    verb.add_argument("--last", type=Path, metavar="DIR", help="folder of the last plan, itself a replan or not")
    verb.add_argument("--engine-log", type=Path, metavar="FILE.csv", help="its runs so far: start,stop[,fuel_l]")
    verb.add_argument(
        "--readings",
        type=Path,
        nargs="+",
        default=[],
        metavar="LOG.csv",
        help="readings up to the fix, as reconcile takes them: they set the sky, and bank and meter if not typed",
    )
    add_log_options(verb)
    verb.add_argument("--fix-is-right", action="store_true", help="believe the fix whatever speed it needs")
    verb.add_argument("--out", type=Path, metavar="DIR", help="folder for the outputs, as plan writes them")
    add_failed_option(verb)
    add_days_option(verb)
    add_output_options(verb)
    verb.set_defaults(run=_replan)


def _add_shown(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--page", type=Path, metavar="FILE.html", help="write figure and tables as a page")
    add_output_options(verb)


def _headings(options: argparse.Namespace) -> None:
    from planner.app.verbs.headings import headings

    finish(
        options,
        lambda on_stage: headings(
            read(options), at=options.at, hours=options.hours, step_deg=options.step, on_stage=on_stage
        ),
    )


def _compare(options: argparse.Namespace) -> None:
    from planner.app.verbs.compare import compare

    finish(
        options,
        lambda on_stage: compare(
            read(options), options.vary, variants=options.variants or (), jobs=options.jobs, on_stage=on_stage
        ),
    )


def _panels(options: argparse.Namespace) -> None:
    from planner.app.verbs.panels import panels

    finish(options, lambda on_stage: panels(read(options), rating_w=options.rating, on_stage=on_stage))


def _replan(options: argparse.Namespace) -> None:
    from planner.app.verbs.replan import replan

    finish(
        options,
        lambda on_stage: replan(
            read(options),
            fix=options.fix,
            time=options.time,
            soc=options.soc,
            volts=options.volts,
            meter_error=options.meter_error,
            following=options.following,
            last=options.last,
            engine_log=options.engine_log,
            readings=options.readings,
            mapping=options.mapping,
            clock=options.clock,
            fix_is_right=options.fix_is_right,
            failed=options.failed,
            on_stage=on_stage,
        ),
    )
