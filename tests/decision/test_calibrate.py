"""Meters, folds, the search for a margin, and the interval that is reported."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.decision.policy.calibrate import (
    MARGIN_STEP,
    MOST_MARGIN,
    folds_of,
    least_margin,
    meter_offsets,
    reserve_kept,
    share_told_as_asked,
)


def test_meters_err_by_the_asked_for_spread_around_zero() -> None:
    offsets = meter_offsets(51, 3, sd=0.02, seed=1)
    assert offsets.shape == (3, 51)
    assert offsets.std(axis=1) == pytest.approx([0.02] * 3)
    assert offsets.mean(axis=1) == pytest.approx([0.0] * 3, abs=1e-12)


def test_a_lone_member_meets_many_meters() -> None:
    offsets = meter_offsets(1, 20, sd=0.02, seed=1)
    assert offsets.shape == (20, 1)
    assert np.unique(offsets).size == 20


def test_every_member_is_left_out_once_and_never_planned_on_then() -> None:
    groups = folds_of(51, seed=3)
    left_out = np.concatenate([out for _, out in groups])
    assert sorted(left_out.tolist()) == list(range(51))
    assert all(not set(planned.tolist()) & set(out.tolist()) for planned, out in groups)


@pytest.mark.parametrize(
    ("needed", "least"),
    [(0.0, 0.0), (0.005, 0.01), (0.02, 0.025), (0.03, 0.035), (0.115, 0.12), (MOST_MARGIN, MOST_MARGIN)],
)
@pytest.mark.parametrize("guess", [0.0, 0.025, 0.2])
def test_search_finds_the_least_margin_that_is_enough_off_its_edge(needed: float, least: float, guess: float) -> None:
    found = least_margin(lambda steps: 0.95 if steps * MARGIN_STEP >= needed - 1e-9 else 0.5, 0.9, guess=guess)
    assert found == pytest.approx(least)


def test_a_margin_that_stands_on_an_edge_is_passed_over() -> None:
    """One step keeps enough by chance, its neighbours do not: the margin goes to where all three do."""
    found = least_margin(lambda step: 0.95 if step == 6 or step >= 10 else 0.2, 0.9, guess=6 * MARGIN_STEP)
    assert found == pytest.approx(11 * MARGIN_STEP)


def test_a_share_is_asked_for_once_at_each_margin() -> None:
    asked: list[int] = []

    def kept_share(step: int) -> float:
        asked.append(step)
        return 0.95 if step >= 37 else 0.5

    assert least_margin(kept_share, 0.9, guess=0.025) == pytest.approx(38 * MARGIN_STEP)
    assert len(asked) == len(set(asked)) <= 13


def test_where_no_margin_is_enough_the_least_of_the_best_is_taken() -> None:
    found = least_margin(lambda steps: 0.6 if steps * MARGIN_STEP >= 0.03 else 0.2, 0.9, guess=0.025)
    assert 0.03 <= found < MOST_MARGIN


def test_interval_stays_within_zero_and_one() -> None:
    assert reserve_kept(np.ones((1, 51), dtype=bool), confidence=0.9).high == 1.0
    assert reserve_kept(np.zeros((1, 51), dtype=bool), confidence=0.9).low == 0.0


@pytest.mark.parametrize(("breaches", "told"), [(5, 9), (6, 9), (7, 8), (1, 9), (0, 10)])
def test_share_over_many_meters_is_told_in_whole_members(breaches: int, told: int) -> None:
    """The nearest number, but all only where none of 40 trials fails."""
    kept = np.ones((4, 10), dtype=bool)
    kept[0, :breaches] = False
    found = reserve_kept(kept, confidence=0.9)
    assert (found.kept, found.members, found.as_asked) == (told, 10, told >= 9)


def test_of_one_member_the_meters_count() -> None:
    kept = np.array([[True], [True], [False], [True]])
    assert (reserve_kept(kept, confidence=0.8).kept, reserve_kept(kept, confidence=0.8).members) == (3, 4)


@pytest.mark.parametrize("members", range(21, 60))
@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.9, 0.95])
def test_the_share_that_is_sought_is_told_as_asked_and_hardly_less_is_not(confidence: float, members: int) -> None:
    """Counted in thousands of trials a member, so that every share can be met."""
    share = share_told_as_asked(confidence, members)
    enough = math.ceil(share * members * 1000 - 1e-6)
    assert share >= confidence
    for trials, as_asked in ((enough, True), (math.floor((confidence - 0.5 / members) * members * 1000) - 1, False)):
        kept = (np.arange(1000 * members) < trials).reshape(1000, members)
        assert reserve_kept(kept, confidence=confidence).as_asked == as_asked


def test_of_several_trials_the_worst_is_told() -> None:
    better, worse = np.ones((2, 10), dtype=bool), np.ones((2, 10), dtype=bool)
    worse[:, :3] = False
    assert reserve_kept(better, worse, confidence=0.8).kept == reserve_kept(worse, better, confidence=0.8).kept == 7


def test_so_many_members_can_show_no_more() -> None:
    """If the true share were less, all of them would keep the reserve with less than one chance in twenty."""
    shown = reserve_kept(np.ones((1, 21), dtype=bool), confidence=0.9)
    assert shown.can_show == pytest.approx(0.867, abs=5e-4)
    assert shown.can_show**21 == pytest.approx(0.05)
