"""Results as JSON: names with units, times in UTC, nothing that is not JSON."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

import pytest
from fan_fixture import heading_fan_found
from plan_fixture import make_plan

from planner import __version__
from planner.domain.file_format import STAMP
from planner.domain.ship_clock import ShipClock
from planner.presentation.files.json_text import as_json, plain
from planner.presentation.files.summary_json import summarise
from planner.presentation.outputs import json_of


@dataclass(frozen=True)
class Odd:
    when: datetime
    wh: float
    names: tuple[str, ...] = ()
    ship_offset: timedelta | ShipClock = timedelta(hours=-3, minutes=-30)


def test_a_fan_goes_out_field_by_field() -> None:
    content = json.loads(json_of(heading_fan_found()))
    assert content["start"] == "2027-05-10T00:00:00Z"
    assert content["ship_offset_hours"] == 12.0
    assert content["options"][3]["difference_wh"] == {"planned": -120.0, "p10": -150.0, "p50": -118.0, "p90": -90.0}
    assert content["sun_azimuth_deg"] == [8.0, 310.0]


def test_times_are_utc_spans_are_hours_and_no_figure_is_null() -> None:
    local = datetime(2027, 5, 9, 10, 0, tzinfo=timezone(timedelta(hours=12)))
    content = json.loads(as_json(plain(Odd(local, float("nan"), ("<a>",)))))
    said = {"when": "2027-05-08T22:00:00Z", "wh": None, "names": ["<a>"], "ship_offset_hours": -3.5}
    assert content == {**STAMP, **said}


def test_format_and_version_come_first() -> None:
    assert json_of(heading_fan_found()).startswith(f'{{\n "format": 1,\n "planner_version": "{__version__}",\n')


def test_a_clock_that_changes_tells_its_changes() -> None:
    change = (datetime(2027, 5, 12, tzinfo=UTC), timedelta(hours=-12))
    content = json.loads(as_json(plain(Odd(change[0], 1.0, ship_offset=ShipClock(timedelta(hours=12), (change,))))))
    assert content["ship_offset_hours"] == 12.0
    assert content["ship_offset_changes"] == [{"at": "2027-05-12T00:00:00Z", "hours": -12.0}]


def test_a_plan_in_a_result_stands_as_in_its_file() -> None:
    plan = make_plan()
    assert json.loads(json_of(plan)) == {**STAMP, **json.loads(json.dumps(summarise(plan)))}


def test_what_has_no_form_is_refused() -> None:
    with pytest.raises(TypeError, match="a set has no form in JSON"):
        as_json(plain(Odd(datetime(2027, 5, 9, tzinfo=UTC), 1.0, names={"a"})))  # type: ignore[arg-type]
