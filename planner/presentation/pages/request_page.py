"""What to ask a forecast service for, and what came of fetching one, in words and tables."""

from __future__ import annotations

from typing import Final

from planner.domain.results.fetched import FetchedForecast
from planner.domain.results.request import Area, ForecastRequest, Thinned, WantedVariable
from planner.presentation.drawing.maps.graticule import latitude_label, longitude_label
from planner.presentation.pages.page import with_rows
from planner.presentation.pages.weather_page import weather_page
from planner.presentation.words.content import Column, Page, Table
from planner.presentation.words.weather import date_and_time

DEGREE: Final = "\N{DEGREE SIGN}"
RECKONED: Final = (
    "Reckoned as GRIB 2 in simple packing, with the bits to a value that stand below: one that packs by 16 "
    "bits sends up to twice as much, one that packs better less; a mail adds a third."
)
INSTEAD: Final = (
    "Where a service has no sunlight, ask for low, middle and high cloud in its place; total cloud alone tells less."
)
FEWER: Final = {
    "rain": "rain left out",
    "spacing_deg": "the grid every {after:g}{degree} in place of {before:g}{degree}",
    "members": "{after:g} members in place of {before:g}",
    "step_h": "every {after:g} h in place of {before:g} h",
    "hours": "the first {after:g} h of {before:g} h",
}


def request_page(request: ForecastRequest) -> Page:
    """Return an order in words, and its variables as a table.

    Parameters
    ----------
    request : ForecastRequest
    """
    kept = "" if request.limit_kilobytes is None else f", within the {request.limit_kilobytes:g} kB allowed"
    single = request.members == 1
    answer = [
        f"About {request.kilobytes:.0f} kB{kept}.",
        RECKONED,
        "Of the latest run, take the times that are listed; earlier ones of it are not needed.",
        INSTEAD,
    ]
    if request.thinned:
        answer.insert(1, f"To keep the limit, in this order: {'; '.join(map(_fewer, request.thinned))}.")
    if single:
        answer.append("Of a single run, the plan draws outcomes of its measured doubt.")
    if request.cut_short:
        answer.append("The passage may last longer: what lies beyond is planned on the season, in wide doubt.")
    rows = (
        ("area", _box(request.area)),
        ("longitudes from 0 to 360", f"{request.area.west_360:g} eastward to {request.area.east_360:g}"),
        (
            "grid",
            f"every {request.spacing_deg:g}{DEGREE}, {request.area.rows} x {request.area.columns} points",
        ),
        (
            "times",
            f"{date_and_time(request.first)} to {date_and_time(request.last)} UTC, every {request.step_h:g} h: "
            f"{request.times} times over {request.hours:g} h",
        ),
        ("members", "a single run" if single else f"{request.members}, the control among them"),
    )
    return Page(
        title=f"Forecast to ask for: {request.passage}",
        answer=tuple(answer),
        pictures=(),
        tables=(
            Table("The order", (Column("What", "left"), Column("How much", "left")), rows),
            Table(
                "Variables",
                (
                    Column("Variable", "left"),
                    Column("Standard name (CF)", "left"),
                    Column("Values hold", "left"),
                    Column("Bits"),
                ),
                tuple(map(_variable, request.variables)),
            ),
        ),
    )


def _box(area: Area) -> str:
    words = (
        f"{latitude_label(area.south)} to {latitude_label(area.north)}, "
        f"{longitude_label(area.west)} eastward to {longitude_label(area.east)}"
    )
    return f"{words}, across 180{DEGREE}" if area.over_antimeridian else words


def _variable(one: WantedVariable) -> tuple[str, ...]:
    height = "" if one.height_m is None or f"{one.height_m:g} m" in one.words else f" at {one.height_m:g} m"
    holds = "at their times" if one.holds == "moments" else "mean or sum since the time before"
    return f"{one.words}{height}", one.standard_name, holds, str(one.bits)


def _fewer(one: Thinned) -> str:
    if one.what == "members" and one.after == 1:
        return f"a single run in place of {one.before:g} members"
    return FEWER[one.what].format(before=one.before, after=one.after, degree=DEGREE)


def fetched_page(fetched: FetchedForecast) -> Page:
    """Return what was fetched, and what it holds in the route's corridor.

    Parameters
    ----------
    fetched : FetchedForecast
    """
    how = "the route's corridor, by OPeNDAP" if fetched.protocol == "opendap" else "whole"
    answer = [
        f"Fetched {fetched.path.name} from {fetched.address}, {how}: {fetched.size_bytes / 1e3:.0f} kB.",
        f"Plan with it by the line {fetched.passage_line} in the passage file.",
        f"SHA-256 {fetched.sha256}.",
    ]
    if fetched.was_there:
        answer.insert(1, "The very same file lay there already.")
    elif fetched.resumed_bytes:
        answer.insert(1, f"{fetched.resumed_bytes / 1e3:.0f} kB of it had come at an earlier try.")
    held = weather_page(fetched.account)
    return Page(
        title=f"Fetched: {fetched.path.name}",
        answer=(*answer, *held.answer),
        pictures=(),
        tables=with_rows(*held.tables),
    )
