"""Panels' axes and sample points."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.deck.lattice import multiplier, panel_axes, point_count, sample_points


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
    along = sample_points(1.1, 0.6, points=count, strips=1, across="width").along
    even = (np.arange(count) + 0.5) / count
    np.testing.assert_allclose(np.sort(along[:, 0]), even, atol=1e-12)
    np.testing.assert_allclose(np.sort(along[:, 1]), even, atol=1e-12)


def test_the_multiplier_is_next_to_the_golden_section() -> None:
    # 60 times 0.618 is 37.1; of 89 points, a Fibonacci number, the one before it is 55
    assert multiplier(60) == 37
    assert multiplier(89) == 55


@pytest.mark.parametrize("across", ["length", "width"])
def test_substrings_share_the_points_evenly_and_in_order(across: str) -> None:
    points = sample_points(1.6, 0.7, points=60, strips=3, across=across)  # type: ignore[arg-type]
    place = points.along[:, 0 if across == "length" else 1]
    assert np.bincount(points.strip).tolist() == [20, 20, 20]
    for strip in range(3):
        inside = place[points.strip == strip]
        assert strip / 3 < inside.min() < inside.max() < (strip + 1) / 3


def test_points_asked_for_are_rounded_to_whole_shares() -> None:
    assert [point_count(60, 7), point_count(3, 7), point_count(60, 1)] == [63, 7, 60]


@pytest.mark.parametrize("size_m", [(1.0, 1.0), (2.4, 0.3), (0.3, 2.4)])
@pytest.mark.parametrize("count", [8, 60, 480])
def test_every_point_has_a_row_and_place_of_its_own(size_m: tuple[float, float], count: int) -> None:
    points = sample_points(*size_m, points=count, strips=2, across="width")
    metres = (points.along - 0.5) * size_m
    place, row = points.to_row @ np.vstack([metres.T, np.ones(count)])
    np.testing.assert_allclose(place, points.place, atol=1e-9)
    np.testing.assert_allclose(row, points.row, atol=1e-9)
    assert len({*zip(points.row.tolist(), points.place.tolist(), strict=True)}) == count
    assert points.row.min() == points.place.min() == 0


def test_too_many_points_for_a_word_are_refused() -> None:
    with pytest.raises(ValueError, match="a row would have over 63 places"):
        sample_points(1.0, 1.0, points=6000, strips=1, across="width")
