"""Sampling a grid: exact on what is linear in each axis, held at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.sampling import Nodes, along, cells

TIME, LAT, LON = np.array([0.0, 3.0, 9.0]), np.array([-30.0, -29.0, -27.0]), np.array([178.0, 179.0, 181.0, 182.0])


def themselves(field: np.ndarray) -> Nodes:
    member, time = np.meshgrid(np.arange(field.shape[0]), np.arange(field.shape[1]), indexing="ij")
    return Nodes(member, time, np.zeros(member.shape))


def sampled(field: np.ndarray, t: list[float], y: list[float], x: list[float]) -> np.ndarray:
    return along(field, themselves(field), cells(TIME, np.array(t)), cells(LAT, np.array(y)), cells(LON, np.array(x)))


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
    assert along(field, themselves(field), *where).tolist() == [[7.0, 7.0, 7.0]]


def test_single_precision_is_computed_in_double() -> None:
    field = linear_field()
    where = cells(TIME, np.array([1.0])), cells(LAT, np.array([-29.5])), cells(LON, np.array([178.3]))
    single, double = (along(values, themselves(field), *where) for values in (field.astype(np.float32), field))
    assert single.dtype == np.float64
    assert np.array_equal(single, double)  # the nodes are exact in both; what lies between is not in single


def test_another_member_at_another_time_may_stand_on_a_node() -> None:
    field = linear_field()
    nodes = Nodes(np.array([[0, 1]]), np.array([[0, 1]]), np.array([[0.5, 0.0]]))
    place = cells(LAT, np.array([-29.0, -29.0])), cells(LON, np.array([179.0, 179.0]))
    result = along(field, nodes, cells(np.array([0.0, 1.0]), np.array([0.0, 0.5])), *place)
    first = field[0, :2, 1, 1].mean()
    assert result[0] == pytest.approx([first, (first + field[1, 1, 1, 1]) / 2.0])
