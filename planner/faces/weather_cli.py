"""The verb that looks at forecast files, says which to ask for, and fetches one."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from planner.domain.errors import Fault, InputError
from planner.faces.running import DONE, WRONG_INPUT, StageLine, add_output_options, finish

if TYPE_CHECKING:
    from planner.domain.results.forecast import ForecastAccount

WAYS = "Name files to look at; or --request PASSAGE.toml; or --fetch ADDRESS --for PASSAGE.toml."


def add_weather_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    """
    verb = verbs.add_parser("weather", help="what forecast files hold; which to ask for; fetch one")
    verb.add_argument(
        "files",
        nargs="*",
        metavar="FILE",
        help="forecast files or patterns such as 'ens/*.nc', read as one forecast; or one PASSAGE.toml",
    )
    verb.add_argument("--departure", metavar="TIME", help="give its age then, such as 2027-05-09T10:00:00+12:00")
    verb.add_argument(
        "--request", type=Path, metavar="PASSAGE.toml", help="say what to ask a service for: the smallest order"
    )
    verb.add_argument(
        "--fetch",
        metavar="ADDRESS",
        help="fetch from https://host/path: the corridor alone by OPeNDAP, else a NetCDF or GRIB file whole; nothing "
        "else ever uses a network",
    )
    verb.add_argument("--for", dest="passage", type=Path, metavar="PASSAGE.toml", help="the passage to fetch it for")
    verb.add_argument("--limit", metavar="SIZE", help="of the order, such as 50kB; of what is fetched, else 100MB")
    verb.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for the page, its JSON and, of files, the map weather.svg"
    )
    add_output_options(verb)
    verb.set_defaults(run=_weather)


def _weather(options: argparse.Namespace) -> int:
    asked = [bool(options.files), options.request is not None, options.fetch is not None]
    if sum(asked) != 1 or (options.fetch is None) != (options.passage is None):
        raise InputError([Fault("weather", "", "it is not clear what is asked.", WAYS)])
    if options.request is not None:
        from planner.app.verbs.request import request

        finish(options, lambda _on_stage: request(options.request, limit=options.limit))
        return DONE
    if options.fetch is not None:
        from planner.app.verbs.fetch import fetch

        fetched = finish(
            options,
            lambda on_stage: fetch(options.fetch, options.passage, limit=options.limit, on_stage=on_stage),
        )
        return WRONG_INPUT if fetched.account.all_faults else DONE
    from planner.app.verbs.weather import weather

    def work(_on_stage: StageLine) -> ForecastAccount:
        account = weather(options.files, departure=options.departure)
        if not account.held:
            raise InputError(account.all_faults or [fault for one in account.refused for fault in one.faults])
        return account

    return WRONG_INPUT if finish(options, work).all_faults else DONE
