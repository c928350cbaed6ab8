"""Wrong input to the main job: the message names file, key, value and remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.app.inputs import read_inputs
from planner.app.verbs.plan import plan
from planner.domain.errors import InputError
from planner.domain.results.plan import Plan
from planner.readers.config import parse_override


def made(passage_file: Path, *overrides: str) -> Plan:
    return plan(read_inputs(passage_file, [parse_override(text) for text in overrides]))


def complaint(passage_file: Path, *overrides: str) -> str:
    with pytest.raises(InputError) as caught:
        read_inputs(passage_file, [parse_override(text) for text in overrides])
    return str(caught.value)


def with_route(demo: Path, *positions: tuple[float, float]) -> Path:
    points = "".join(
        f'<rtept lat="{lat}" lon="{lon}"><name>P{i}</name></rtept>' for i, (lat, lon) in enumerate(positions)
    )
    header = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
    (demo.parent / "route.gpx").write_text(f"{header}<rte>{points}</rte></gpx>")
    return demo


def test_missing_files_are_named(demo: Path) -> None:
    text = complaint(demo, "route=rout.gpx", "forecast=nowhere.nc")
    assert "rout.gpx" in text
    assert "nowhere.nc" in text


def test_a_route_of_one_point(demo: Path) -> None:
    assert "route.gpx" in complaint(with_route(demo, (-35.0, 174.0)))


def test_latitude_and_longitude_swapped(demo: Path) -> None:
    text = complaint(with_route(demo, (174.1, -35.3), (175.2, -21.1)))
    assert "swap" in text


def test_a_route_outside_the_forecast(demo: Path) -> None:
    text = complaint(with_route(demo, (40.0, -20.0), (45.0, -25.0)))
    assert "forecast.nc" in text


def test_a_forecast_that_is_no_netcdf(demo: Path) -> None:
    (demo.parent / "text.nc").write_text("cloud: some")
    text = complaint(demo, f'forecast="{(demo.parent / "text.nc").as_posix()}"')
    assert "text.nc" in text


def test_a_leg_that_does_not_exist(demo: Path) -> None:
    text = complaint(demo, 'legs=[{from_waypoint="Opuah", speed_kn=5.0}]')
    assert "Did you mean 'Opua'?" in text


def test_faults_of_passage_boat_and_route_come_together(demo: Path) -> None:
    with_route(demo, (-35.0, 174.0))
    text = complaint(demo, "boat.bank.reserve_soc=0.99", 'boat.controller.arch.strings=[["arch port"]]')
    for part in ("route.gpx", "reserve_soc", "arch starboard"):
        assert part in text


def test_a_forecast_over_less_than_half_of_the_passage_is_refused(demo: Path) -> None:
    with pytest.raises(InputError) as caught:
        made(demo, "departure=2027-05-17T00:00:00Z")
    assert "forecast" in str(caught.value)


def test_a_forecast_that_ends_a_little_early_is_flagged(demo: Path) -> None:
    found = made(demo, "departure=2027-05-11T22:00:00Z", "model.points=15")
    assert "forecast_ends" in [note.code for note in found.warnings]
    assert bool(found.harvest["beyond_forecast"].any())


def test_a_wait_at_no_waypoint_is_named_in_the_passage_file(demo: Path) -> None:
    with pytest.raises(
        InputError, match=r"passage\.toml: waits\.0\.at_waypoint: the route has no waypoint 'northin'.*'northing'"
    ):
        made(demo, 'waits=[{at_waypoint="northin", hours=3.0}]')
