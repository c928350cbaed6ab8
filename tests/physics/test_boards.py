"""Set and drift, the sector of boards, the layline."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.physics.sailing.boards import course_made_good, course_to_steer, hours_to_layline, lies_between


@pytest.mark.parametrize("course", [10.0, 100.0, 190.0, 280.0])
@pytest.mark.parametrize("current_set", [0.0, 75.0, 160.0, 301.0])
def test_steering_for_a_course_makes_that_course_good(course: float, current_set: float) -> None:
    through, ground = course_to_steer(course, 6.0, current_set, 1.7)
    made, speed = course_made_good(through, 6.0, current_set, 1.7)
    assert (made - course + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-10)
    assert speed == pytest.approx(ground, abs=1e-12)


def test_a_beam_current_by_the_law_of_sines() -> None:
    through, ground = course_to_steer(0.0, 5.0, 90.0, 3.0)  # a 3-4-5 triangle: head west of north
    assert through == pytest.approx(-math.degrees(math.asin(0.6)))
    assert ground == pytest.approx(4.0)


def test_a_current_that_beats_the_boat() -> None:
    assert math.isnan(course_to_steer(0.0, 2.0, 90.0, 2.5)[1])
    assert course_to_steer(0.0, 2.0, 180.0, 2.5)[1] == pytest.approx(-0.5)


def test_no_speed_and_no_current_is_no_ground() -> None:
    assert course_to_steer(45.0, 0.0, 0.0, 0.0) == (45.0, 0.0)


@pytest.mark.parametrize(
    ("mark", "expected"), [(0.0, True), (44.0, True), (316.0, True), (46.0, False), (314.0, False), (180.0, False)]
)
def test_a_mark_between_the_boards_wants_boards(mark: float, expected: bool) -> None:
    assert lies_between(mark, 315.0, 45.0) is expected


def test_boards_that_open_past_a_half_circle_get_nowhere() -> None:
    assert not lies_between(0.0, 265.0, 95.0)


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_the_layline_of_a_square_beat(side: float) -> None:
    # Boards at 45 degrees either side, mark 10 nm dead ahead: the other board lays it after 5 nm along the leg.
    speed = 6.0 / math.sqrt(2.0)
    hours = hours_to_layline(10.0, 0.0, speed, side * speed, -45.0 * side)
    assert hours * speed == pytest.approx(5.0)


def test_boards_of_one_direction_never_reach_the_layline() -> None:
    assert hours_to_layline(10.0, 1.0, 6.0, 0.0, 0.0) == math.inf


def test_course_made_good_takes_arrays() -> None:
    course, speed = course_made_good(np.array([0.0, 90.0]), 5.0, 90.0, 2.0)
    np.testing.assert_allclose(speed, [math.hypot(5.0, 2.0), 7.0])
    np.testing.assert_allclose(course, [math.degrees(math.atan2(2.0, 5.0)), 90.0])
