"""The sailing part of both files: tables that do not fit, waits, arrivals and sailings that contradict each other."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.readers.config import parse_override, read_configuration

TABLE = "boat.sailing."


def messages(path: Path, *overrides: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_configuration(path, [parse_override(text) for text in overrides])
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("override", "expected"),
    [
        (f"{TABLE}leeway_deg.value=[1.0]", "sailing.leeway_deg.value: 1 entries for 7 wind angles. Fill the hole"),
        (f"{TABLE}leeway_deg.angle_deg=[0, 30, 20, 60, 90, 120, 180]", "20 follows 30; wind angles rise."),
        (
            f"{TABLE}boom_angle_deg.angle_deg=[0, 30, 45, 60, 90, 120, 150, 181]",
            "181 is not 0 to 180: from the bow to the stern.",
        ),
        (f"{TABLE}heel_deg.wind_kn=[0, 10, 10, 20, 25, 35]", "10 follows 10; wind speeds rise."),
        (f"{TABLE}polar.true_wind_speed_kn=[0, 8, 6, 10, 12, 16, 20, 25, 30]", "6 follows 8; wind speeds rise."),
        (f"{TABLE}polar.true_wind_angle_deg=[0, 30]", "sailing.polar.speed_kn: 13 entries for 2 wind angles."),
        (f"{TABLE}polar.true_wind_speed_kn=[0, 6]", "the row at 0 degrees has 9 speeds for 2 wind speeds."),
        ("arrival=2027-05-08T10:00:00+12:00", "arrival: 2027-05-08T10:00:00+12:00 is not after the departure"),
        ("arrival=2027-05-18T10:00:00", "arrival: the time '2027-05-18 10:00:00' says no offset from UTC."),
        ("sailings=composite", "limiting_lat_deg: composite sailing needs a limiting latitude."),
        ("limiting_lat_deg=45.0", "limiting_lat_deg: sailings = 'great_circle' has no limiting latitude."),
        ('waits=[{at_waypoint="northing"}]', "the wait at 'northing' has neither hours nor until"),
        ('waits=[{at_waypoint="a", hours=1.0, until=2027-05-18T10:00:00Z}]', "hours, or until, not both."),
        ('waypoints=[{position="35-18.7S 174-07.4E"}]', "both a route file and waypoints."),
        ("waypoints=[{lat=35.0}]", "a waypoint has either a position, or lat and lon."),
        (
            'current={source="forecast", drift_kn=1.0}',
            "current.drift_kn: a constant drift beside source = 'forecast'.",
        ),
    ],
)
def test_what_does_not_fit_is_named(demo: Path, override: str, expected: str) -> None:
    (message,) = messages(demo, override)
    assert expected in message


def test_a_passage_without_a_route_is_told_both_ways_to_one(demo: Path) -> None:
    demo.write_text(demo.read_text().replace('route = "route.gpx"', ""))
    (message,) = messages(demo)
    assert "neither a route file nor waypoints. Write route" in message


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        (
            "TWA/TWS,10,6\n45,4.0,5.0\n90,5.0,6.0\n",
            "polar.csv: line 1: wind 6 follows 10. Columns rise with the wind.",
        ),
        (
            "TWA/TWS,6,10\n\n90,4.0,5.0\n45,5.0,6.0\n",
            "polar.csv: line 4: angle 45 follows 90. Rows rise with the angle.",
        ),
    ],
)
def test_a_polar_file_that_falls_is_named_by_line(demo: Path, table: str, expected: str) -> None:
    (demo.parent / "polar.csv").write_text(table)
    assert messages(demo, "boat.sailing.polar=polar.csv") == [expected]
