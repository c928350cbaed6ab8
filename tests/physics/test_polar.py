"""The speed table: bilinear, ends, calm, best angles."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sailing.polar import boat_speed, polar_table, read_table

ANGLES, WINDS = [40.0, 90.0, 180.0], [5.0, 10.0, 20.0]
SPEEDS = [[3.0, 5.0, 6.0], [5.0, 7.0, 8.0], [2.0, 4.0, 7.0]]


def test_nodes_and_the_middle_of_a_cell() -> None:
    table = polar_table(ANGLES, WINDS, SPEEDS)
    assert boat_speed(table, 90.0, 10.0) == 7.0
    assert boat_speed(table, 65.0, 15.0) == pytest.approx((5.0 + 6.0 + 7.0 + 8.0) / 4.0)


def test_a_calm_gives_nothing_and_light_air_a_share_of_the_first_column() -> None:
    table = polar_table(ANGLES, WINDS, SPEEDS)
    assert boat_speed(table, 90.0, 0.0) == 0.0
    assert boat_speed(table, 90.0, 1.0) == pytest.approx(1.0)


def test_speed_in_a_column_named_calm_is_ignored() -> None:
    assert boat_speed(polar_table(ANGLES, [0.0, 10.0], np.full((3, 2), 6.0)), 90.0, 0.0) == 0.0


def test_beyond_the_last_row_and_column_the_table_is_held_and_dead_to_windward_is_no_speed() -> None:
    table = polar_table(ANGLES, WINDS, SPEEDS)
    assert boat_speed(table, 40.0, 40.0) == 6.0
    assert boat_speed(table, 20.0, 40.0) == 3.0  # half way from nothing dead to windward to the first row
    assert boat_speed(table, 0.0, 40.0) == 0.0
    assert boat_speed(polar_table([40.0, 150.0], WINDS, SPEEDS[:2]), 180.0, 10.0) == 7.0


def test_best_angles_of_a_boat_whose_speed_follows_a_known_curve() -> None:
    # v = sin(angle): v cos(angle) is greatest at 45 degrees and -v cos(angle) at 135.
    angles = np.arange(0.0, 181.0)
    table = polar_table(angles, [8.0], np.sin(np.radians(angles))[:, None])
    np.testing.assert_allclose(table.best_upwind_deg, 45.0, atol=0.1)
    np.testing.assert_allclose(table.best_downwind_deg, 135.0, atol=0.1)


def test_best_angles_stay_where_the_table_speaks() -> None:
    table = polar_table([50.0, 150.0], [10.0], [[5.0], [5.0]])
    assert table.best_upwind_deg.tolist() == [50.0, 50.0]
    assert table.best_downwind_deg.tolist() == [150.0, 150.0]


def test_a_table_without_any_speed_has_angles_all_the_same() -> None:
    table = polar_table(ANGLES, WINDS, np.zeros((3, 3)))
    assert np.isfinite(table.best_upwind_deg).all()
    assert boat_speed(table, 90.0, 10.0) == 0.0


@pytest.mark.parametrize(("at", "expected"), [(-1.0, 2.0), (0.0, 2.0), (2.5, 3.0), (5.0, 4.0), (9.0, 4.0)])
def test_a_line_table_is_linear_and_held(at: float, expected: float) -> None:
    assert read_table(np.array([0.0, 5.0]), np.array([2.0, 4.0]), at) == expected


def test_a_table_of_one_row_is_a_constant() -> None:
    assert read_table(np.array([3.0]), np.array([7.0]), 100.0) == 7.0
