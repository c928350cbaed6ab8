"""From a fix on: which waypoint is next, across the antimeridian too, and what belongs to legs behind her."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime, timedelta

import pytest
from study_case import demo_inputs

from planner.domain.errors import InputError
from planner.domain.inputs.passage import Passage, ShipTime, Watch
from planner.domain.inputs.route import Leg, Waypoint
from planner.domain.results.replan import LastPlan
from planner.domain.ship_clock import ShipClock, offset_at
from planner.studies.replan.rest_of_route import (
    clock_to_fix,
    keepers_from,
    next_waypoint,
    rest_of_passage,
    rest_of_route,
)

ROUTE = (
    Waypoint(name="A", lat=-35.0, lon=174.0),
    Waypoint(name="B", lat=-30.0, lon=178.0),
    Waypoint(name="C", lat=-22.0, lon=-176.0),
)


def fix(lat: float, lon: float) -> Waypoint:
    return Waypoint(name="fix", lat=lat, lon=lon)


@pytest.mark.parametrize(("lat", "lon", "index"), [(-33.0, 175.7, 1), (-27.0, -179.5, 2), (-27.0, 179.7, 2)])
def test_the_next_waypoint_ends_the_leg_that_she_is_on(lat: float, lon: float, index: int) -> None:
    assert next_waypoint(ROUTE, fix(lat, lon)) == index


def test_the_rest_begins_at_the_fix() -> None:
    rest, index = rest_of_route(ROUTE, fix(-27.0, 179.7), None)
    assert [waypoint.name for waypoint in rest] == ["fix", "C"]
    assert index == 2


def test_a_named_waypoint_stands() -> None:
    rest, _ = rest_of_route(ROUTE, fix(-27.0, 179.7), "B")
    assert [waypoint.name for waypoint in rest] == ["fix", "B", "C"]


def test_an_unknown_waypoint_is_refused() -> None:
    with pytest.raises(InputError, match="no waypoint 'D' ahead"):
        rest_of_route(ROUTE, fix(-27.0, 179.7), "D")


def test_a_fix_far_off_suspects_a_slip() -> None:
    with pytest.raises(InputError, match=r"nm off the route.*swapped"):
        rest_of_route(ROUTE, fix(27.0, 179.7), None)


def test_at_the_destination_nothing_is_left() -> None:
    with pytest.raises(InputError, match="nothing is left to plan"):
        rest_of_route(ROUTE, fix(-22.0, -176.0), None)


def test_legs_behind_are_dropped_and_the_one_being_sailed_begins_at_the_fix() -> None:
    legs = (Leg(from_waypoint="A", speed_kn=5.0), Leg(from_waypoint="B", speed_kn=6.0))
    passage = demo_inputs().passage.model_copy(update={"legs": legs})
    assert rest_of_passage(passage, ROUTE, 2).legs == (Leg(from_waypoint=1, speed_kn=6.0),)
    assert [leg.from_waypoint for leg in rest_of_passage(passage, ROUTE, 1).legs] == [1, 2]


def test_of_two_waypoints_of_one_name_the_next_is_given_by_number() -> None:
    loop = (*ROUTE, ROUTE[1].model_copy(update={"lon": 179.0}), ROUTE[0])
    with pytest.raises(InputError, match=r"has 2 waypoints 'B' ahead, numbers 2, 4\. Give the number"):
        rest_of_route(loop, fix(-27.0, 179.7), "B")
    assert rest_of_route(loop, fix(-27.0, 179.7), "4")[1] == 3
    assert rest_of_route(loop, fix(-34.0, 175.0), "A")[1] == 4  # ahead only the destination bears that name


def test_keepers_go_on_in_their_turn() -> None:
    halves = (Watch(start="00:00", end="12:00"), Watch(start="12:00", end="00:00"))
    departure = datetime(2027, 5, 9, 10, tzinfo=UTC)
    passage = Passage(
        departure=departure,
        boat="boat.toml",
        route="route.gpx",
        forecast="forecast.nc",
        start={"state_of_charge": 0.9},
        watches=halves,
        watchkeepers=("mate", "skipper", "cook"),
    )
    later = departure + timedelta(hours=27)  # the fourth watch, that of departure counted
    assert keepers_from(passage, departure, timedelta()) == ("mate", "skipper", "cook")
    assert keepers_from(passage, later, timedelta()) == ("mate", "skipper", "cook")
    assert keepers_from(passage, departure + timedelta(hours=3), timedelta())[0] == "skipper"


def westward(zone: str | None, **more: object) -> Passage:
    ship_time = ShipTime(zone=zone)
    departure = datetime(2027, 5, 8, tzinfo=UTC)
    return demo_inputs().passage.model_copy(update={"departure": departure, "ship_time": ship_time, **more})


WEST = (Waypoint(name="A", lat=-10.0, lon=-60.0), fix(-10.0, -70.0))
FOUR_DAYS_ON = datetime(2027, 5, 12, tzinfo=UTC)


def test_without_a_last_plan_the_clock_is_that_of_an_even_run() -> None:
    """She comes to the next zone after three days, and clocks are put back at the next watch of the afternoon."""
    clock = clock_to_fix(westward("nautical"), WEST, FOUR_DAYS_ON, timedelta(hours=-4), None)
    assert clock == ShipClock(timedelta(hours=-4), ((datetime(2027, 5, 11, 16, tzinfo=UTC), timedelta(hours=-5)),))
    assert clock_to_fix(westward(None), WEST, FOUR_DAYS_ON, timedelta(hours=-4), None) == timedelta(hours=-4)


def test_what_the_last_plan_told_of_the_clock_stands() -> None:
    told = ShipClock(timedelta(hours=-4), ((datetime(2027, 5, 11, 20, tzinfo=UTC), timedelta(hours=-5)),))
    last = LastPlan(
        **{each.name: () for each in fields(LastPlan)}
        | {"time": (datetime(2027, 5, 11, tzinfo=UTC),), "ship_offset": told}
    )
    clock = clock_to_fix(westward("nautical"), WEST, FOUR_DAYS_ON, timedelta(hours=-4), last)
    assert [offset_at(clock, datetime(2027, 5, 11, hour, tzinfo=UTC)) for hour in (1, 17, 21)] == [
        timedelta(hours=hours) for hours in (-4, -4, -5)
    ]


def test_keepers_are_counted_by_the_clock_that_was_kept() -> None:
    """With the clock put back once more than it was, an hour before midnight is not yet the next watch."""
    halves = (Watch(start="00:00", end="12:00"), Watch(start="12:00", end="00:00"))
    passage = westward("nautical", watches=halves, watchkeepers=("one", "two", "three"))
    clock = clock_to_fix(passage, WEST, FOUR_DAYS_ON, timedelta(hours=-4), None)
    at = datetime(2027, 5, 12, 4, 30, tzinfo=UTC)  # half past eleven by the new clock, past midnight by the old one
    assert keepers_from(passage, at, timedelta(hours=-4)) != keepers_from(passage, at, clock)
