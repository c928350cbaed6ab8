"""Sampling a grid: exact on what is linear in each axis, held at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sampling import along, cells

TIME, LAT, LON = np.array([0.0, 3.0, 9.0]), np.array([-30.0, -29.0, -27.0]), np.array([178.0, 179.0, 181.0, 182.0])


def sampled(field: np.ndarray, t: list[float], y: list[float], x: list[float]) -> np.ndarray:
    return along(field, cells(TIME, np.array(t)), cells(LAT, np.array(y)), cells(LON, np.array(x)))


def linear_field() -> np.ndarray:
    t, y, x = np.meshgrid(TIME, LAT, LON, indexing="ij")
    return np.stack([2.0 * t - y + 0.5 * x, t * y])


def test_a_field_linear_in_each_axis_is_met_exactly() -> None:
    t, y, x = [0.0, 1.0, 7.5, 9.0], [-30.0, -29.5, -27.3, -27.0], [178.0, 180.0, 181.25, 182.0]
    result = sampled(linear_field(), t, y, x)
    assert result[0] == pytest.approx(2.0 * np.array(t) - np.array(y) + 0.5 * np.array(x), abs=1e-12)
    assert result[1] == pytest.approx(np.array(t) * np.array(y), abs=1e-12)


def test_beyond_the_edges_the_edge_is_held() -> None:
    field = linear_field()
    assert sampled(field, [-5.0], [-40.0], [170.0])[0, 0] == field[0, 0, 0, 0]
    assert sampled(field, [50.0], [0.0], [190.0])[0, 0] == field[0, -1, -1, -1]


def test_a_gap_does_not_spread_to_whole_cells_that_do_not_touch_it() -> None:
    field = linear_field()
    field[:, :, 2, 3] = np.nan
    assert np.isfinite(sampled(field, [1.0], [-29.5], [178.5])).all()
    assert np.isnan(sampled(field, [1.0], [-28.0], [181.5])).all()


def test_axes_of_one_node_are_held() -> None:
    field = np.full((1, 1, 1, 1), 7.0)
    one = np.array([5.0])
    where = [cells(one, np.array([4.0, 5.0, 6.0]))] * 3
    assert along(field, *where).tolist() == [[7.0, 7.0, 7.0]]
