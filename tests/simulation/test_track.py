"""The track: where it leads, how fast, under what, and when it is refused."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest
from pyproj import Geod
from sailing_case import DEPARTURE, blow, boat, passage, route, sail, sailed_nm, steady

from planner.domain.errors import InputError
from planner.domain.glossary import TRACK
from planner.domain.schema import check_dataset

NORTH = route((-30.0, 178.0), (-28.0, 178.0))
WGS84 = Geod(ellps="WGS84")


def wrapped(angle):
    return (np.asarray(angle) + 180.0) % 360.0 - 180.0


def test_a_track_keeps_the_contract_of_its_door() -> None:
    track = sail(passage(), boat(), NORTH, steady(15.0, 90.0))
    check_dataset(track, TRACK, door="test")
    assert track["time"].values[0] == DEPARTURE
    assert track["time"].dtype == "datetime64[ns]"
    assert set(np.unique(np.diff(track["time"].values))) == {np.timedelta64(10, "m")}
    for name in ("course_deg", "heading_deg", "heading_magnetic_deg", "leg_bearing_deg", "true_wind_from_deg"):
        assert ((track[name] >= 0.0) & (track[name] < 360.0)).all(), name
    assert not any(np.isnan(track[name]).any() for name in TRACK)


@pytest.mark.parametrize("sailings", ["great_circle", "rhumb_line"])
def test_a_reach_sails_the_legs_own_length_and_arrives_when_it_says(sailings: str) -> None:
    way = route((-35.0, 175.0), (-30.0, -178.0))
    track = sail(passage(sailings=sailings), boat(), way, steady(15.0, 320.0))
    assert sailed_nm(track) == pytest.approx(float(track["distance_to_go_nm"][0]), rel=1e-9)
    arrival = np.datetime64(datetime.fromisoformat(track.attrs["arrival"]).replace(tzinfo=None), "ns")
    last = track["time"].values[-1]
    assert last < arrival <= last + np.timedelta64(10, "m")
    if sailings == "rhumb_line":
        assert float(np.ptp(track["leg_bearing_deg"].values)) < 1e-9


def test_positions_lie_on_the_great_circle() -> None:
    track = sail(passage(), boat(), route((-35.0, 175.0), (-30.0, -178.0)), steady(15.0, 320.0))
    bearing, _, length = WGS84.inv(175.0, -35.0, -178.0, -30.0)
    along = length - track["distance_to_go_nm"].values * 1852.0
    n = along.size
    lon, lat, back = WGS84.fwd(np.full(n, 175.0), np.full(n, -35.0), np.full(n, bearing), along)
    _, _, off = WGS84.inv(lon, lat, track["lon"].values, track["lat"].values)
    assert off.max() < 1e-3
    np.testing.assert_allclose(wrapped(track["leg_bearing_deg"].values - (np.asarray(back) + 180.0)), 0.0, atol=1e-7)


def test_a_shorter_step_tells_the_same_passage() -> None:
    ten, one = (
        sail(passage(model={"step_min": step}), boat(), NORTH, blow(lambda h: (14.0, 60.0 + 2.0 * h)))
        for step in (10, 1)
    )
    arrivals = [datetime.fromisoformat(track.attrs["arrival"]) for track in (ten, one)]
    assert abs((arrivals[0] - arrivals[1]).total_seconds()) < 60.0


def test_speed_is_the_polars_times_comfort_on_the_point_of_sail() -> None:
    track = sail(passage(), boat(comfort_factor=0.8), NORTH, steady(16.0, 90.0))
    row = track.isel(time=3)
    angles = [0, 30, 45, 52, 60, 75, 90, 110, 120, 135, 150, 165, 180]
    at_16_kn = [0.0, 3.0, 6.2, 6.7, 7.1, 7.4, 7.6, 7.7, 7.7, 7.4, 6.9, 6.4, 6.1]
    expected = 0.8 * np.interp(abs(float(row["true_wind_angle_deg"])), angles, at_16_kn)
    assert float(row["speed_through_water_kn"]) == pytest.approx(expected, abs=1e-9)


def test_without_wind_she_motors_throughout_with_sails_down() -> None:
    track = sail(passage(), boat(), NORTH, steady(0.0, 0.0))
    assert (track["under_engine"] == 1).all()
    for name in ("heel_deg", "leeway_deg", "boom_angle_deg", "mainsail_hoist_fraction", "headsail_set_fraction"):
        assert (track[name] == 0.0).all(), name
    np.testing.assert_allclose(track["speed_through_water_kn"][:-1], 5.5)
    hours = (
        datetime.fromisoformat(track.attrs["arrival"]) - datetime.fromisoformat("2027-05-08T22:00+00:00")
    ).seconds
    assert hours % 86400 == pytest.approx(float(track["distance_to_go_nm"][0]) / 5.5 * 3600 % 86400, abs=1.0)


def test_the_engine_takes_over_below_the_threshold_only() -> None:
    track = sail(passage(), boat(engine_below_kn=4.0), NORTH, blow(lambda h: (max(16.0 - h, 2.0), 90.0)))
    sailing = track["under_engine"].values[:-1] == 0
    speed = track["speed_through_water_kn"].values[:-1]
    assert sailing[0]
    assert not sailing[-1]
    assert (speed[sailing] >= 4.0 - 1e-9).all()
    np.testing.assert_allclose(speed[~sailing], 5.5)


def test_a_fixed_speed_holds_on_its_leg_alone() -> None:
    way = route((-30.0, 178.0), (-29.0, 178.0), (-28.0, 178.0))
    track = sail(passage(legs=[{"from_waypoint": "W1", "speed_kn": 4.25}]), boat(), way, steady(15.0, 90.0))
    second = track["speed_through_water_kn"].values[(track["leg"] == 1).values][1:-1]
    np.testing.assert_allclose(second, 4.25)
    assert (track["speed_through_water_kn"].values[(track["leg"] == 0).values][:-1] > 5.0).all()


@pytest.mark.parametrize(("wind_kn", "from_deg", "engine"), [(0.0, 0.0, 1), (15.0, 0.0, 1), (15.0, 90.0, 0)])
def test_a_fixed_speed_comes_from_the_engine_where_sails_cannot_give_it(
    wind_kn: float, from_deg: float, engine: int
) -> None:
    fixed = passage(legs=[{"from_waypoint": "W0", "speed_kn": 5.0}])
    track = sail(fixed, boat(), NORTH, steady(wind_kn, from_deg))
    assert (track["under_engine"] == engine).all()


def test_there_and_back_across_the_antimeridian_is_equally_far() -> None:
    there = sail(passage(), boat(), route((-20.0, 175.0), (-20.0, -175.0)), steady(0.0, 0.0))
    back = sail(passage(), boat(), route((-20.0, -175.0), (-20.0, 175.0)), steady(0.0, 0.0))
    assert sailed_nm(there) == pytest.approx(sailed_nm(back), rel=1e-12)
    assert ((there["lon"] >= -180.0) & (there["lon"] < 180.0)).all()
    assert (np.abs(wrapped(np.diff(there["lon"]))) < 0.05).all()


@pytest.mark.parametrize("sailings", ["great_circle", "rhumb_line"])
@pytest.mark.parametrize("lon", [90.0, -180.0 + 1e-9])
def test_a_route_through_89_north_does_not_break(sailings: str, lon: float) -> None:
    track = sail(passage(sailings=sailings), boat(), route((89.0, 0.0), (89.0, lon)), steady(12.0, 200.0))
    assert not any(np.isnan(track[name]).any() for name in TRACK)
    assert float(track["lat"].max()) <= 90.0


def test_a_waypoint_inside_a_step_costs_no_time() -> None:
    straight = sail(passage(), boat(), NORTH, steady(0.0, 0.0))
    broken = sail(passage(), boat(), route((-30.0, 178.0), (-29.3, 178.0), (-28.0, 178.0)), steady(0.0, 0.0))
    arrivals = [datetime.fromisoformat(track.attrs["arrival"]) for track in (straight, broken)]
    assert abs((arrivals[0] - arrivals[1]).total_seconds()) < 1e-3


def test_speeds_and_distance_agree_step_by_step() -> None:
    track = sail(passage(), boat(), NORTH, steady(18.0, 10.0))
    np.testing.assert_allclose(
        np.diff(track["distance_nm"]), track["speed_over_ground_kn"].values[:-1] / 6.0, atol=1e-9
    )


def test_the_wind_is_the_forecasts_at_mid_step_and_place() -> None:
    forecast = blow(lambda h: (12.0 + 0.1 * h, 90.0), every_h=6.0)
    track = sail(passage(), boat(), NORTH, forecast)
    middle = (track["time"].values - DEPARTURE) / np.timedelta64(1, "h") + 1.0 / 12.0
    np.testing.assert_allclose(track["true_wind_speed_kn"], 12.0 + 0.1 * middle, rtol=1e-12)


def test_members_sail_their_own_wind() -> None:
    import xarray as xr

    two = xr.concat([steady(12.0, 90.0), steady(20.0, 90.0)], dim="member")
    slow, fast = (sail(passage(), boat(), NORTH, two, member=member) for member in (0, 1))
    assert fast.sizes["time"] < slow.sizes["time"]


def test_a_boat_without_wind_or_engine_is_told_so_after_sixty_days() -> None:
    with pytest.raises(InputError, match=r"after 60 days .* nm to go to W1; the engine never drives"):
        sail(passage(), boat(engine_below_kn=0.0), NORTH, steady(0.0, 0.0))


def test_a_current_that_beats_her_is_named_with_the_faster_of_sail_and_engine() -> None:
    """Abeam in 20 kn she sails 7.3 kn and motors 5.5; once the refusal spoke of the engine."""
    beaten = passage(current={"set_deg": 180.0, "drift_kn": 7.5})
    with pytest.raises(InputError, match=r"no heading holds the course with 7\.3 kn under sail"):
        sail(beaten, boat(), NORTH, steady(20.0, 90.0))
    with pytest.raises(InputError, match=r"no heading holds the course with 5\.5 kn under engine"):
        sail(beaten, boat(), NORTH, steady(4.0, 90.0))


def test_a_table_that_knows_no_beat_leads_to_no_mark_to_windward() -> None:
    reaching = boat().sailing.polar.model_dump()
    for name in ("true_wind_angle_deg", "speed_kn"):
        reaching[name] = reaching[name][6:]
    with pytest.raises(InputError, match=r"the mark lies 0 degrees off the wind of 16 kn.*rows nearer the wind"):
        sail(passage(), boat(polar=reaching, engine_below_kn=0.0), NORTH, steady(16.0, 0.0))


def test_an_engine_out_of_service_is_named_where_a_calm_never_ends() -> None:
    document = boat().model_dump(mode="json")
    document["engine"]["available"] = False
    with pytest.raises(InputError, match="the engine is out of service; wind there 0 kn"):
        sail(passage(), type(boat()).model_validate(document), NORTH, steady(0.0, 0.0))


def test_sails_down_she_goes_at_her_motoring_speed_in_any_wind() -> None:
    track = sail(passage(), boat(engine_below_wind_kn=30.0), NORTH, steady(20.0, 90.0))
    np.testing.assert_allclose(track["speed_through_water_kn"][:-1], 5.5)


def test_a_fixed_speed_without_an_engine_is_tacked_to_windward() -> None:
    fixed = passage(legs=[{"from_waypoint": "W0", "speed_kn": 5.0}])
    track = sail(fixed, boat(engine_below_kn=0.0), NORTH, steady(16.0, 0.0))
    np.testing.assert_allclose(np.abs(track["true_wind_angle_deg"]), 45.0, atol=0.01)
    np.testing.assert_allclose(track["speed_through_water_kn"][:-1], 5.0)
    assert set(track["tack"].values.tolist()) == {-1, 1}


def test_what_lies_beyond_the_tables_is_told_in_hours() -> None:
    gale = sail(passage(), boat(), NORTH, steady(60.0, 90.0))
    (note,) = gale.attrs["notes"]
    assert (note.code, note.figures["end_kn"], round(note.figures["most_kn"])) == ("beyond_polar", 30.0, 60)
    assert note.figures["hours"] == pytest.approx(gale.sizes["time"] / 6.0)
    steep = sail(passage(), boat(), route((80.0, -100.0), (81.0, -100.0)), steady(16.0, 90.0))
    assert [note.code for note in steep.attrs["notes"]] == ["compass_weak"]


def test_a_crawl_is_told_with_its_hours() -> None:
    against = passage(current={"set_deg": 180.0, "drift_kn": 5.0})
    track = sail(against, boat(), route((-30.0, 178.0), (-29.8, 178.0)), steady(16.0, 0.0))
    (note,) = track.attrs["notes"]
    assert note.code == "slow_progress"
    assert note.figures["hours"] == pytest.approx(track.sizes["time"] / 6.0, abs=0.3)
    assert note.figures["least_kn"] == pytest.approx(0.5, abs=1e-6)


def test_a_gap_in_the_forecast_is_named() -> None:
    forecast = blow(lambda h: (12.0 if h < 3.0 else np.nan, 90.0))
    with pytest.raises(InputError, match=r"no wind is given at 29\.\d\d S, 178\.00 E on 2027-05-09"):
        sail(passage(), boat(), NORTH, forecast)


def test_a_leg_that_no_waypoint_begins_is_refused_with_the_near_match() -> None:
    with pytest.raises(InputError, match="the route has no waypoint 'W9'"):
        sail(passage(legs=[{"from_waypoint": "W9"}]), boat(), NORTH, steady(12.0, 90.0))


def test_a_route_of_one_point_is_refused() -> None:
    with pytest.raises(InputError, match="1 waypoints; a passage needs two"):
        sail(passage(), boat(), NORTH[:1], steady(12.0, 90.0))
