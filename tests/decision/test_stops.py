"""Where a run stops paying: values whose slope is known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.decision.policy.card import Card
from planner.decision.policy.stops import stop_socs

NODES = 101
GRID = np.linspace(0.0, 1.0, NODES)
GAIN = np.full(NODES, 0.05)  # half an hour of engine puts in five percent
NO_RUN = np.zeros((1, NODES), dtype=np.int64)


ONE_EPOCH = np.zeros(1, dtype=np.int64)
AT_SEA = np.ones(1)


def stop_of(ladder: np.ndarray, cost: np.ndarray, *, min_run_min: int) -> float:
    card = Card(minutes=ladder, of_epoch=ONE_EPOCH)
    return float(stop_socs(value_of(cost), card, GAIN, at_sea=AT_SEA, min_run_min=min_run_min)[0])


def value_of(cost: np.ndarray) -> np.ndarray:
    return np.stack([cost, cost])


@pytest.mark.parametrize(("saved_min", "stops"), [(22.0, 0.60), (20.0, 0.0)])
def test_a_half_hour_must_save_seven_tenths_of_itself_later(saved_min: float, stops: float) -> None:
    """Below 60 % every half hour saves so many minutes, above it none; 21 of 30 are the least that pays."""
    cost = np.maximum(0.60 - GRID, 0.0) / 0.05 * saved_min
    found = stop_of(NO_RUN, cost, min_run_min=30)
    # the last reading at which a whole half hour still pays is 55 %; between, it pays in part
    assert found == pytest.approx(stops, abs=0.05)


def test_the_stop_leaves_room_for_a_shortest_run() -> None:
    ladder = NO_RUN.copy()
    ladder[0, :71] = 60
    found = stop_of(ladder, np.zeros(NODES), min_run_min=60)
    assert found == pytest.approx(0.70 + 2 * 0.05)


def test_no_stop_lies_over_full() -> None:
    ladder = NO_RUN.copy()
    ladder[0, :99] = 60
    assert stop_of(ladder, np.zeros(NODES), min_run_min=60) == 1.0


def test_a_ladder_of_several_epochs_stops_where_their_mean_does_by_members_at_sea() -> None:
    """One epoch saves 28 minutes a half hour below 60 %, the other none: with equal parts 14 are too few of 21."""
    worth = np.maximum(0.60 - GRID, 0.0) / 0.05 * 28.0
    value = np.stack([worth, worth, np.zeros(NODES)])
    card = Card(minutes=NO_RUN, of_epoch=np.zeros(2, dtype=np.int64))
    stops = [stop_socs(value, card, GAIN, at_sea=np.array([1.0, late]), min_run_min=30)[0] for late in (1.0, 0.1)]
    assert stops[0] == 0.0
    assert stops[1] == pytest.approx(0.60, abs=0.05)
