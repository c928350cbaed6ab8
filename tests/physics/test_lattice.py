"""Panels' axes and sample points."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.deck.lattice import (
    MOST_PLACES,
    MOST_POINTS,
    middle_points,
    multiplier,
    panel_axes,
    sample_points,
)


def grid(along: int, beside: int) -> np.ndarray:
    """Return the places of a grid's patches, row by row."""
    return np.array([(i, j) for i in range(along) for j in range(beside)])


@pytest.mark.parametrize(
    ("toward_deg", "normal"),
    [(0.0, (0.5, 0.0)), (90.0, (0.0, -0.5)), (180.0, (-0.5, 0.0)), (270.0, (0.0, 0.5))],
    ids=["bow", "starboard", "stern", "port"],
)
def test_a_tilted_face_looks_toward_its_relative_bearing(toward_deg: float, normal: tuple[float, float]) -> None:
    axes = panel_axes(30.0, toward_deg)
    np.testing.assert_allclose(axes[2], [*normal, np.sqrt(0.75)], atol=1e-12)
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)


def test_a_level_panel_lies_along_the_boat() -> None:
    np.testing.assert_allclose(panel_axes(0.0, 123.0), np.eye(3), atol=1e-12)


def test_tilting_aft_lifts_the_forward_edge() -> None:
    assert panel_axes(10.0, 180.0)[0, 2] > 0.0  # the length still runs forward, now uphill


@pytest.mark.parametrize("count", [8, 36, 60, 120, 480, 960])
def test_no_two_points_share_a_place_along_or_across(count: int) -> None:
    along = sample_points(1.1, 0.6, points=count, places=grid(1, 1)).along
    even = (np.arange(count) + 0.5) / count
    np.testing.assert_allclose(np.sort(along[:, 0]), even, atol=1e-12)
    np.testing.assert_allclose(np.sort(along[:, 1]), even, atol=1e-12)


def test_the_multiplier_is_next_to_the_golden_section() -> None:
    # 60 times 0.618 is 37.1; of 89 points, a Fibonacci number, the one before it is 55
    assert multiplier(60) == 37
    assert multiplier(89) == 55


@pytest.mark.parametrize(("along", "beside"), [(1, 3), (3, 1), (9, 4), (12, 6), (1, 24)])
def test_each_patch_holds_the_points_within_its_edges_and_about_as_many_as_the_others(
    along: int, beside: int
) -> None:
    places = np.random.default_rng(1).permutation(grid(along, beside))
    points = sample_points(1.6, 0.7, points=16, places=places)
    assert points.patch.size == 16 * len(places)
    # a lattice point more or less on each edge
    assert np.abs(np.bincount(points.patch, minlength=len(places)) - 16).max() <= 4
    np.testing.assert_array_equal(np.floor(points.along * (along, beside)), places[points.patch])


def test_a_patch_of_many_gets_fewer_points_so_that_the_panel_keeps_within_bounds() -> None:
    points = sample_points(1.6, 1.0, points=16, places=grid(24, 12))
    assert points.patch.size == MOST_POINTS < 16 * 24 * 12
    assert np.bincount(points.patch).min() > 0.5 * MOST_POINTS / (24 * 12)


@pytest.mark.parametrize(("along", "beside"), [(1, 1), (9, 4), (4, 9), (1, 36), (3, 3)])
def test_middles_of_patches_have_rows_and_places_of_their_own(along: int, beside: int) -> None:
    size_m, places = (1.1, 0.6), np.random.default_rng(2).permutation(grid(along, beside))
    points = middle_points(*size_m, places=places)
    np.testing.assert_allclose(points.along, (places + 0.5) / (along, beside))
    assert points.patch.tolist() == list(range(len(places)))
    place, row = points.to_row @ np.vstack([((points.along - 0.5) * size_m).T, np.ones(len(places))])
    np.testing.assert_allclose(place, points.place, atol=1e-9)
    np.testing.assert_allclose(row, points.row, atol=1e-9)
    assert len({*zip(points.row.tolist(), points.place.tolist(), strict=True)}) == len(places)
    assert points.row.min() == points.place.min() == 0


def test_middles_of_more_patches_than_a_word_has_bits_are_refused() -> None:
    with pytest.raises(ValueError, match="64 by 64 patches has over 63"):
        middle_points(1.0, 1.0, places=grid(64, 64))


@pytest.mark.parametrize("size_m", [(1.0, 1.0), (2.4, 0.3), (0.3, 2.4)])
@pytest.mark.parametrize("count", [8, 60, 480])
def test_every_point_has_a_row_and_place_of_its_own(size_m: tuple[float, float], count: int) -> None:
    points = sample_points(*size_m, points=count // 2, places=grid(1, 2))
    metres = (points.along - 0.5) * size_m
    place, row = points.to_row @ np.vstack([metres.T, np.ones(count)])
    np.testing.assert_allclose(place, points.place, atol=1e-9)
    np.testing.assert_allclose(row, points.row, atol=1e-9)
    assert len({*zip(points.row.tolist(), points.place.tolist(), strict=True)}) == count
    assert points.row.min() == points.place.min() == 0


def test_too_many_points_for_a_word_are_refused() -> None:
    with pytest.raises(ValueError, match="a row would have over 63 places"):
        sample_points(1.0, 1.0, points=1, places=grid(1, 2113))


def test_points_that_leave_a_patch_without_one_are_refused() -> None:
    with pytest.raises(ValueError, match="15 points leave some of 15 patches without one"):
        sample_points(1.0, 1.0, points=1, places=grid(5, 3))


def test_every_number_of_points_up_to_the_most_has_rows_that_fit_a_word() -> None:
    for count in [*range(4, MOST_POINTS, 17), 1152, MOST_POINTS]:  # 1152: 72 cells of 16 points
        points = sample_points(1.0, 1.0, points=count, places=grid(1, 1))
        assert points.place.max() < MOST_PLACES
        assert len({*zip(points.row.tolist(), points.place.tolist(), strict=True)}) == count
