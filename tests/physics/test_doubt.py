"""How wrong a forecast may be: trusted less with age, remembers its errors, keeps order, sky and seeds."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.doubt import (
    BRIGHTEST,
    CLIMATE_SPREAD,
    MEMORY_H,
    SPREAD_FACTOR,
    correlated_errors,
    deviation_at,
    hand_trust,
    lasting_error,
    moved_by,
    run_trust,
    spread_out,
    usual_at,
    wind_error_m_s,
)


def test_a_run_is_trusted_less_with_its_age_and_in_the_end_not_at_all() -> None:
    lead = np.array([0.0, 24.0, 72.0, 240.0, 2000.0])
    trust = run_trust(lead)
    assert np.all(np.diff(trust) < 0.0)
    assert trust[0] == pytest.approx(0.90)
    assert trust[-1] == pytest.approx(0.0, abs=1e-4)
    assert run_trust(np.array([-5.0]))[0] == trust[0]
    assert deviation_at(trust)[-1] == pytest.approx(CLIMATE_SPREAD, abs=1e-6)


def test_a_bulletin_is_trusted_less_than_a_run_of_the_same_age_and_ages_as_it_does() -> None:
    lead = np.array([0.0, 24.0, 72.0, 240.0])
    hand, run = hand_trust(lead), run_trust(lead)
    assert hand[0] == pytest.approx(0.65)
    assert hand / run == pytest.approx(hand[0] / run[0])


def test_outcomes_of_what_is_trusted_lie_as_days_of_the_season_do() -> None:
    # whatever part of its distance from usual is kept, what is usual scatters no more and no less
    rng = np.random.default_rng(1)
    days = 0.8 + CLIMATE_SPREAD * rng.standard_normal(100_000)
    for trust in (0.9, 0.5, 0.1):
        came = 0.8 + trust * (days - 0.8) + deviation_at(np.array(trust)) * rng.standard_normal(days.size)
        assert came.mean() == pytest.approx(0.8, abs=0.02)
        assert came.std() == pytest.approx(CLIMATE_SPREAD, rel=0.01)


def test_usual_days_have_the_mean_that_is_asked_for() -> None:
    place = np.random.default_rng(1).standard_normal(200_000) * CLIMATE_SPREAD
    for clearness in (0.5, 0.7, 0.9):
        days = BRIGHTEST / (1.0 + np.exp(-(usual_at(np.array(clearness)) + place)))
        assert days.mean() == pytest.approx(clearness, abs=0.01)  # the approximation's own error


def test_a_winds_error_grows_to_its_last_and_stays() -> None:
    error = wind_error_m_s(np.array([-5.0, 0.0, 50.0, 100.0, 300.0]))
    assert error == pytest.approx([1.0, 1.0, 2.75, 4.5, 4.5])


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
    index = moved_by(np.full((20, 10), 0.6), np.full((20, 10), 1.0 - 1e-12), np.zeros(10), errors)
    # the scale bends, so mirrored errors do not give mirrored light; the middle of the outcomes is the forecast's
    assert np.all(np.sum(index > 0.6, axis=0) == 10)


def test_what_is_wholly_trusted_is_not_changed_at_all() -> None:
    index = np.array([[0.0, 0.013, 0.5, 1.0, 1.19, 1.4]])
    assert np.array_equal(moved_by(index, np.ones_like(index), np.zeros(6), np.zeros_like(index)), index)


def test_what_is_expected_of_a_trusted_light_moves_it_by_its_place_on_the_scale() -> None:
    index = np.array([[0.03, 0.5, 1.0, 1.19]])
    moved = moved_by(index, np.ones_like(index), np.zeros(4), np.full_like(index, -0.4))
    half = BRIGHTEST / (1.0 + (BRIGHTEST / 0.5 - 1.0) * np.exp(0.4))  # the odds of light fall by that
    assert moved[0, 1] == pytest.approx(half)
    assert np.all(moved < index)
    assert np.all(np.diff(moved[0]) > 0.0)
    nearly = moved_by(index, np.ones_like(index), np.zeros(4), np.full_like(index, -1e-9))
    assert nearly == pytest.approx(index, abs=1e-8)  # an hour brighter than any day stays so


def test_an_error_seen_now_stands_and_an_older_one_is_forgotten_as_errors_are() -> None:
    def expected(seen: list[float], ago_h: list[float], noise: float = 0.0, in_common: float = 0.0) -> float:
        days = np.ones(len(seen))
        return lasting_error(
            np.array(seen), ago_h=np.array(ago_h), deviation=0.6 * days, noise=noise * days, in_common=in_common
        )

    assert expected([-0.5], [0.0]) == pytest.approx(-0.5)
    assert expected([-0.5], [MEMORY_H]) == pytest.approx(-0.5 / np.e)
    assert expected([-0.5, 9.0], [0.0, 24.0]) == pytest.approx(-0.5)  # what it was before tells no more
    assert expected([-0.5], [0.0], noise=0.6) == pytest.approx(-0.25)  # as unsure as the forecast itself
    assert expected([-0.5, -0.5], [0.0, 0.0], noise=0.6) == pytest.approx(-0.5 * 2.0 / 3.0)
    assert expected([-0.5, -0.5], [0.0, 1e9], in_common=1.0) == pytest.approx(-0.5 / 3.0)


def test_light_stays_between_none_and_the_brightest() -> None:
    index = np.linspace(0.0, 1.4, 50)[None, :]
    for error in (-6.0, 0.0, 6.0):
        moved = moved_by(index, np.full_like(index, 0.9), np.ones(50), np.full_like(index, error))
        assert moved.min() >= 0.0
        assert moved.max() <= BRIGHTEST


def test_a_half_clouded_sky_is_in_more_doubt_than_a_clear_or_an_overcast_one() -> None:
    index, kept = np.array([[0.1, 0.6, 1.0]]), np.full((1, 3), 0.999)
    low, high = (moved_by(index, kept, np.zeros(3), np.full((1, 3), error)) for error in (-0.5, 0.5))
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
