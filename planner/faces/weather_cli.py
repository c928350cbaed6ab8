"""The verb that looks at forecast files."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from planner.domain.errors import InputError
from planner.faces.running import DONE, WRONG_INPUT, StageLine, add_output_options, finish

if TYPE_CHECKING:
    from planner.domain.results.forecast import ForecastAccount


def add_weather_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    """
    verb = verbs.add_parser("weather", help="what forecast files hold, and how it is understood")
    verb.add_argument(
        "files",
        nargs="+",
        metavar="FILE",
        help="forecast files or patterns such as 'ens/*.nc', read as one forecast; or one PASSAGE.toml",
    )
    verb.add_argument("--departure", metavar="TIME", help="give its age then, such as 2027-05-09T10:00:00+12:00")
    verb.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for weather.html, weather.json and the map weather.svg"
    )
    add_output_options(verb)
    verb.set_defaults(run=_weather)


def _weather(options: argparse.Namespace) -> int:
    from planner.app.verbs.weather import weather

    def work(_on_stage: StageLine) -> ForecastAccount:
        account = weather(options.files, departure=options.departure)
        if not account.held:
            raise InputError(account.all_faults or [fault for one in account.refused for fault in one.faults])
        return account

    return WRONG_INPUT if finish(options, work).all_faults else DONE
