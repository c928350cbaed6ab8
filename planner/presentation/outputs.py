"""Every result as text, as JSON, as a page and as files: the one place by which faces and scripts show and write."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from planner.domain.file_format import PLAN_FILE
from planner.domain.inputs.given import Inputs
from planner.domain.results.calibration import Calibration
from planner.domain.results.checked import Checked
from planner.domain.results.explained import Explained
from planner.domain.results.fetched import FetchedForecast
from planner.domain.results.forecast import ForecastAccount
from planner.domain.results.panels import PanelStudy
from planner.domain.results.plan import Plan
from planner.domain.results.reconcile.findings import Reconciliation
from planner.domain.results.replan import Replan
from planner.domain.results.request import ForecastRequest
from planner.domain.results.starter import Starter
from planner.domain.results.studies import Comparison, HeadingFan
from planner.presentation.drawing.maps.weather_map import weather_pictures
from planner.presentation.files.bill_csv import to_csv
from planner.presentation.files.boat_toml import changes_page
from planner.presentation.files.calendar import to_calendar
from planner.presentation.files.dataset_file import to_hourly, to_ragged, to_trajectory, write_netcdf
from planner.presentation.files.file_set import OutputFolder, Writers, claimed
from planner.presentation.files.json_text import as_json, plain
from planner.presentation.files.results_json import (
    account_for_programs,
    asked_for,
    fetched_for_programs,
    findings,
    replanned,
)
from planner.presentation.files.starter import starter_page
from planner.presentation.files.summary_json import summarise
from planner.presentation.files.track_geojson import to_geojson
from planner.presentation.files.whole_file import refuse_unwritable, write_new, write_text
from planner.presentation.pages import compare, headings, panels, reconcile, replan, report
from planner.presentation.pages.look import Links, asset
from planner.presentation.pages.page import html_of as page_html
from planner.presentation.pages.request_page import fetched_page, request_page
from planner.presentation.pages.weather_page import standing_alone, weather_page
from planner.presentation.words.answer import answer
from planner.presentation.words.bill.terminal import render
from planner.presentation.words.content import Page
from planner.presentation.words.explained import explained_page, explained_text
from planner.presentation.words.inputs import checked_for_programs, checked_page, understood
from planner.presentation.words.reconcile import sentences
from planner.presentation.words.reconcile.tables import page_of as findings_page
from planner.presentation.words.reserve_kept import kept_briefly
from planner.presentation.words.text import WIDTH, as_text

__all__ = [
    "Links", "answer_of", "asset", "claimed", "figures_of", "html_of", "json_of", "kept_briefly", "refuse_unwritable",
    "text_of", "weather_page", "write", "write_into", "write_page",
]  # fmt: skip

REPORT = "report.html"
OWN_TRACKS = "own-tracks.nc"
WEATHER_MAP = "weather.svg"
HOURLY_DECIMALS = "%.4f"

WRITERS: dict[str, Callable[[Plan, Path], object]] = {
    "plan.nc": lambda plan, path: write_netcdf(to_trajectory(plan), path),
    "hourly.csv": lambda plan, path: to_hourly(plan).to_csv(
        path, float_format=HOURLY_DECIMALS, date_format="%Y-%m-%dT%H:%M:%SZ"
    ),
    REPORT: lambda plan, path: path.write_text(report.render(plan), encoding="utf-8"),
    "watch-bill.csv": lambda plan, path: path.write_bytes(to_csv(plan).encode()),
    "watch-bill.ics": lambda plan, path: path.write_bytes(to_calendar(plan)),
    "track.geojson": lambda plan, path: path.write_text(json.dumps(to_geojson(plan)), encoding="utf-8"),
}


@dataclass(frozen=True)
class _Ways:
    """The ways in which results of one type are put out.

    Attributes
    ----------
    name : str
        Of the JSON file that names the set.
    figures : callable
        What JSON holds.
    text : callable
        For a terminal of so many columns; whether whole, or the next day alone where a result has days.
    html : callable
        A page with links to those beside it.
    writers : callable
        The files of the set.
    may_lack : tuple of str
        Files that not every set has.
    """

    name: str
    figures: Callable[[Any], Mapping[str, Any]]
    text: Callable[[Any, int, bool], str]
    html: Callable[[Any, Links], str]
    writers: Callable[[Any], Writers]
    may_lack: tuple[str, ...] = ()


def _by_page(name: str, page: Callable[[Any], Page], figures: Callable[[Any], Mapping[str, Any]] = plain) -> _Ways:
    """Return the ways of a result that one page shows, in the terminal and as HTML alone in its set."""

    def html(result: object, links: Links = ()) -> str:
        return page_html(page(result), links)

    return _Ways(
        name,
        figures,
        text=lambda result, width, _whole: as_text(page(result), width=width),
        html=html,
        writers=lambda result: {f"{name}.html": _text(html(result))},
    )


def text_of(result: object, width: int = WIDTH, *, all_days: bool = False) -> str:
    """Return a result in words and tables for a terminal of so many columns; it ends in a newline.

    Parameters
    ----------
    result : object
        What a verb gave.
    width : int
        Columns; lines are wrapped to it.
    all_days : bool
        Whether a plan's schedule goes on after its first 24 hours.
    """
    return _ways_of(result).text(result, width, all_days)


def figures_of(result: object) -> Mapping[str, Any]:
    """Return what JSON holds of a result: fields by their names, which carry the units."""
    return _ways_of(result).figures(result)


def json_of(result: object) -> str:
    """Return a result as one JSON object, a newline at its end.

    Times are UTC as ISO 8601 with Z, spans of time hours, figures that are not finite null. A plan stands as in
    plan.json, which adds the set of its files.
    """
    return as_json(figures_of(result))


def html_of(result: object, links: Links = ()) -> str:
    """Return a result as one page of HTML that needs no network.

    Parameters
    ----------
    result : object
        From any verb.
    links : sequence of (str, str)
        Address and words of the pages beside it, where it does not stand alone.
    """
    return _ways_of(result).html(result, links)


def answer_of(result: Plan | Replan | Reconciliation) -> tuple[str, ...]:
    """Return the sentences that answer what was asked."""
    if isinstance(result, Reconciliation):
        return sentences.answer(result)
    if isinstance(result, Replan):
        fix = (f"{replan.fix_sentence(result)}.", replan.days_sentence(result.fix))
        return (*fix, *answer(result.plan))
    return answer(result)


def write(result: object, folder: str | Path) -> tuple[Path, ...]:
    """Write every file of a result into a folder, as the command does.

    Parameters
    ----------
    result : object
        From any verb; of a replan its plan is written, of a calibration the boat file.
    folder : str or Path
        Made when it does not exist.

    Returns
    -------
    tuple of Path
        The files; last the JSON file that names the others.

    Raises
    ------
    InputError
        When the folder cannot be written to, or another process does.
    OutputError
        When the files cannot be written.
    """
    if isinstance(result, Starter):
        return tuple(made for name, text in result.files.items() for made in write_new(Path(folder) / name, text))
    if isinstance(result, Calibration):
        return write_new(Path(folder) / result.new.name, result.text) if result.changes else ()
    with claimed(Path(folder)) as place:
        return write_into(result, place)


def write_into(result: object, place: OutputFolder) -> tuple[Path, ...]:
    """Write every file of a result into a folder that is held already; as ``write``."""
    if isinstance(result, Replan):
        result = result.plan
    ways = _ways_of(result)
    return place.write_set(f"{ways.name}.json", ways.writers(result), figures_of(result), may_lack=ways.may_lack)


def write_page(result: object, path: Path, links: Links = ()) -> None:
    """Write a result's page alone; as ``html_of``.

    Raises
    ------
    OutputError
        When it cannot be written.
    """
    write_text(path, html_of(result, links))


def _ways_of(result: object) -> _Ways:
    for kind, ways in WAYS.items():
        if isinstance(result, kind):
            return ways
    raise TypeError(f"a {type(result).__name__} is no result of a verb")


def _text(text: str) -> Callable[[Path], object]:
    return partial(Path.write_text, data=text, encoding="utf-8")


def _plan_writers(plan: Plan) -> Writers:
    writers: dict[str, Callable[[Path], object]] = {name: partial(file, plan) for name, file in WRITERS.items()}
    if plan.own_tracks is not None:
        writers[OWN_TRACKS] = partial(write_netcdf, to_ragged(plan.own_tracks))
    return writers


def _weather_writers(account: ForecastAccount) -> Writers:
    """Return the page, and the picture where the forecast gives one."""
    pictures, figures = weather_pictures(account)
    page = weather_page(account, pictures=pictures, figures=figures)
    writers = {"weather.html": _text(page_html(page))}
    return writers | ({WEATHER_MAP: _text(standing_alone(pictures))} if pictures else {})


def _replan_text(result: Replan, width: int, all_days: bool) -> str:
    return f"{as_text(replan.page_of(result), width=width)}\n{_plan_text(result.plan, width, all_days)}"


def _plan_text(plan: Plan, width: int, all_days: bool) -> str:
    return render(plan, width=width, all_days=all_days)


WAYS: Final[Mapping[type, _Ways]] = MappingProxyType(
    {
        Plan: _Ways(
            PLAN_FILE.removesuffix(".json"),
            summarise,
            _plan_text,
            report.render,
            _plan_writers,
            may_lack=(OWN_TRACKS,),
        ),
        Replan: replace(_by_page("replan", replan.page_of, replanned), text=_replan_text),
        HeadingFan: _by_page("headings", headings.page_of),
        Comparison: _by_page("compare", compare.page_of),
        PanelStudy: _by_page("panels", panels.page_of),
        Reconciliation: replace(
            _by_page("reconcile", findings_page, findings),
            html=reconcile.html_of,
            writers=lambda found: {
                "reconcile.html": _text(reconcile.html_of(found)),
                "log-mapping.toml": _text(found.mapping),
            },
        ),
        ForecastAccount: replace(
            _by_page("weather", weather_page, account_for_programs),
            writers=_weather_writers,
            may_lack=(WEATHER_MAP,),
        ),
        ForecastRequest: _by_page("request", request_page, asked_for),
        FetchedForecast: _by_page("fetched", fetched_page, fetched_for_programs),
        Calibration: _by_page("calibration", changes_page),
        Inputs: _by_page("check", lambda inputs: checked_page(Checked(inputs, ())), understood),
        Explained: replace(
            _by_page("explain", explained_page), text=lambda found, width, _whole: explained_text(found, width)
        ),
        Starter: _by_page("new", starter_page, lambda made: {"folder": str(made.folder), "files": list(made.files)}),
        Checked: _by_page("check", checked_page, checked_for_programs),
    }
)
