"""What the march sails by: boat, legs with their waits, wind and current as arrays."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from sailing_case import DEPARTURE, boat, passage, route, steady

from planner.domain.errors import InputError
from planner.domain.utc import to_numpy
from planner.simulation.track.helm import AT_ANCHOR, HOVE_TO, UNDER_WAY
from planner.simulation.track.orders import current_grid, legs_of, vessel_of, wind_grid

EAST = route((0.0, 0.0), (0.0, 1.0), (0.0, 3.0))
"""Along the equator: a degree of longitude there is 60.11 nm."""


def test_legs_have_the_routes_lengths_bearings_and_kind() -> None:
    legs, owner = legs_of(passage(), EAST)
    assert owner.tolist() == [0, 1]
    assert legs.length_nm == pytest.approx([60.108, 120.216], abs=0.01)  # 6378.137 km x pi / 180 a degree
    assert legs.bearing_deg == pytest.approx([90.0, 90.0])
    assert not legs.rhumb.any()
    assert legs_of(passage(sailings="rhumb_line"), EAST)[0].rhumb.all()
    assert np.isnan(legs.fixed_kn).all()
    assert (legs.lying == UNDER_WAY).all()


def test_a_fixed_speed_and_a_wait_stand_on_the_leg_of_their_waypoint() -> None:
    departure = passage().departure
    until = (departure + timedelta(hours=30)).isoformat()
    given = passage(
        legs=[{"from_waypoint": "W1", "speed_kn": 4.5}],
        waits=[{"at_waypoint": "W0", "hours": 6.0, "how": "anchor"},
               {"at_waypoint": "W1", "until": until, "how": "hove_to"}],
    )  # fmt: skip
    legs, _ = legs_of(given, EAST)
    assert np.isnan(legs.fixed_kn[0])
    assert legs.fixed_kn[1] == 4.5
    assert legs.lying.tolist() == [AT_ANCHOR, HOVE_TO]
    assert legs.wait_h[0] == 6.0
    assert legs.wait_until_h.tolist() == [0.0, 30.0]


def test_a_composite_leg_is_to_the_parallel_along_it_and_from_it_and_stays_one_leg() -> None:
    south = route((-40.0, 0.0), (-40.0, 100.0))
    legs, owner = legs_of(passage(sailings="composite", limiting_lat_deg=45.0), south)
    assert owner.tolist() == [0, 0, 0]
    assert legs.rhumb.tolist() == [False, True, False]
    assert legs.lat_deg[1:] == pytest.approx([-45.0, -45.0], abs=1e-6)
    assert legs.length_nm[0] == pytest.approx(legs.length_nm[2])  # the same on either side
    assert legs.bearing_deg[1] == pytest.approx(90.0, abs=1e-6)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"legs": [{"from_waypoint": "W9", "speed_kn": 5.0}]}, "the route has no waypoint 'W9'"),
        ({"waits": [{"at_waypoint": "W2", "hours": 5.0, "how": "anchor"}]}, "'W2' is the destination"),
        ({"waits": [{"at_waypoint": "X", "hours": 5.0, "how": "anchor"}]}, "the route has no waypoint 'X'"),
    ],
)
def test_a_leg_or_a_wait_that_the_route_has_not_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        legs_of(passage(**changes), EAST)


LOOP = tuple(
    waypoint.model_copy(update={"name": name})
    for waypoint, name in zip(route((0.0, 0.0), (0.0, 1.0), (0.0, 2.0), (0.0, 0.0)), "ABAA", strict=True)
)


def test_a_name_that_two_waypoints_bear_is_refused_with_their_numbers_and_a_number_serves() -> None:
    twice = {"legs": [{"from_waypoint": "A", "speed_kn": 4.0}], "waits": [{"at_waypoint": "A", "hours": 2.0}]}
    with pytest.raises(InputError, match=r"has 3 waypoints 'A', numbers 1, 3, 4\. Write the number.*at_waypoint = 1"):
        legs_of(passage(**twice), LOOP)
    by_number = {"legs": [{"from_waypoint": 3, "speed_kn": 4.0}], "waits": [{"at_waypoint": 3, "hours": 2.0}]}
    legs, _ = legs_of(passage(**by_number), LOOP)
    assert np.isnan(legs.fixed_kn).tolist() == [True, True, False]
    assert legs.lying.tolist() == [UNDER_WAY, UNDER_WAY, AT_ANCHOR]


@pytest.mark.parametrize(
    ("waits", "words"),
    [
        ([{"at_waypoint": 5, "hours": 1.0}], "no waypoint 5. Its 4 waypoints are numbered from 1"),
        ([{"at_waypoint": 4, "hours": 1.0}], "4 is the destination"),
        ([{"at_waypoint": "B", "hours": 1.0}, {"at_waypoint": 2, "hours": 1.0}], "2 stands here twice"),
    ],
)
def test_a_number_that_serves_nothing_is_refused(waits: list[dict[str, object]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        legs_of(passage(waits=waits), LOOP)


@pytest.mark.parametrize("key", [0, -1, True, "", 1.5])
def test_a_key_that_is_neither_name_nor_number_is_refused(key: object) -> None:
    with pytest.raises(ValueError, match="is no waypoint"):
        passage(waits=[{"at_waypoint": key, "hours": 1.0}])


def test_a_waypoint_beyond_the_limit_and_a_route_of_one_point_are_refused() -> None:
    with pytest.raises(InputError, match=r"'W1' lies at 50\.00 S, beyond 45"):
        legs_of(passage(sailings="composite", limiting_lat_deg=45.0), route((-40.0, 0.0), (-50.0, 10.0)))
    with pytest.raises(InputError, match="1 waypoints"):
        legs_of(passage(), EAST[:1])


def test_the_winds_hours_count_from_departure_and_its_speed_is_in_knots() -> None:
    grid = wind_grid(steady(10.0, 270.0), DEPARTURE - np.timedelta64(6, "h"), 0)
    assert grid.time_h[0] == 6.0
    assert grid.east_kn == pytest.approx(np.full(grid.east_kn.shape, 10.0))  # a westerly blows toward east
    assert grid.north_kn == pytest.approx(np.zeros(grid.north_kn.shape), abs=1e-9)


def test_a_grid_right_round_the_globe_is_closed_with_its_first_meridian() -> None:
    part = steady(10.0, 270.0).isel(lon=0, drop=True)
    globe = part.expand_dims(lon=np.arange(0.0, 360.0, 90.0)).transpose("member", "time", "lat", "lon")
    globe["wind_east_m_s"] = globe["wind_east_m_s"] * (1.0 + globe["lon"] / 90.0)
    grid = wind_grid(globe, DEPARTURE, 0)
    assert grid.lon_deg.tolist() == [0.0, 90.0, 180.0, 270.0, 360.0]
    assert grid.east_kn[0, 0] == pytest.approx([10.0, 20.0, 30.0, 40.0, 10.0])


def test_a_constant_current_sets_where_it_says_and_one_from_a_file_must_be_there() -> None:
    given = passage(current={"set_deg": 90.0, "drift_kn": 2.0})
    grid = current_grid(given, steady(10.0, 0.0), 0)
    assert (float(grid.east_kn.item()), float(grid.north_kn.item())) == pytest.approx((2.0, 0.0), abs=1e-12)
    with pytest.raises(InputError, match="no forecast file holds currents"):
        current_grid(passage(current={"source": "forecast"}), steady(10.0, 0.0), 0)


def test_a_boat_without_limits_has_none() -> None:
    vessel = vessel_of(boat().sailing.model_copy(update={"board_h": None, "seaway_factor": None}), pace=0.7)
    assert vessel.board_h == np.inf
    assert vessel.seaway_factor.tolist() == [1.0]
    assert vessel.pace == 0.7
    assert vessel.engine_least_h == boat().sailing.engine_least_min / 60.0


def test_a_moment_with_an_offset_is_the_same_in_utc() -> None:
    assert to_numpy(passage().departure) == np.datetime64(passage().departure.timestamp().__int__(), "s")
