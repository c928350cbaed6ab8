"""How she is steered and trimmed: the sign table row by row, boards, the held tack, set and drift."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sailing_case import blow, boat, passage, route, sail, sailed_nm, steady

from planner.domain.errors import InputError

COURSES = {
    "north": route((-30.0, 178.0), (-29.0, 178.0)),
    "east": route((-30.0, 178.0), (-30.0, 179.2)),
    "south": route((-29.0, 178.0), (-30.0, 178.0)),
    "west": route((-30.0, 179.2), (-30.0, 178.0)),
}
BEARING = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}


def wrapped(angle):
    return (np.asarray(angle) + 180.0) % 360.0 - 180.0


def early(track, name: str) -> float:
    return float(track[name].values[2])


@pytest.mark.parametrize("course", COURSES)
@pytest.mark.parametrize("tack", [1, -1])
@pytest.mark.parametrize("off_bow", [70.0, 110.0, 140.0])
def test_the_sign_table(course: str, tack: int, off_bow: float) -> None:
    track = sail(passage(), boat(), COURSES[course], steady(16.0, BEARING[course] + tack * off_bow))
    assert early(track, "tack") == tack  # wind over starboard: starboard tack, +1
    assert math.copysign(1, early(track, "true_wind_angle_deg")) == tack  # positive over starboard
    assert math.copysign(1, early(track, "apparent_wind_angle_deg")) == tack
    assert math.copysign(1, early(track, "boom_angle_deg")) == tack  # boom to port, positive, on starboard tack
    assert math.copysign(1, early(track, "headsail_angle_deg")) == tack
    assert math.copysign(1, early(track, "heel_deg")) == -tack  # port side down, negative, on starboard tack
    assert math.copysign(1, early(track, "leeway_deg")) == -tack  # set to port, negative, on starboard tack
    off = wrapped(early(track, "course_deg") - early(track, "heading_deg"))
    assert off == pytest.approx(early(track, "leeway_deg"), abs=1e-8)  # no current: course less heading is leeway
    assert abs(early(track, "apparent_wind_angle_deg")) < abs(early(track, "true_wind_angle_deg"))


def test_port_and_starboard_mirror_each_other() -> None:
    starboard, port = (
        sail(passage(), boat(), COURSES["north"], steady(16.0, from_deg)) for from_deg in (80.0, 280.0)
    )
    for name in ("boom_angle_deg", "heel_deg", "leeway_deg", "apparent_wind_angle_deg"):
        np.testing.assert_allclose(starboard[name], -port[name], atol=1e-7)
    np.testing.assert_allclose(starboard["speed_over_ground_kn"], port["speed_over_ground_kn"], rtol=1e-9)


def test_variation_stands_between_true_and_magnetic_heading() -> None:
    track = sail(passage(), boat(), COURSES["north"], steady(16.0, 80.0))
    variation = wrapped(track["heading_deg"] - track["heading_magnetic_deg"])
    assert ((variation > 10.0) & (variation < 20.0)).all()  # easterly here: the compass reads less


@pytest.mark.parametrize("from_deg", [0.0, 12.0, 348.0])
def test_a_beat_sails_one_over_the_cosine(from_deg: float) -> None:
    far = route((-30.0, 178.0), (-29.0, 178.0))
    track = sail(passage(), boat(board_nm=4.0), far, steady(12.0, from_deg))
    # Of boards at an angle a either side of the wind, the way to a mark at b off the wind is cos b / cos a long; the
    # meridians of boat and leg, 4 nm apart, point 0.04 degree apart, which moves the ratio by under 1e-4.
    row = track.isel(time=1)
    through = float(row["course_deg"])
    to_wind = math.radians(float(wrapped(through - from_deg)))
    ratio = sailed_nm(track) / float(track["distance_to_go_nm"][0])
    assert ratio == pytest.approx(math.cos(math.radians(wrapped(from_deg))) / math.cos(to_wind), rel=1e-4)
    assert (track["under_engine"] == 0).all()


def test_boards_stay_within_their_limit_and_change_tack() -> None:
    track = sail(passage(), boat(board_nm=4.0), route((-30.0, 178.0), (-28.0, 178.0)), steady(12.0, 0.0))
    off_nm = (track["lon"].values - 178.0) * 60.0 * math.cos(math.radians(29.0)) * 1.003
    assert 3.8 < np.abs(off_nm).max() < 4.1
    assert (np.diff(track["tack"]) != 0).sum() >= 5
    assert np.abs(track["true_wind_angle_deg"]).min() > 40.0
    assert np.abs(wrapped(track["leg_bearing_deg"])).max() < 0.1


@pytest.mark.parametrize(("from_deg", "first"), [(20.0, 1), (340.0, -1)])
def test_the_first_board_is_the_one_that_makes_better_ground(from_deg: float, first: int) -> None:
    track = sail(passage(), boat(), COURSES["north"], steady(12.0, from_deg))
    assert int(track["tack"][0]) == first


def test_no_boards_where_the_mark_is_just_laid() -> None:
    track = sail(passage(), boat(), COURSES["north"], steady(12.0, 55.0))
    np.testing.assert_allclose(wrapped(track["course_deg"]), 0.0, atol=1e-6)


def test_she_gybes_downwind_only_when_so_set() -> None:
    straight = sail(passage(), boat(), COURSES["north"], steady(12.0, 180.0))
    gybing = sail(passage(), boat(gybe_downwind=True), COURSES["north"], steady(12.0, 180.0))
    np.testing.assert_allclose(wrapped(straight["course_deg"]), 0.0, atol=1e-6)
    assert len(np.unique(gybing["tack"])) == 2
    assert sailed_nm(gybing) > sailed_nm(straight)
    assert gybing.sizes["time"] < straight.sizes["time"]  # it pays, or the best angle were no best angle


def test_a_run_before_a_wandering_wind_does_not_chatter() -> None:
    wander = blow(lambda h: (14.0, 180.0 + 4.0 * math.sin(3.0 * h)), every_h=0.25)
    track = sail(passage(), boat(), COURSES["north"], wander)
    assert len(np.unique(np.sign(track["true_wind_angle_deg"]))) == 2  # the wind does cross the stern
    assert len(np.unique(track["tack"])) == 1
    assert len(np.unique(np.sign(track["boom_angle_deg"]))) == 1


def test_the_headsail_is_poled_out_opposite_the_boom_on_a_run() -> None:
    track = sail(passage(), boat(), COURSES["north"], steady(14.0, 170.0))
    assert (np.sign(track["headsail_angle_deg"]) == -np.sign(track["boom_angle_deg"])).all()


@pytest.mark.parametrize("course", COURSES)
@pytest.mark.parametrize("current_set", [0.0, 50.0, 140.0, 230.0, 320.0])
def test_the_course_holds_in_a_current_by_vectors(course: str, current_set: float) -> None:
    stream = passage(current={"set_deg": current_set, "drift_kn": 1.5})
    track = sail(stream, boat(), COURSES[course], steady(16.0, BEARING[course] + 100.0)).isel(time=slice(0, -1))
    through = np.radians(track["heading_deg"] + track["leeway_deg"])
    east = track["speed_through_water_kn"] * np.sin(through) + 1.5 * math.sin(math.radians(current_set))
    north = track["speed_through_water_kn"] * np.cos(through) + 1.5 * math.cos(math.radians(current_set))
    np.testing.assert_allclose(np.hypot(east, north), track["speed_over_ground_kn"], atol=1e-8)
    np.testing.assert_allclose(wrapped(np.degrees(np.arctan2(east, north)) - track["course_deg"]), 0.0, atol=1e-8)
    np.testing.assert_allclose(wrapped(track["course_deg"] - track["leg_bearing_deg"]), 0.0, atol=1e-6)


def test_true_wind_is_over_the_water() -> None:
    stream = passage(current={"set_deg": 90.0, "drift_kn": 2.0})
    track = sail(stream, boat(), COURSES["north"], steady(16.0, 90.0))
    np.testing.assert_allclose(track["true_wind_speed_kn"], 18.0)  # an easterly over an east-going stream


def test_in_a_calm_on_a_stream_there_is_a_wind_over_the_water() -> None:
    stream = passage(current={"set_deg": 90.0, "drift_kn": 2.0})
    track = sail(stream, boat(), COURSES["north"], steady(0.0, 0.0))
    np.testing.assert_allclose(track["true_wind_speed_kn"], 2.0)
    np.testing.assert_allclose(track["true_wind_from_deg"], 90.0)


def test_a_current_that_beats_the_boat_is_an_error() -> None:
    stream = passage(current={"set_deg": 180.0, "drift_kn": 6.0})
    with pytest.raises(InputError, match=r"6 kn setting 180 beat the boat .* with 5\.5 kn under engine"):
        sail(stream, boat(), COURSES["north"], steady(0.0, 0.0))


def test_a_foul_current_that_beats_the_sails_starts_the_engine() -> None:
    stream = passage(current={"set_deg": 180.0, "drift_kn": 4.0})
    track = sail(stream, boat(), COURSES["north"], steady(9.0, 0.0))
    assert (track["under_engine"] == 1).all()


def test_beating_in_a_cross_current_still_arrives_on_the_mark() -> None:
    stream = passage(current={"set_deg": 90.0, "drift_kn": 1.0})
    track = sail(stream, boat(), route((-30.0, 178.0), (-29.0, 178.0)), steady(14.0, 5.0))
    assert (track["under_engine"] == 0).all()
    assert float(track["distance_to_go_nm"][-1]) < 1.2


def test_sails_are_reefed_by_the_apparent_wind() -> None:
    calm, blowing = (sail(passage(), boat(), COURSES["north"], steady(wind, 80.0)) for wind in (10.0, 28.0))
    assert early(blowing, "mainsail_hoist_fraction") < early(calm, "mainsail_hoist_fraction")
    assert early(blowing, "headsail_set_fraction") < early(calm, "headsail_set_fraction")
    assert abs(early(blowing, "heel_deg")) > abs(early(calm, "heel_deg"))
