"""The verb that looks at forecast files."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from planner.faces.stages import add_saying, say, teller

WIDTH = 110  # columns where there is no terminal
DONE, WRONG_INPUT = 0, 2


def add_weather_verb(
    verbs: argparse._SubParsersAction[argparse.ArgumentParser], *, columns: Callable[[int], int]
) -> None:
    """Add the verb to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    columns : callable
        From the columns wanted without a terminal to those to write.
    """
    verb = verbs.add_parser("weather", help="what forecast files hold, and how it is understood")
    verb.add_argument(
        "files",
        nargs="+",
        metavar="FILE",
        help="forecast files or patterns such as 'ens/*.nc', read as one forecast; or one PASSAGE.toml",
    )
    verb.add_argument("--departure", metavar="TIME", help="tell its age then, such as 2027-05-09T10:00:00+12:00")
    verb.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for weather.html, weather.json and the map weather.svg"
    )
    add_saying(verb)

    def run(options: argparse.Namespace) -> int:
        with teller(options) as tell:
            from planner.app.verbs.weather import show_weather

            shown = show_weather(
                options.files, departure=options.departure, folder=options.out, columns=columns(WIDTH), tell=tell
            )
        say(shown.told, options)
        if not options.json:
            for path in shown.written:
                print(f"Written: {path}")
        return WRONG_INPUT if shown.faulty else DONE

    verb.set_defaults(run=run)
