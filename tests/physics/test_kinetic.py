"""The two wells: what a rate leaves behind, and what a rest gives back."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.kinetic import at_hand_rate, next_gap, spare_charge

SHARE, FLOW_PER_H = 0.4751, 0.677
SPARE = spare_charge(SHARE, FLOW_PER_H)


def hours_to_empty(rate: float, *, step_h: float = 0.01) -> float:
    soc, gap, hours = 1.0, 0.0, 0.0
    while True:
        most = at_hand_rate(soc, gap, step_h, SHARE, FLOW_PER_H, SPARE)
        if most < rate:
            return hours + step_h * most / rate
        soc, gap, hours = soc - rate * step_h, next_gap(gap, rate, step_h, SHARE, FLOW_PER_H), hours + step_h


def test_the_twenty_hour_rate_gives_the_rated_capacity():
    assert hours_to_empty(1.0 / 20.0) == pytest.approx(20.0, abs=0.02)


def test_small_steps_and_one_long_step_agree():
    gap = 0.03
    for _ in range(100):
        gap = next_gap(gap, 0.2, 0.01, SHARE, FLOW_PER_H)
    assert gap == pytest.approx(next_gap(0.03, 0.2, 1.0, SHARE, FLOW_PER_H), rel=1e-12)


def test_the_gap_follows_its_equation():
    rate, gap, step_h = 0.3, 0.05, 1e-6
    slope = (next_gap(gap, rate, step_h, SHARE, FLOW_PER_H) - gap) / step_h
    assert slope == pytest.approx(rate / SHARE - FLOW_PER_H * gap, rel=1e-5)


def test_a_rest_brings_charge_back_to_hand():
    tired = at_hand_rate(0.3, 0.5, 0.1, SHARE, FLOW_PER_H, SPARE)
    rested = at_hand_rate(0.3, next_gap(0.5, 0.0, 6.0, SHARE, FLOW_PER_H), 0.1, SHARE, FLOW_PER_H, SPARE)
    assert tired < rested


def test_one_well_holds_nothing_back():
    assert spare_charge(1.0, 1.0) == 0.0
    assert at_hand_rate(0.4, 7.0, 0.5, 1.0, 1.0, 0.0) == pytest.approx(0.8)


def test_higher_rates_give_less():
    delivered = [rate * hours_to_empty(rate) for rate in (0.05, 0.1, 0.2, 0.5, 1.0)]
    assert np.all(np.diff(delivered) < 0.0)
