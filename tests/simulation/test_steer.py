"""Other headings beside a track: the march's own where nothing is turned, its rules where something is."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from sailing_case import blow, boat, passage, route, sail, steady

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Current
from planner.simulation.track.steer import steer

LEG = ((-30.0, 175.0), (-28.5, 176.5))


def sailed(speed_kn: float = 14.0, from_deg: float = 130.0) -> xr.Dataset:
    return sail(passage(), boat(), route(*LEG), steady(speed_kn, from_deg))


def turned(track: xr.Dataset, turn_deg: float, tack: int, drift_kn: float = 0.0) -> xr.Dataset:
    steps = track.sizes["time"]
    return steer(
        track,
        track["heading_deg"].values + turn_deg,
        np.full(steps, float(tack)),
        sailing=boat().sailing,
        current=Current(set_deg=0.0, drift_kn=drift_kn),
        fixed_kn=np.full(steps, np.nan),
    )


def test_no_turn_gives_the_track_back() -> None:
    track = sailed()
    again = turned(track, 0.0, 1)
    for name in ("course_deg", "leeway_deg", "apparent_wind_angle_deg", "heel_deg", "boom_angle_deg", "tack"):
        np.testing.assert_allclose(again[name], track[name], atol=1e-9, err_msg=name)
    # in the last step she lies still once there
    np.testing.assert_allclose(again["speed_through_water_kn"][:-1], track["speed_through_water_kn"][:-1], atol=1e-9)


def test_tracks_end_to_end_are_steered_as_each_by_itself() -> None:
    """One at half her pace that sails, one that has been driven for an hour in too little wind."""
    tracks = [sailed().isel(time=slice(0, 12)), sailed(6.0).isel(time=slice(0, 12))]
    tracks[0].attrs["pace"] = 0.5
    together = xr.concat(tracks, "time").assign_attrs(pace=np.repeat([0.5, 1.0], 12))

    def held(track: xr.Dataset, driven_h: float | np.ndarray) -> xr.Dataset:
        return steer(
            track,
            track["heading_deg"].values + 50.0,
            np.ones(track.sizes["time"]),
            sailing=boat().sailing,
            current=Current(),
            fixed_kn=np.full(track.sizes["time"], np.nan),
            driven_h=driven_h,
        )

    driven_h = np.full(24, np.nan)
    driven_h[::12] = 0.0, 1.0
    alone = [held(track, hours) for track, hours in zip(tracks, (0.0, 1.0), strict=True)]
    both = held(together, driven_h)
    for name in ("speed_through_water_kn", "leeway_deg", "under_engine", "course_deg", "heel_deg"):
        np.testing.assert_array_equal(both[name], np.concatenate([each[name].values for each in alone]), err_msg=name)


def test_coming_up_heels_more_and_hardens_the_sheets() -> None:
    track = sailed()
    up = turned(track, 30.0, 1)
    assert (np.abs(up["heel_deg"]) > np.abs(track["heel_deg"])).all()
    assert (up["boom_angle_deg"] < track["boom_angle_deg"]).all()
    np.testing.assert_allclose(up["true_wind_angle_deg"], track["true_wind_angle_deg"] - 30.0, atol=1e-9)


def test_too_near_the_wind_she_motors_upright_with_sails_down() -> None:
    pinched = turned(sailed(), 75.0, 1)
    assert (pinched["under_engine"] == 1).all()
    for name in ("heel_deg", "leeway_deg", "boom_angle_deg", "mainsail_hoist_fraction", "headsail_set_fraction"):
        assert (pinched[name] == 0).all(), name


def test_too_near_the_wind_without_an_engine_she_has_no_way() -> None:
    track = sailed()
    still = steer(
        track,
        track["heading_deg"].values + 75.0,
        np.ones(track.sizes["time"]),
        sailing=boat(engine_below_kn=0.0).sailing,
        current=Current(),
        fixed_kn=np.full(track.sizes["time"], np.nan),
    )
    for name in ("under_engine", "speed_through_water_kn", "leeway_deg"):
        assert (still[name] == 0).all(), name


@pytest.mark.parametrize(("fixed_kn", "motors_kn"), [(4.0, 4.0), (7.0, 5.5)])
def test_a_fixed_speed_on_another_heading_is_the_engines_up_to_motoring(fixed_kn: float, motors_kn: float) -> None:
    track = sailed()
    pinched = steer(
        track,
        track["heading_deg"].values + 75.0,
        np.ones(track.sizes["time"]),
        sailing=boat().sailing,
        current=Current(),
        fixed_kn=np.full(track.sizes["time"], fixed_kn),
    )
    np.testing.assert_allclose(pinched["speed_through_water_kn"], motors_kn)


def test_the_other_tack_mirrors_the_boat() -> None:
    track = sailed()
    angle = float(track["true_wind_angle_deg"][0])
    other = turned(track, 2.0 * angle, -1)
    for name in ("true_wind_angle_deg", "heel_deg", "boom_angle_deg", "leeway_deg"):
        np.testing.assert_allclose(other[name][0], -track[name][0], atol=0.2, err_msg=name)
    assert other["speed_through_water_kn"][0].item() == pytest.approx(
        track["speed_through_water_kn"][0].item(), rel=1e-6
    )


def test_a_current_sets_course_and_speed_but_not_the_trim() -> None:
    track = sailed()
    set_on, still = turned(track, 0.0, 1, drift_kn=1.0), turned(track, 0.0, 1)
    np.testing.assert_allclose(set_on["heel_deg"], still["heel_deg"])
    gained = set_on["speed_over_ground_kn"] - still["speed_over_ground_kn"]
    assert (gained > 0.5).all()  # it sets north, half a right angle off her heading: seven tenths of it


def held_as_planned(track: xr.Dataset, vessel: Boat, *, driven_h: float = 0.0) -> xr.Dataset:
    return steer(
        track,
        track["heading_deg"].values,
        track["tack"].values,
        sailing=vessel.sailing,
        current=Current(),
        fixed_kn=np.full(track.sizes["time"], np.nan),
        driven_h=driven_h,
    )


def test_the_engine_starts_and_stops_by_the_helms_own_rule() -> None:
    """In a wind about the threshold margin and shortest run decide, also in hours cut out of the middle of a run."""
    vessel = boat(engine_below_kn=4.2, engine_margin_kn=0.5, engine_least_min=60.0)
    track = sail(
        passage(), vessel, route(*LEG), blow(lambda hour: (6.5 + 1.5 * np.sin(1.7 * hour), 130.0), every_h=0.25)
    )
    engine = track["under_engine"].values
    assert 0.1 < engine.mean() < 0.9
    np.testing.assert_array_equal(held_as_planned(track, vessel)["under_engine"][:-1], engine[:-1])
    bare = boat(engine_below_kn=4.2, engine_margin_kn=0.0, engine_least_min=0.0)
    assert (held_as_planned(track, bare)["under_engine"].values != engine).any()  # so the rule is not idle here
    start = int(np.flatnonzero(np.diff(engine) == 1)[0]) + 1
    late = track.isel(time=slice(start + 2, None))
    again = held_as_planned(late, vessel, driven_h=2.0 / 6.0)
    np.testing.assert_array_equal(again["under_engine"][:-1], late["under_engine"][:-1])


def test_a_pace_slowed_for_a_wanted_arrival_is_kept() -> None:
    own = sailed()
    hours = own.sizes["time"] / 6.0 * 1.25
    wanted = np.datetime_as_string(own["time"].values[0] + np.timedelta64(round(hours * 60), "m"), unit="m")
    slow = sail(passage(arrival=f"{wanted}Z"), boat(), route(*LEG), steady(14.0, 130.0))
    again = held_as_planned(slow, boat())
    assert slow.attrs["pace"] < 0.85
    for name in ("speed_through_water_kn", "speed_over_ground_kn", "apparent_wind_angle_deg", "heel_deg"):
        np.testing.assert_allclose(again[name][:-1], slow[name][:-1], atol=1e-9, err_msg=name)
