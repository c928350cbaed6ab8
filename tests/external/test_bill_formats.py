"""The calendar and the track file, read back by general-purpose libraries against the standards' own rules."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from icalendar import Calendar
from shapely.geometry import shape

from planner.presentation.files.bill_csv import to_csv
from planner.presentation.files.calendar import to_calendar
from planner.presentation.files.track_geojson import to_geojson

sys.path.append(str(Path(__file__).parents[1] / "presentation"))
from plan_fixture import make_plan

ICALENDAR = "RFC 5545, read with the library icalendar"
GEOJSON = "RFC 7946, read with the library shapely"


@pytest.mark.external(source=ICALENDAR, kind="standard")
def test_calendar_lines_end_in_crlf_and_fold_at_75_octets() -> None:
    """Section 3.1: lines are delimited by CRLF and should be no longer than 75 octets, the break excluded."""
    data = to_calendar(make_plan())
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in data.split(b"\r\n")) <= 75


@pytest.mark.external(source=ICALENDAR, kind="standard")
def test_calendar_has_what_the_standard_requires() -> None:
    """Sections 3.6 and 3.6.1: PRODID and VERSION; each event a UID of its own, DTSTAMP, DTSTART before DTEND."""
    calendar = Calendar.from_ical(to_calendar(make_plan()))
    assert calendar["version"] == "2.0"
    assert calendar["prodid"]
    events = calendar.walk("VEVENT")
    assert len({str(event["uid"]) for event in events}) == len(events)
    for event in events:
        assert event["dtstamp"].dt.utcoffset() == timedelta(0)
        assert event["dtstart"].dt.utcoffset() == timedelta(0)
        assert event["dtstart"].dt < event["dtend"].dt
        assert not event.errors


@pytest.mark.external(source=ICALENDAR, kind="standard")
def test_calendar_alarms_have_what_a_display_alarm_requires() -> None:
    """Section 3.6.6: ACTION, TRIGGER and DESCRIPTION, each once."""
    for alarm in Calendar.from_ical(to_calendar(make_plan())).walk("VALARM"):
        assert alarm["action"] == "DISPLAY"
        assert alarm["description"]
        assert not isinstance(alarm["trigger"], list)


@pytest.mark.external(source=ICALENDAR, kind="standard")
def test_calendar_survives_a_round_trip() -> None:
    data = to_calendar(make_plan())
    assert Calendar.from_ical(data).to_ical() == data


@pytest.mark.external(source=GEOJSON, kind="standard")
def test_track_geometries_are_valid_and_in_range() -> None:
    """Sections 3.1.1 and 4: longitude then latitude, WGS84; lines of two or more positions."""
    for feature in json.loads(json.dumps(to_geojson(make_plan())))["features"]:
        assert set(feature) == {"type", "geometry", "properties"}
        geometry = shape(feature["geometry"])
        assert geometry.is_valid
        west, south, east, north = geometry.bounds
        assert -180.0 <= west <= east <= 180.0
        assert -90.0 <= south <= north <= 90.0


@pytest.mark.external(source=GEOJSON, kind="standard")
def test_track_is_cut_so_that_no_part_crosses_the_antimeridian() -> None:
    """Section 3.1.9: such a line should be a MultiLineString whose parts do not cross."""
    track = shape(to_geojson(make_plan())["features"][0]["geometry"])
    assert track.geom_type == "MultiLineString"
    assert len(track.geoms) == 2
    west_part, east_part = track.geoms
    assert west_part.coords[-1][0] == 180.0
    assert east_part.coords[0][0] == -180.0
    assert west_part.coords[-1][1] == east_part.coords[0][1]
    for part in track.geoms:
        assert part.bounds[2] - part.bounds[0] < 180.0


@pytest.mark.external(source="RFC 3339", kind="standard")
def test_moments_of_the_track_file_are_internet_date_times_in_utc() -> None:
    """Section 5.6: full-date, 'T', full-time with 'Z'."""
    pattern = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z")
    for feature in to_geojson(make_plan())["features"]:
        for name in {"start", "stop", "departure", "arrival"} & set(feature["properties"]):
            assert pattern.fullmatch(feature["properties"][name])


@pytest.mark.external(source="RFC 4180, read with Python's csv", kind="standard")
def test_table_rows_end_in_crlf_and_are_of_one_length() -> None:
    """Section 2: CRLF between records, the same number of fields throughout."""
    text = to_csv(make_plan())
    assert text.endswith("\r\n")
    assert len({len(row) for row in csv.reader(io.StringIO(text, newline=""))}) == 1
