"""Where a run stops paying: values whose slope is known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.decision.policy.stops import stop_socs

NODES = 101
GRID = np.linspace(0.0, 1.0, NODES)
GAIN = np.full(NODES, 0.05)  # half an hour of engine puts in five percent
NO_RUN = np.zeros((1, NODES), dtype=np.int64)


def value_of(cost: np.ndarray) -> np.ndarray:
    return np.stack([cost, cost])


@pytest.mark.parametrize(("saved_min", "stops"), [(22.0, 0.60), (20.0, 0.0)])
def test_a_half_hour_must_save_seven_tenths_of_itself_later(saved_min: float, stops: float) -> None:
    """Below 60 % every half hour saves so many minutes, above it none; 21 of 30 are the least that pays."""
    cost = np.maximum(0.60 - GRID, 0.0) / 0.05 * saved_min
    found = stop_socs(value_of(cost), NO_RUN, GAIN, min_run_min=30)[0]
    # the last reading at which a whole half hour still pays is 55 %; between, it pays in part
    assert found == pytest.approx(stops, abs=0.05)


def test_the_stop_leaves_room_for_a_shortest_run() -> None:
    ladder = NO_RUN.copy()
    ladder[0, :71] = 60
    found = stop_socs(value_of(np.zeros(NODES)), ladder, GAIN, min_run_min=60)[0]
    assert found == pytest.approx(0.70 + 2 * 0.05)


def test_no_stop_lies_over_full() -> None:
    ladder = NO_RUN.copy()
    ladder[0, :99] = 60
    assert stop_socs(value_of(np.zeros(NODES)), ladder, GAIN, min_run_min=60)[0] == 1.0
