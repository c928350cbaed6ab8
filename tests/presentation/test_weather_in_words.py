"""What a forecast holds, in words and as JSON, and weather typed by hand as it was understood."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from planner.domain.errors import Fault
from planner.domain.inputs.hand_weather import WeatherRow
from planner.domain.results.forecast import ForecastAccount, ForecastFile, Grid, HeldVariable, Use
from planner.presentation.files.results_json import account_for_programs
from planner.presentation.pages.weather_page import uses_table, variables_table, weather_page
from planner.presentation.words.weather import row_words

BEGUN = datetime(2027, 5, 8, 12, 0, tzinfo=UTC)
GRID = Grid(
    rows=38, columns=35, south=-37.5, north=-19.0, west=171.0, east=188.0, step_lat_deg=0.5, step_lon_deg=0.5,
    from_north=True, from_east=False, projected=False,
)  # fmt: skip


def variable(**changes: Any) -> HeldVariable:
    given: dict[str, Any] = {
        "name": "tcc", "units_found": "%", "quantity": "cloud_cover", "words": "cloud", "units": "1", "low": 0.02,
        "high": 0.97, "files": ("f.nc",), "issued": (BEGUN,), "first": BEGUN, "last": BEGUN + timedelta(days=10),
        "times": 81, "steps_h": (3.0,), "members": 21, "numbered": True, "grid": GRID, "reading": "", "spans_h": (),
    }  # fmt: skip
    return HeldVariable(**(given | changes))


def account(**changes: Any) -> ForecastAccount:
    given: dict[str, Any] = {
        "files": (ForecastFile("f.nc", 2_400_000, BEGUN, (), ("hail",)),), "held": (variable(),), "refused": (),
        "uses": (Use("cloud", "tcc", "", "held"), Use("rain", "", "no rain", "spared")), "faults": (),
        "notes": ("a gap was filled",), "stride": 1, "departure": BEGUN + timedelta(hours=10), "route_only": False,
        "joined": None,
    }  # fmt: skip
    return ForecastAccount(**(given | changes))


def answer(held: ForecastAccount) -> str:
    return " ".join(weather_page(held).answer)


def test_a_fresh_forecast_serves_and_says_how_far_it_reaches() -> None:
    words = answer(account())
    assert words.startswith("A plan can be made with it. It was begun at")
    assert "it is 10 h old: fresh." in words
    assert "beyond departure" in words


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"departure": BEGUN + timedelta(hours=19)}, "stale: fetch the latest"),
        ({"departure": BEGUN + timedelta(days=11)}, "The departure lies outside its times."),
        ({"departure": BEGUN - timedelta(hours=2)}, "begun after it"),
        ({"faults": (Fault("f.nc", "", "grids differ."), Fault("g.nc", "", "too."))},
         "A plan refuses this: f.nc: grids differ. And 1 more, below."),
        ({"uses": (Use("wind", "", "", "missing"), Use("cloud", "", "", "missing"))}, "It holds no wind or cloud"),
        ({"route_only": True}, "Only the corridor of the route"),
        ({"stride": 4}, "one in 4 rows and columns"),
        ({"held": (variable(issued=()),)}, "do not say when the forecast was begun"),
        ({"held": (variable(issued=(BEGUN, BEGUN + timedelta(hours=6))),)}, "It is of 2 cycles"),
    ],
)  # fmt: skip
def test_what_stands_against_it_is_the_answer(changes: dict[str, Any], words: str) -> None:
    assert words in answer(account(**changes))


def test_a_table_without_rows_is_left_out_and_repairs_have_one_of_their_own() -> None:
    captions = [table.caption for table in weather_page(account(notes=())).tables]
    assert not any("put right" in caption for caption in captions)
    assert any("put right" in table.caption for table in weather_page(account()).tables)


def test_a_need_names_its_source_or_that_it_is_not_held() -> None:
    assert uses_table(account()).rows == (("cloud", "tcc", ""), ("rain", "not held", "no rain"))


def test_a_fraction_is_shown_in_percent_and_spans_are_told() -> None:
    (row,) = variables_table(account()).rows
    assert row[2:6] == ("%", "2", "97", "%")
    light = variable(units="W m-2", low=0.0, high=941.0, units_found="", reading="means", spans_h=(3.0, 6.0, 3.0))
    (row,) = variables_table(account(held=(light,))).rows
    assert row[2:] == ("none", "0", "941", "W/m2", "means; parted into spans of 3 and 6 h")


def test_json_carries_times_as_utc_and_whether_a_plan_can_be_made() -> None:
    told = account_for_programs(account())
    assert told["held"][0]["issued"] == ["2027-05-08T12:00:00Z"]
    assert told["can_plan"] is True
    assert "joined" not in told
    assert account_for_programs(account(faults=(Fault("f.nc", "", "cut short."),)))["can_plan"] is False


def row(**given: Any) -> WeatherRow:
    return WeatherRow.model_validate({"from": "2027-05-09T10:00:00+12:00", **given})


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"oktas": 4.0}, "4 oktas of cloud; wind by the forecast file; air not given"),
        ({"sky": "overcast", "wind_from_deg": 225.0, "wind_kn": 12.0, "air_temp_c": 18.5},
         "sky overcast, taken as 8 oktas; wind from 225\N{DEGREE SIGN} true at 12 kn; air 18.5 \N{DEGREE SIGN}C"),
    ],
)  # fmt: skip
def test_typed_weather_is_said_back_with_what_its_words_were_taken_for(given: dict[str, Any], words: str) -> None:
    assert row_words(row(**given)).startswith(words)
