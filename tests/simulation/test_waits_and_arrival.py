"""Waits at anchor and hove-to, and an arrival that is wanted at a time."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sailing_case import DEPARTURE, blow, boat, passage, route, sail, sailed_nm, steady

from planner.domain.errors import InputError
from planner.domain.inputs.boat import Boat
from planner.presentation.words.notes import all_said
from planner.simulation.ledger.demand import steering_w
from planner.simulation.track.warnings import track_warnings

THREE = route((-30.0, 178.0), (-29.0, 178.0), (-28.0, 178.0))
START = datetime(2027, 5, 8, 22, 0, tzinfo=UTC)


def wait(**given):
    return passage(waits=[{"at_waypoint": "W1", **given}])


def wrapped(angle):
    return (np.asarray(angle) + 180.0) % 360.0 - 180.0


def arrival_h(track) -> float:
    return (datetime.fromisoformat(track.attrs["arrival"]) - START) / timedelta(hours=1)


def test_at_anchor_she_lies_head_to_wind_with_sails_down_and_boom_stowed() -> None:
    wind = blow(lambda h: (15.0, 90.0 + 2.0 * h))
    stowed = boat(anchored={"boom_angle_deg": 20.0})
    plain, waited = sail(passage(), stowed, THREE, wind), sail(wait(hours=5.0), stowed, THREE, wind)
    lying = waited.where(waited["lying"] == 1, drop=True)
    assert lying.sizes["time"] == pytest.approx(30, abs=1)
    np.testing.assert_allclose(wrapped(lying["heading_deg"] - lying["true_wind_from_deg"]), 0.0, atol=1e-9)
    np.testing.assert_allclose(lying["apparent_wind_speed_kn"], 15.0, rtol=1e-3)  # vectors between hours: a chord
    np.testing.assert_allclose(lying["boom_angle_deg"], 20.0)
    for name in ("mainsail_hoist_fraction", "headsail_set_fraction", "heel_deg"):
        assert (lying[name] == 0.0).all()
    still = lying.isel(time=slice(1, -1))  # the first and the last step hold some sailing
    assert (still["speed_over_ground_kn"] == 0.0).all()
    assert np.ptp(still["lat"].values) < 1e-9
    assert arrival_h(waited) > arrival_h(plain) + 4.9
    assert sailed_nm(waited) == pytest.approx(sailed_nm(plain), abs=1e-6)
    assert track_warnings(waited, wait(hours=5.0), stowed.sailing, THREE) == []  # least of all of slow progress


def test_at_anchor_in_a_tide_she_feels_the_wind_over_ground() -> None:
    tide = passage(waits=[{"at_waypoint": "W1", "hours": 5.0}], current={"set_deg": 0.0, "drift_kn": 2.0})
    track = sail(tide, boat(), THREE, steady(15.0, 90.0))
    still = track.where(track["lying"] == 1, drop=True).isel(time=slice(1, -1))
    np.testing.assert_allclose(still["heading_deg"], 90.0)  # to the wind that the forecast gives, not the tide's
    np.testing.assert_allclose(still["apparent_wind_speed_kn"], 15.0)
    np.testing.assert_allclose(still["apparent_wind_angle_deg"], 0.0, atol=1e-9)
    np.testing.assert_allclose(still["speed_through_water_kn"], 2.0)
    np.testing.assert_allclose(still["speed_over_ground_kn"], 0.0)


def test_hove_to_she_drifts_before_the_wind_with_the_headsail_aback() -> None:
    track = sail(wait(how="hove_to", hours=10.0), boat(), THREE, steady(25.0, 70.0))
    lying = track.where(track["lying"] == 2, drop=True).isel(time=slice(1, -1))
    np.testing.assert_allclose(lying["true_wind_angle_deg"], 50.0)
    np.testing.assert_allclose(lying["speed_over_ground_kn"], 1.0)  # 0.04 of 25 kn
    np.testing.assert_allclose(lying["course_deg"], 250.0)
    assert (np.sign(lying["headsail_angle_deg"]) == -np.sign(lying["boom_angle_deg"])).all()
    assert (np.sign(lying["boom_angle_deg"]) == 1).all()  # starboard tack: boom to port
    off = float(lying["lon"][-1]) - 178.0
    hours = lying.sizes["time"] / 6.0
    assert off * 60.0 * math.cos(math.radians(29.0)) == pytest.approx(-hours * math.sin(math.radians(70.0)), rel=0.05)
    assert float(track["distance_to_go_nm"][-1]) < 1.5  # and comes to the mark all the same


def test_a_wait_until_a_moment_ends_there_and_one_that_is_over_is_told() -> None:
    late = sail(wait(until="2027-05-09T22:00:00Z"), boat(), THREE, steady(15.0, 90.0))
    under_way = late["time"].values[late["lying"].values == 0]
    assert np.datetime64("2027-05-09T22:00") in under_way
    assert late["lying"].sel(time="2027-05-09T21:50") == 1
    missed = sail(wait(until="2027-05-08T23:00:00Z"), boat(), THREE, steady(15.0, 90.0))
    assert "lying" in missed
    assert not missed["lying"].any()
    assert all_said(missed.attrs["notes"]) == [
        "The wait at W1 until 08 May 23:00 (UTC+0000) is over before the boat comes."
    ]


def test_nobody_steers_at_anchor() -> None:
    track = sail(wait(hours=5.0), boat(), THREE, steady(15.0, 90.0))
    drawn = steering_w(track, Boat.model_validate(boat()).autopilot)
    assert (drawn[track["lying"].values == 1] == 0.0).all()
    assert (drawn[track["lying"].values == 0] > 0.0).all()


@pytest.mark.parametrize(("name", "message"), [("W2", "the destination"), ("Opaa", "no waypoint 'Opaa'")])
def test_a_wait_needs_a_waypoint_before_the_last(name: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        sail(passage(waits=[{"at_waypoint": name, "hours": 1.0}]), boat(), THREE, steady(15.0, 90.0))


def test_she_slows_down_for_a_wanted_arrival() -> None:
    own = sail(passage(), boat(), THREE, steady(15.0, 90.0))
    wanted = START + timedelta(hours=arrival_h(own) * 1.25)
    slow = sail(passage(arrival=wanted.isoformat()), boat(), THREE, steady(15.0, 90.0))
    assert arrival_h(slow) == pytest.approx(arrival_h(own) * 1.25, abs=1 / 60)
    np.testing.assert_allclose(slow["speed_through_water_kn"][5], 0.8 * own["speed_through_water_kn"][5], rtol=1e-3)
    assert not slow["under_engine"].any()  # slowed down on purpose, not for want of wind
    assert all_said(slow.attrs["notes"]) == ["She goes at 80% of her speed to arrive as wanted."]


def test_she_waits_for_a_wanted_arrival_where_a_wait_is_open_ended() -> None:
    wind = blow(lambda h: (15.0 + 3.0 * math.sin(h / 5.0), 90.0))
    wanted = START + timedelta(hours=48.0)
    stay = passage(arrival=wanted.isoformat(), waits=[{"at_waypoint": "W1"}])
    track = sail(stay, boat(), THREE, wind)
    assert arrival_h(track) == pytest.approx(48.0, abs=1 / 60)
    hours = float((track["lying"] == 1).sum()) / 6.0
    assert all_said(track.attrs["notes"])[0].startswith("She waits ")
    assert float(all_said(track.attrs["notes"])[0].split()[2]) == pytest.approx(hours, abs=0.2)


@pytest.mark.parametrize(
    ("hours", "message"),
    [
        (4.0, r"at her own pace the boat arrives \d+\.\d h after .* Leave earlier"),
        (200.0, r"even at 50% of her speed the boat arrives .* h before .* add a wait without hours"),
    ],
)
def test_an_arrival_that_cannot_be_met_is_refused(hours: float, message: str) -> None:
    wanted = (START + timedelta(hours=hours)).isoformat()
    with pytest.raises(InputError, match=message):
        sail(passage(arrival=wanted), boat(), THREE, steady(15.0, 90.0))


def test_a_plan_without_waits_or_current_has_no_column_for_them() -> None:
    track = sail(passage(), boat(), THREE, steady(15.0, 90.0))
    assert not {"lying", "current_set_deg", "current_drift_kn"} & set(track)
    assert track["time"].values[0] == DEPARTURE
