"""An order of a forecast, and what was fetched, in words, tables and JSON."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from planner.domain.results.fetched import FetchedForecast
from planner.domain.results.forecast import ForecastAccount, ForecastFile
from planner.domain.results.request import Area, ForecastRequest, Thinned, WantedVariable
from planner.presentation.drawing.maps.graticule import PRIME
from planner.presentation.outputs import figures_of, html_of
from planner.presentation.pages.request_page import fetched_page, request_page

FIRST = datetime(2027, 5, 8, 18, tzinfo=UTC)
ACROSS = Area(south=-37.0, north=-19.5, west=172.5, east=-173.5, west_360=172.5, east_360=186.5, rows=36, columns=29)
REQUEST = ForecastRequest(
    passage="passage.toml",
    area=ACROSS,
    spacing_deg=0.5,
    first=FIRST,
    last=FIRST + timedelta(days=5),
    step_h=6.0,
    times=21,
    hours=120.0,
    members=1,
    variables=(
        WantedVariable("10 m wind toward east", "eastward_wind", 10.0, "moments", 10),
        WantedVariable("significant wave height", "sea_surface_wave_significant_height", None, "moments", 8),
        WantedVariable("surface radiation", "surface_downwelling_shortwave_flux_in_air", None, "spans", 11),
        WantedVariable("air temperature", "air_temperature", 2.0, "moments", 8),
    ),
    kilobytes=47.4,
    limit_kilobytes=50.0,
    thinned=(
        Thinned("rain", 1, 0),
        Thinned("spacing_deg", 0.25, 0.5),
        Thinned("members", 21, 11),
        Thinned("step_h", 3.0, 6.0),
        Thinned("members", 11, 1),
        Thinned("hours", 222.0, 120.0),
    ),
    cut_short=True,
)
ACCOUNT = ForecastAccount(
    files=(),
    held=(),
    refused=(),
    uses=(),
    faults=(),
    notes=(),
    stride=1,
    departure=None,
    route_only=True,
    joined=None,
)
FILES = (ForecastFile("f-2.nc", 81_200, None, (), ()),)
FETCHED = FetchedForecast(
    address="https://host/f.nc?***",
    protocol="opendap",
    path=Path("f-2.nc"),
    size_bytes=81_200,
    sha256="ab" * 32,
    resumed_bytes=40_000,
    was_there=False,
    passage_line='forecast = "f-2.nc"',
    account=ACCOUNT,
)


def test_an_order_is_told_in_plain_words() -> None:
    page = request_page(REQUEST)
    rows = dict(page.tables[0].rows)
    south, east, west = (f"{degrees}\N{DEGREE SIGN}30{PRIME}" for degrees in (19, 172, 173))
    box = f"37\N{DEGREE SIGN}S to {south}S, {east}E eastward to {west}W, across 180\N{DEGREE SIGN}"
    assert rows["area"] == box
    assert rows["longitudes from 0 to 360"] == "172.5 eastward to 186.5"
    assert rows["grid"] == "every 0.5\N{DEGREE SIGN}, 36 x 29 points"
    assert rows["times"].endswith("UTC, every 6 h: 21 times over 120 h")
    assert rows["members"] == "a single run"
    assert page.answer[0] == "About 47 kB, within the 50 kB allowed."
    assert page.answer[1] == (
        "To keep the limit, in this order: rain left out; the grid every 0.5\N{DEGREE SIGN} in place of "
        "0.25\N{DEGREE SIGN}; 11 members in place of 21; every 6 h in place of 3 h; a single run in place of 11 "
        "members; the first 120 h of 222 h."
    )
    assert page.answer[-1].startswith("The passage may last longer")


def test_heights_are_told_once_and_spans_as_such() -> None:
    rows = request_page(REQUEST).tables[1].rows
    assert [row[0] for row in rows][::3] == ["10 m wind toward east", "air temperature at 2 m"]
    assert [row[2] for row in rows] == [
        "at their times",
        "at their times",
        "mean or sum since the time before",
        "at their times",
    ]


def test_an_order_without_a_limit_of_an_ensemble_ashore() -> None:
    area = replace(ACROSS, west=-62.0, east=-18.0, west_360=298.0, east_360=342.0)
    order = replace(REQUEST, area=area, members=21, limit_kilobytes=None, thinned=(), cut_short=False)
    page = request_page(order)
    assert page.answer[0] == "About 47 kB."
    assert not any("limit" in sentence or "single run" in sentence for sentence in page.answer)
    rows = dict(page.tables[0].rows)
    assert rows["members"] == "21, the control among them"
    assert "180" not in rows["area"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "Fetched f-2.nc from https://host/f.nc?***, the route's corridor, by OPeNDAP: 81 kB."),
        ({}, "40 kB of it had come at an earlier try."),
        ({"protocol": "file"}, "Fetched f-2.nc from https://host/f.nc?***, whole: 81 kB."),
        ({"was_there": True}, "The very same file lay there already."),
    ],
)
def test_what_was_fetched_is_told(changes: dict[str, object], words: str) -> None:
    fetched = FetchedForecast(**{**vars(FETCHED), "account": replace(ACCOUNT, files=FILES), **changes})  # type: ignore[arg-type]
    assert words in fetched_page(fetched).answer


def test_both_are_json_and_pages_that_need_no_network() -> None:
    told = figures_of(REQUEST)
    assert told["area"]["over_antimeridian"] is True
    assert told["first"] == "2027-05-08T18:00:00Z"
    fetched = FetchedForecast(**{**vars(FETCHED), "account": replace(ACCOUNT, files=FILES)})
    assert figures_of(fetched)["path"] == "f-2.nc"
    assert figures_of(fetched)["account"]["can_plan"] is True
    for result in (REQUEST, fetched):
        assert "<script src" not in html_of(result)
