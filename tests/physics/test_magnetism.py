"""Variation: decimal years, the choice of model, behaviour past its dates."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sailing.magnetism import decimal_year, field_at, model_epoch


def test_decimal_years_of_common_and_leap_years() -> None:
    moments = np.array(["2027-01-01", "2027-07-02T12:00", "2028-07-02"], dtype="datetime64[ns]")
    np.testing.assert_allclose(decimal_year(moments), [2027.0, 2027.5, 2028.5], atol=1e-12)


@pytest.mark.parametrize(
    ("year", "epoch"),
    [(2001.0, 2010), (2014.9, 2010), (2015.0, 2015), (2024.99, 2020), (2029.9, 2025), (2036.0, 2025)],
)
def test_each_year_has_its_model(year: float, epoch: int) -> None:
    assert model_epoch(year) == epoch


def test_past_its_dates_the_newest_model_runs_on_smoothly() -> None:
    at = field_at(-30.0, 178.0, np.array([2029.0, 2030.0, 2031.0]))[0]
    assert at[2] - at[1] == pytest.approx(at[1] - at[0], abs=0.01)


def test_variation_is_easterly_off_new_zealand() -> None:
    assert 15.0 < float(field_at(-35.3, 174.1, 2027.35)[0]) < 25.0


def test_shapes_broadcast() -> None:
    assert [each.shape for each in field_at(np.zeros((2, 1)), np.zeros(3), 2026.0)] == [(2, 3)] * 2
