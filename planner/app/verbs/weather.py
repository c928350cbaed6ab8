"""What forecast files hold and how it is understood, without planning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.app.stages import LOOKING, Tell, along
from planner.app.told import Told
from planner.domain.errors import Fault, InputError
from planner.domain.results.forecast import ForecastAccount

if TYPE_CHECKING:
    from planner.domain.inputs.given import Override
    from planner.presentation.files.file_set import OutputFolder

PASSAGE_ENDING, MAP = ".toml", "weather.svg"


@dataclass(frozen=True)
class WeatherShown:
    """What the command shows.

    Attributes
    ----------
    told : Told
    faulty : bool
        Whether something is wrong with the files; what is told says what.
    written : tuple of Path
        Page and picture, where they were asked for.
    """

    told: Told
    faulty: bool
    written: tuple[Path, ...]


def look_at_weather(names: Sequence[str], *, departure: str | None = None) -> ForecastAccount:
    """Return what forecast files hold.

    Parameters
    ----------
    names : sequence of str
        Files, or patterns such as ``ens_*.nc``; or one passage file, whose forecast is looked at along its route.
    departure : str, optional
        ISO 8601 with an offset, that the forecast's age is told for.

    Raises
    ------
    InputError
        When a name means no file, the passage is wrong, or the departure is no time.
    """
    from planner.readers.file_patterns import matching_files
    from planner.readers.forecast.survey import survey

    moment = None if departure is None else _departure(departure)
    if any(name.lower().endswith(PASSAGE_ENDING) for name in names):
        if len(names) > 1:
            mend = "Name the passage file alone, or forecast files alone."
            raise InputError([Fault("weather", "", "a passage file beside other files.", mend)])
        return look_along_route(Path(names[0]), departure=moment)
    paths, faults = matching_files(names, Path(), where="weather", key="")
    if faults:
        raise InputError(faults)
    return survey(paths, corridor=None, span=None, departure=moment)


def look_along_route(
    passage_file: Path, overrides: Sequence[Override] = (), *, departure: datetime | None = None
) -> ForecastAccount:
    """Return what a passage's forecast holds in the corridor of its route, as a plan would read it.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of Override
    departure : datetime, optional
        Other than the passage's.

    Raises
    ------
    InputError
        When passage, boat or route is wrong, or the passage names no forecast; what is wrong with the forecast is
        told in the account.
    """
    from planner.app.inputs import corridor_of, span_of
    from planner.readers.config import read_configuration
    from planner.readers.forecast.survey import survey
    from planner.readers.route import passage_route

    configuration = read_configuration(passage_file, overrides)
    passage = configuration.passage
    if departure is not None:
        passage = passage.model_copy(update={"departure": departure})
    if not configuration.forecast_files:
        mend = "Name forecast files to look at them."
        raise InputError([Fault(passage_file.name, "forecast", "it names none: its weather is typed by hand.", mend)])
    route = passage_route(passage, passage_file)
    return survey(
        configuration.forecast_files,
        corridor=corridor_of(route),
        span=span_of(passage, route),
        departure=passage.departure,
    )


def show_weather(
    names: Sequence[str], *, departure: str | None, folder: Path | None, columns: int, tell: Tell
) -> WeatherShown:
    """Look at forecast files as the command line asks; write page and picture where a folder is given.

    Parameters
    ----------
    names, departure
        As ``look_at_weather`` takes them.
    folder : Path or None
        For ``weather.html``, ``weather.svg`` and ``weather.json``.
    columns : int
        Of the terminal.
    tell : callable
        Told each stage as it begins, and how much is done.

    Raises
    ------
    InputError
        As ``look_at_weather`` raises it, when nothing in the files can be understood, and when the folder cannot be
        written to.
    OutputError
        When the outputs cannot be written.
    """
    from planner.presentation.files.file_set import claimed
    from planner.presentation.files.json_text import as_json
    from planner.presentation.files.results_json import account_for_programs
    from planner.presentation.pages.weather_page import weather_page
    from planner.presentation.words.text import as_text

    progress = along(tell, LOOKING)
    progress("reading")
    written: tuple[Path, ...] = ()
    with claimed(folder) if folder is not None else nullcontext() as place:
        account = look_at_weather(names, departure=departure)
        if not account.held:
            raise InputError(account.all_faults or [fault for one in account.refused for fault in one.faults])
        if place is not None:
            progress("drawing")
            written = _write(account, place)
    return WeatherShown(
        told=Told(_plain(as_text(weather_page(account), width=columns)), as_json(account_for_programs(account))),
        faulty=bool(account.all_faults),
        written=written,
    )


def _write(account: ForecastAccount, folder: OutputFolder) -> tuple[Path, ...]:
    """Write the page, the picture where the forecast gives one, and the account for programs."""
    from planner.presentation.drawing.maps.weather_map import weather_pictures
    from planner.presentation.files.results_json import account_for_programs
    from planner.presentation.pages.page import html_of
    from planner.presentation.pages.weather_page import standing_alone, weather_page

    pictures, figures = weather_pictures(account)
    texts = {"weather.html": html_of(weather_page(account, pictures=pictures, figures=figures))}
    if pictures:
        texts[MAP] = standing_alone(pictures)
    writers = {name: partial(Path.write_text, data=text, encoding="utf-8") for name, text in texts.items()}
    return folder.write_set("weather.json", writers, account_for_programs(account), may_lack=(MAP,))


def weather_told(passage_file: Path, settings: Mapping[str, Any], more: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return what a passage's forecast holds as words and tables, JSON-ready.

    Parameters
    ----------
    passage_file, settings, more
        As ``live.read_settings`` takes them.

    Returns
    -------
    dict
        ``answer``, sentences, and ``tables``, each with caption, columns, rows and note.

    Raises
    ------
    InputError
        As ``look_along_route`` raises it.
    """
    from planner.domain.inputs.given import Override
    from planner.presentation.pages.weather_page import weather_page
    from planner.readers.config import parse_override

    asked = [*map(parse_override, more), *(Override(key, value) for key, value in settings.items())]
    page = weather_page(look_along_route(passage_file, asked))
    return {"answer": list(page.answer), "tables": [asdict(table) for table in page.tables]}


def _departure(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        mend = "Write it as 2027-05-09T10:00:00+12:00, or with Z for UTC."
        raise InputError([Fault("--departure", "", f"'{text}' is no date and time.", mend)]) from error
    if moment.tzinfo is None:
        mend = "Add the offset of the ship's clock, for example 2027-05-09T10:00:00+12:00, or Z for UTC."
        raise InputError([Fault("--departure", "", f"the time '{text}' says no offset from UTC.", mend)])
    return moment


def _plain(text: str) -> str:
    """Return a text with the minutes of an angle as an apostrophe, which every terminal has."""
    return text.replace("\N{PRIME}", "'")
