"""The curve through means over spans keeps each span's weighted mean."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.mean_curve import Weights, curve_through

S = (np.arange(600) + 0.5) / 600.0


def weights_of(light: np.ndarray) -> Weights:
    """Weights of the curve's parts under a light within each span, (span, moment)."""
    total = light.sum(axis=-1)
    return Weights(*((light * part).sum(axis=-1) / total for part in (1.0 - S, S, 4.0 * S * (1.0 - S))))


def rebuilt(means: np.ndarray, light: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The curve, (span, moment), and its weighted means."""
    start, end, bulge = curve_through(means, weights_of(light))
    curve = start[:, None] * (1 - S) + end[:, None] * S + bulge[:, None] * 4 * S * (1 - S)
    return curve, (curve * light).sum(axis=-1) / light.sum(axis=-1)


@pytest.mark.parametrize("seed", range(8))
def test_weighted_means_come_out_as_given(seed: int) -> None:
    rng = np.random.default_rng(seed)
    means, light = rng.uniform(0.05, 1.1, 30), np.sin(np.pi * S)[None, :] ** rng.uniform(0.1, 3.0, (30, 1))
    assert np.allclose(rebuilt(means, light)[1], means, rtol=1e-12)


def test_even_means_give_a_straight_line() -> None:
    curve, _ = rebuilt(np.full(5, 0.7), np.ones((5, S.size)))
    assert np.allclose(curve, 0.7)


def test_neighbouring_spans_meet_half_way_where_means_change_gently() -> None:
    start, end, _ = curve_through(np.linspace(0.5, 0.8, 7), weights_of(np.ones((7, S.size))))
    assert np.allclose(end[:-1], start[1:])
    assert np.allclose(start[1:], np.linspace(0.5, 0.8, 7)[1:] - 0.025)


def test_a_span_lit_at_one_end_alone_stays_flat() -> None:
    light = np.ones((3, S.size))
    light[1] = np.where(S > 0.97, 1.0, 0.0)
    curve, means = rebuilt(np.array([0.2, 0.9, 0.3]), light)
    assert np.allclose(curve[1], 0.9)
    assert means[1] == pytest.approx(0.9)


def test_the_curve_is_never_negative_nor_far_above_its_neighbours() -> None:
    means = np.array([1.0, 0.02, 1.0, 0.02, 1.0])
    curve, kept = rebuilt(means, np.ones((5, S.size)))
    assert curve.min() >= 0.0
    assert curve.max() <= 1.4 + 1e-12
    assert np.allclose(kept, means)
