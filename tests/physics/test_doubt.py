"""How wrong a forecast's light may be: grows with age, remembers itself, keeps order, sky and seeds."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.doubt import (
    BRIGHTEST,
    MEMORY_H,
    SPREAD_FACTOR,
    correlated_errors,
    hand_error,
    moved_by,
    run_error,
    spread_out,
)


def test_a_run_errs_more_with_its_age_and_not_without_end() -> None:
    error = run_error(np.array([0.0, 24.0, 72.0, 240.0, 1000.0]))
    assert np.all(np.diff(error) > 0.0)
    assert error[0] == pytest.approx(0.35)
    assert error[-1] == pytest.approx(0.8, abs=1e-6)
    assert run_error(np.array([-5.0]))[0] == error[0]


def test_a_bulletin_errs_more_than_a_run_of_the_same_age_and_ages_as_it_does() -> None:
    lead = np.array([0.0, 24.0, 72.0, 240.0, 1000.0])
    hand, run = hand_error(lead), run_error(lead)
    assert np.all(hand > run)
    assert hand[0] == pytest.approx(0.50)
    assert hand[-1] == pytest.approx(0.87, abs=1e-6)
    assert (hand - hand[0]) / (hand[-1] - hand[0]) == pytest.approx((run - run[0]) / (run[-1] - run[0]))


def test_outcomes_may_each_have_a_deviation_of_their_own() -> None:
    deviation = np.array([[0.0] * 5, [1.0] * 5])
    errors = correlated_errors(np.arange(5.0), deviation, 2, np.random.default_rng(1))
    assert not errors[0].any()
    assert errors[1].all()


def test_errors_have_the_deviation_and_the_memory_asked_for() -> None:
    time = np.arange(0.0, 240.0, 3.0)
    deviation = np.linspace(0.2, 0.8, time.size)
    errors = correlated_errors(time, deviation, 40000, np.random.default_rng(1))
    assert np.allclose(errors.std(axis=0), deviation, rtol=0.02)
    unit = errors / deviation
    day = (unit[:, 8:] * unit[:, :-8]).mean()
    assert day == pytest.approx(np.exp(-24.0 / MEMORY_H), abs=0.02)


def test_errors_come_in_mirrored_pairs_so_that_the_middle_stays() -> None:
    errors = correlated_errors(np.arange(10.0), np.ones(10), 20, np.random.default_rng(1))
    assert np.array_equal(errors[0::2], -errors[1::2])
    index = moved_by(np.full((20, 10), 0.6), errors)
    # the scale bends, so mirrored errors do not give mirrored light; the middle of the outcomes is the forecast's
    assert np.all(np.sum(index > 0.6, axis=0) == 10)


def test_no_error_changes_nothing_at_all() -> None:
    index = np.array([[0.0, 0.013, 0.5, 1.0, 1.19, 1.4]])
    assert np.array_equal(moved_by(index, np.zeros_like(index)), index)


def test_light_stays_between_none_and_the_brightest() -> None:
    index = np.linspace(0.0, 1.1, 50)[None, :]
    for error in (-6.0, 6.0):
        moved = moved_by(index, np.full_like(index, error))
        assert moved.min() >= 0.0
        assert moved.max() <= BRIGHTEST


def test_a_half_clouded_sky_is_in_more_doubt_than_a_clear_or_an_overcast_one() -> None:
    low, high = (moved_by(np.array([[0.1, 0.6, 1.1]]), np.full((1, 3), error)) for error in (-0.5, 0.5))
    half = (high - low)[0]
    assert half[1] > 1.5 * max(half[0], half[2])


def test_members_are_set_apart_in_their_order_around_their_middle() -> None:
    rng = np.random.default_rng(3)
    index = rng.uniform(0.2, 1.0, (21, 200))
    apart = spread_out(index)
    assert np.array_equal(np.argsort(apart, axis=0), np.argsort(index, axis=0))
    ratio = apart.std(axis=0) / index.std(axis=0)
    assert 1.05 < ratio.mean() < SPREAD_FACTOR


def test_members_that_agree_exactly_stay_as_they_are() -> None:
    index = np.full((21, 5), 0.8)
    assert np.allclose(spread_out(index), index, rtol=0.0, atol=1e-15)
