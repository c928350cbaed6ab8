"""What forecast files hold and how it is understood, without planning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.app.inputs import asked_overrides, corridor_of, span_of
from planner.domain.errors import Fault, InputError
from planner.domain.results.forecast import ForecastAccount
from planner.readers.config import read_configuration
from planner.readers.file_patterns import matching_files
from planner.readers.forecast.survey import survey
from planner.readers.route import passage_route

PASSAGE_ENDING = ".toml"


def weather(
    names: str | Path | Sequence[str | Path],
    overrides: Mapping[str, Any] | None = None,
    *,
    typed: Sequence[str] = (),
    departure: str | datetime | None = None,
) -> ForecastAccount:
    """Return what forecast files hold; of a passage file, in the corridor of its route, as a plan would read it.

    Parameters
    ----------
    names : str, Path or sequence of them
        Files, or patterns such as ``ens_*.nc``; or one passage file, whose forecast is looked at along its route.
    overrides, typed
        Of the passage file; as for ``read_passage``.
    departure : str or datetime, optional
        ISO 8601 with an offset, for which the forecast's age is given; the passage's own when None.

    Raises
    ------
    InputError
        When a name means no file, the passage is wrong or names no forecast, or the departure is no time; what is
        wrong with the forecast stands in the account.
    """
    moment = None if departure is None else _departure(str(departure))
    asked = [str(name) for name in ([names] if isinstance(names, str | Path) else names)]
    if any(name.lower().endswith(PASSAGE_ENDING) for name in asked):
        if len(asked) > 1:
            remedy = "Name the passage file alone, or forecast files alone."
            raise InputError([Fault("weather", "", "a passage file beside other files.", remedy)])
        return _along_route(Path(asked[0]), overrides, typed, moment)
    paths, faults = matching_files(asked, Path(), where="weather", key="")
    if faults:
        raise InputError(faults)
    return survey(paths, corridor=None, span=None, departure=moment)


def _along_route(
    passage_file: Path, overrides: Mapping[str, Any] | None, typed: Sequence[str], departure: datetime | None
) -> ForecastAccount:
    configuration = read_configuration(passage_file, asked_overrides(overrides, typed))
    passage = configuration.passage
    if departure is not None:
        passage = passage.model_copy(update={"departure": departure})
    if not configuration.forecast_files:
        remedy = "Name forecast files to look at them."
        raise InputError(
            [Fault(passage_file.name, "forecast", "it names none: its weather is typed by hand.", remedy)]
        )
    route, _ = passage_route(passage, passage_file)
    return survey(
        configuration.forecast_files,
        corridor=corridor_of(route),
        span=span_of(passage, route),
        departure=passage.departure,
        sunlight=passage.sunlight_given,
    )


def _departure(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        remedy = "Write it as 2027-05-09T10:00:00+12:00, or with Z for UTC."
        raise InputError([Fault("--departure", "", f"'{text}' is no date and time.", remedy)]) from error
    if moment.tzinfo is None:
        remedy = "Add the offset of the ship's clock, for example 2027-05-09T10:00:00+12:00, or Z for UTC."
        raise InputError([Fault("--departure", "", f"the time '{text}' says no offset from UTC.", remedy)])
    return moment
