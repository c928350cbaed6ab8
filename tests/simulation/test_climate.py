"""What is usual at sea, by latitude and month: the table at its nodes, between and beyond them."""

from __future__ import annotations

import numpy as np
import pytest

from planner.simulation.sky.climate import CLEARNESS, clearness_at


def at(day: str, lat: float) -> float:
    return float(clearness_at(np.array([day], dtype="datetime64[ns]"), np.array([lat]))[0])


def test_it_is_the_tables_in_the_middle_of_a_month_and_a_band() -> None:
    assert at("2027-07-16", 35.0) == pytest.approx(CLEARNESS[9][6] / 100.0, abs=0.002)
    assert at("2027-01-15", -45.0) == pytest.approx(CLEARNESS[1][0] / 100.0, abs=0.002)


def test_it_is_linear_between_months_over_the_turn_of_the_year_and_between_bands() -> None:
    assert at("2027-12-31", 35.0) == pytest.approx((CLEARNESS[9][11] + CLEARNESS[9][0]) / 200.0, abs=0.002)
    assert at("2027-07-16", 40.0) == pytest.approx((CLEARNESS[9][6] + CLEARNESS[10][6]) / 200.0, abs=0.002)


def test_it_is_held_towards_the_poles() -> None:
    assert at("2027-07-16", 80.0) == at("2027-07-16", 65.0)
    assert at("2027-07-16", -80.0) == at("2027-07-16", -55.0)
