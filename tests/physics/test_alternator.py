"""The alternator's mean over a run: closed forms, and a plain sum of the minutes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.physics.alternator import mean_output_a


def minutes_summed_a(
    *, cold_a: float, hot_a: float, limit_a: float, warm_up_min: float, from_min: float, until_min: float
) -> float:
    at_min = from_min + (np.arange(200_000) + 0.5) / 200_000 * (until_min - from_min)
    return float(np.minimum(hot_a + (cold_a - hot_a) * np.exp(-at_min / warm_up_min), limit_a).mean())


@pytest.mark.parametrize("limit_a", [math.inf, 100.0, 95.0, 80.0, 72.0, 50.0])
@pytest.mark.parametrize(
    ("from_min", "until_min"), [(0.0, 5.0), (0.0, 60.0), (0.0, 600.0), (10.0, 20.0), (90.0, 95.0)]
)
def test_the_mean_is_that_of_its_minutes(limit_a: float, from_min: float, until_min: float):
    run = {"cold_a": 100.0, "hot_a": 72.0, "limit_a": limit_a, "warm_up_min": 15.0}
    run |= {"from_min": from_min, "until_min": until_min}
    assert mean_output_a(**run) == pytest.approx(minutes_summed_a(**run), rel=1e-6)


def test_no_warming_and_no_end_are_hot():
    run = {"cold_a": 100.0, "hot_a": 72.0, "limit_a": math.inf}
    assert mean_output_a(**run, warm_up_min=0.0, until_min=60.0) == 72.0
    assert mean_output_a(**run, warm_up_min=15.0, until_min=math.inf) == 72.0
    assert mean_output_a(**run | {"hot_a": 100.0}, warm_up_min=15.0, until_min=60.0) == 100.0
