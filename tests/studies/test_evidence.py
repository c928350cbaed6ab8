"""The Gaussian model's sums against scipy's densities and conditional normals worked out in full."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from planner.studies.reconcile.evidence import Figures, about, log_odds, onsets, times

MANY = 9


@pytest.fixture
def figures() -> Figures:
    rng = np.random.default_rng(3)
    root = rng.standard_normal((MANY, MANY))
    return Figures(rng.standard_normal(MANY), root @ root.T + np.eye(MANY))


def column() -> np.ndarray:
    return np.linspace(0.5, 1.5, MANY)


@pytest.mark.parametrize("start", [0, 4, 7])
@pytest.mark.external(source="scipy.stats.multivariate_normal", kind="library")
def test_odds_are_the_ratio_of_the_densities_with_and_without_the_cause(figures: Figures, start: int) -> None:
    usual, spread = -0.4, 0.7
    begun = column() * (np.arange(MANY) >= start)
    score, information = onsets(figures, np.arange(MANY), column()[:, None], np.array([start]))
    told = log_odds(score[0, 0], information[0, 0], usual, spread)
    wider = figures.covariance + spread**2 * np.outer(begun, begun)
    with_it = multivariate_normal.logpdf(figures.value, usual * begun, wider)
    without = multivariate_normal.logpdf(figures.value, np.zeros(MANY), figures.covariance)
    assert float(told) == pytest.approx(with_it - without)


def test_what_is_told_of_a_size_is_the_weighted_mean_that_a_wide_prior_leaves(figures: Figures) -> None:
    wide = 1e2
    value, sd = figures.given(column(), wide).told(wide**2 * column(), wide)
    weight = np.linalg.solve(figures.covariance, column())
    assert value == pytest.approx(float(weight @ figures.value / (weight @ column())), rel=1e-3)
    assert sd == pytest.approx(float(weight @ column()) ** -0.5, rel=1e-3)


def test_figures_left_out_are_as_if_never_read(figures: Figures) -> None:
    out = np.arange(MANY) % 3 == 1
    fewer = Figures(figures.value[~out], figures.covariance[np.ix_(~out, ~out)])
    weight = np.linalg.solve(fewer.covariance, column()[~out])
    score, information = figures.without(column(), out)
    assert score == pytest.approx(float(weight @ fewer.value))
    assert information == pytest.approx(float(weight @ column()[~out]))


def test_only_a_figure_far_off_the_others_is_tamed() -> None:
    value = np.zeros(6)
    value[2] = 8.0
    tamed = Figures(value, np.eye(6)).tamed(np.zeros((6, 6)))
    assert (np.diag(tamed.covariance) > 1.0).tolist() == [False, False, True, False, False, False]
    # off together, as a fault would have them, they are left
    free = Figures(np.full(6, 8.0), np.eye(6)).tamed(np.full((6, 6), 100.0))
    assert free.covariance == pytest.approx(np.eye(6))


def test_intervals_hold_nine_in_ten_of_a_normal() -> None:
    assert (about(10.0, 2.0).low, about(10.0, 2.0).high) == pytest.approx((6.71, 13.29), abs=0.01)
    assert times(0.0, 0.1).low * times(0.0, 0.1).high == pytest.approx(1.0)
