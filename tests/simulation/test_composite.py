"""Composite sailing, 180 degrees, the pole, and a passage without wind."""

from __future__ import annotations

import numpy as np
import pytest
from sailing_case import boat, passage, route, sail, sailed_nm, steady

from planner.domain.errors import InputError
from planner.physics.sailing.sailings import great_circle, highest_latitude, rhumb_line
from planner.presentation.words.notes import all_said

M_PER_NM = 1852.0
SOUTH = route((-40.0, 175.0), (-42.0, -75.0))


def length_nm(sailings: str, **more: float) -> float:
    track = sail(passage(sailings=sailings, **more), boat(engine_below_kn=0.0), SOUTH, steady(25.0, 270.0))
    return float(track["distance_to_go_nm"][0])


def test_composite_lies_between_great_circle_and_rhumb_line() -> None:
    great, composite, rhumb = (
        length_nm("great_circle"),
        length_nm("composite", limiting_lat_deg=50.0),
        length_nm("rhumb_line"),
    )
    assert great < composite < rhumb
    assert length_nm("composite", limiting_lat_deg=70.0) == pytest.approx(great, abs=1e-6)  # the limit never binds


def test_composite_keeps_to_the_limit_and_runs_along_it() -> None:
    limited = passage(sailings="composite", limiting_lat_deg=50.0)
    track = sail(limited, boat(engine_below_kn=0.0), SOUTH, steady(25.0, 270.0))
    assert float(track["lat"].min()) > -50.0 - 1e-6
    along = np.abs(track["lat"] + 50.0) < 1e-6
    assert float(along.mean()) > 0.15
    np.testing.assert_allclose(track["course_deg"][along.values][1:-1], 90.0, atol=0.6)
    assert (track["leg"] == 0).all()  # still one leg of the route
    turned = np.abs(np.diff(np.unwrap(track["leg_bearing_deg"], period=360.0)))
    assert turned.max() < 0.5  # the pieces touch the parallel without a corner


def test_no_shorter_way_keeps_to_the_limit() -> None:
    # Any other way: come to the parallel, and leave it, elsewhere.
    best = length_nm("composite", limiting_lat_deg=50.0)
    start, end = (-40.0, 175.0), (-42.0, -75.0)
    for on in np.arange(-170.0, -120.0, 2.5):
        for off in np.arange(on + 2.5, -100.0, 2.5):
            if max(-highest_latitude(*start, -50.0, on), -highest_latitude(-50.0, off, *end)) > 50.0 + 1e-9:
                continue  # that great circle dips below the parallel
            there, along, back = (
                great_circle(*start, -50.0, on)[0],
                rhumb_line(-50.0, on, -50.0, off)[0],
                great_circle(-50.0, off, *end)[0],
            )
            assert (float(there) + float(along) + float(back)) / M_PER_NM > best - 1e-3


def test_a_waypoint_beyond_the_limit_is_refused() -> None:
    with pytest.raises(InputError, match=r"'W1' lies at 42\.00 S, beyond 41"):
        length_nm("composite", limiting_lat_deg=41.0)


@pytest.mark.parametrize("sailings", ["great_circle", "rhumb_line"])
def test_east_and_west_across_180_are_as_long(sailings: str) -> None:
    east = route((-25.0, 178.5), (-24.0, -179.0))
    calm = steady(0.0, 0.0)
    there, back = (sail(passage(sailings=sailings), boat(), way, calm) for way in (east, east[::-1]))
    assert sailed_nm(there) == pytest.approx(sailed_nm(back), abs=1e-6)
    assert there.attrs["arrival"] == back.attrs["arrival"]


def test_a_passage_without_wind_motors_throughout() -> None:
    track = sail(passage(), boat(), route((-25.0, 178.5), (-24.0, -179.0)), steady(0.0, 0.0))
    assert (track["under_engine"] == 1).all()
    np.testing.assert_allclose(track["speed_through_water_kn"][:-1], 5.5)
    assert not any(np.isnan(track[name]).any() for name in track)


@pytest.mark.parametrize("lon", [30.0, 179.0, 180.0])
def test_a_route_by_89_degrees_north_does_not_break(lon: float) -> None:
    # The short way over the top: 1 degree up, 1 down, and for 180 degrees exactly through the pole.
    track = sail(passage(), boat(), route((88.5, 0.0), (89.0, lon - 360.0 * (lon >= 180.0))), steady(15.0, 60.0))
    assert not any(np.isnan(track[name]).any() for name in track)
    distance = float(great_circle(88.5, 0.0, 89.0, lon)[0]) / M_PER_NM
    assert float(track["distance_to_go_nm"][0]) == pytest.approx(distance, abs=1e-6)
    assert sailed_nm(track) >= distance - 1e-3


def test_dates_outside_the_magnetic_models_are_told() -> None:

    later = passage(departure="2031-02-01T10:00:00+12:00")
    (line,) = all_said(sail(later, boat(), route((-25.0, 178.5), (-24.0, -179.0)), steady(0.0, 0.0)).attrs["notes"])
    assert "serve 2010 to 2030" in line
    assert (
        all_said(sail(passage(), boat(), route((-25.0, 178.5), (-24.0, -179.0)), steady(0.0, 0.0)).attrs["notes"])
        == []
    )
