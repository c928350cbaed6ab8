"""The helm's parts by vectors drawn by hand: how she lies, what wind she feels, what she remembers."""

from __future__ import annotations

import numpy as np
import pytest
from sailing_case import boat

from planner.simulation.track.helm import (
    AT_ANCHOR,
    HOVE_TO,
    Air,
    Memory,
    Motion,
    felt_wind,
    lie,
    remember,
    sailing_speed,
)
from planner.simulation.track.orders import vessel_of

FRESH = Memory(0.0, 0.0, 0.0, 0.0, 0.0)
STILL = Air(20.0, 0.0, 0.0, 0.0)
"""A northerly of 20 kn over water that stands."""


def motion(**changes: float) -> Motion:
    """Heading east at 5 kn through still water on port tack, no board begun."""
    given = {
        "heading_deg": 90.0, "leeway_deg": 0.0, "through_kn": 5.0, "course_deg": 90.0, "ground_kn": 5.0,
        "made_good_kn": 5.0, "tack": -1.0, "engine": 0.0, "side": 0.0, "other_deg": 0.0, "lying": 0.0, **changes,
    }  # fmt: skip
    return Motion(**given)


def test_wind_on_the_beam_is_drawn_ahead_by_her_own_speed() -> None:
    felt_kn, felt_deg = felt_wind(Air(12.0, 0.0, 0.0, 0.0), motion())
    assert felt_kn == pytest.approx(13.0)  # 5, 12 and 13
    assert felt_deg == pytest.approx(-np.degrees(np.arctan2(12.0, 5.0)))  # over the port side


def test_at_anchor_she_lies_head_to_wind_and_makes_no_ground() -> None:
    lying = lie(vessel_of(boat().sailing), STILL, FRESH, AT_ANCHOR)
    assert (lying.heading_deg % 360.0, lying.ground_kn, lying.through_kn) == pytest.approx((0.0, 0.0, 0.0))


def test_at_anchor_in_a_stream_she_lies_head_to_the_wind_over_ground() -> None:
    """Ten knots over the water from north, water that sets east at ten: over ground it comes from north-west."""
    lying = lie(vessel_of(boat().sailing), Air(10.0, 0.0, 90.0, 10.0), FRESH, AT_ANCHOR)
    assert lying.heading_deg == pytest.approx(315.0)
    assert lying.through_kn == pytest.approx(10.0)  # the water runs past her, from her bow's starboard side aft
    assert lying.ground_kn == 0.0


@pytest.mark.parametrize("tack", [1.0, -1.0])
def test_hove_to_she_keeps_her_tack_and_drifts_before_the_wind(tack: float) -> None:
    hove = boat(hove_to={"wind_angle_deg": 50.0, "drift_share": 0.04}).sailing
    lying = lie(vessel_of(hove), STILL, FRESH._replace(tack=tack), HOVE_TO)
    assert lying.tack == tack
    assert lying.heading_deg == pytest.approx(-tack * 50.0 % 360.0)  # on starboard tack the wind is over starboard
    assert (lying.course_deg, lying.ground_kn) == pytest.approx((180.0, 0.8))


def test_comfort_and_seaway_each_take_their_part_of_the_polar() -> None:
    polar = {"true_wind_speed_kn": [5.0, 25.0], "true_wind_angle_deg": [40.0, 180.0], "speed_kn": [[6.0, 6.0]] * 2}
    sailing = boat(
        polar=polar, comfort_factor=0.8, seaway_factor={"wind_kn": [10.0, 20.0], "value": [1.0, 0.5]}
    ).sailing
    vessel = vessel_of(sailing)
    assert sailing_speed(vessel, 90.0, 10.0) == pytest.approx(6.0 * 0.8)
    assert sailing_speed(vessel, 90.0, 15.0) == pytest.approx(6.0 * 0.8 * 0.75)


def test_a_board_goes_on_while_its_side_is_kept_and_begins_anew_on_the_other() -> None:
    first = remember(FRESH, motion(side=-1.0), Air(15.0, 40.0, 0.0, 0.0), 0.5)
    assert (first.board_h, first.board_from_deg) == (0.5, 40.0)
    kept = remember(first, motion(side=-1.0), Air(15.0, 60.0, 0.0, 0.0), 0.5)
    assert (kept.board_h, kept.board_from_deg) == (1.0, 40.0)  # the wind that it began in
    other = remember(kept, motion(side=1.0), Air(15.0, 60.0, 0.0, 0.0), 0.25)
    assert (other.board_h, other.board_from_deg) == (0.25, 60.0)
    assert remember(other, motion(side=0.0), Air(15.0, 60.0, 0.0, 0.0), 0.25).board_h == 0.0


def test_the_engines_hours_count_without_a_break_and_end_with_one() -> None:
    driven = remember(remember(FRESH, motion(engine=1.0), STILL, 0.5), motion(engine=1.0), STILL, 0.25)
    assert driven.driven_h == pytest.approx(0.75)
    assert remember(driven, motion(), STILL, 0.25).driven_h == 0.0
