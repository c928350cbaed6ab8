"""Single-diode figures from a data sheet."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.diode import at_conditions, dark_growth, fit_diode, peak_power_w

SHEET = {
    "max_power_v": 18.6,
    "max_power_a": 5.38,
    "open_circuit_v": 22.2,
    "short_circuit_a": 5.75,
    "cells": 36,
    "power_per_c": -0.0040,
    "voltage_per_c": -0.0030,
    "current_per_c": 0.0005,
}


def current_a(diode, junction_v: float) -> float:
    return diode.light_a - diode.dark_a * np.expm1(junction_v / diode.slope_v) - junction_v / diode.shunt_ohm


def miss_a(diode, volts: float, amps: float) -> float:
    return current_a(diode, volts + amps * diode.series_ohm) - amps


def test_three_points_of_the_sheet_are_met():
    diode = fit_diode(**SHEET)
    assert miss_a(diode, 0.0, 5.75) == pytest.approx(0.0, abs=1e-9)
    assert miss_a(diode, 22.2, 0.0) == pytest.approx(0.0, abs=1e-9)
    assert miss_a(diode, 18.6, 5.38) == pytest.approx(0.0, abs=1e-9)


def test_power_peaks_at_the_sheets_point():
    diode = fit_diode(**SHEET)
    junction = np.linspace(15.0, 22.0, 200_001)
    amps = current_a(diode, junction)
    volts = junction - amps * diode.series_ohm
    assert volts[np.argmax(amps * volts)] == pytest.approx(18.6, abs=1e-3)


@pytest.mark.parametrize("power_per_c", [-0.0028, -0.0034, -0.0040, -0.0045])
def test_power_falls_with_heat_as_the_sheet_says(power_per_c: float):
    diode = fit_diode(**(SHEET | {"power_per_c": power_per_c}))

    def power(temp_c: float) -> float:
        light, dark, slope = at_conditions(diode.light_a, diode.dark_a, diode.slope_v, diode.light_a_per_c, temp_c)
        return peak_power_w(light, dark, slope, diode.series_ohm, 1.0 / diode.shunt_ohm)

    mean = (power(50.0) - power(-10.0)) / 60.0 / power(25.0)
    assert mean == pytest.approx(power_per_c, rel=1e-4)


def test_conditions_of_the_sheet_change_nothing():
    assert dark_growth(25.0) == pytest.approx(1.0, rel=1e-12)
    assert at_conditions(6.0, 1e-10, 0.9, 0.003, 25.0) == pytest.approx((6.0, 1e-10, 0.9), rel=1e-12)


@pytest.mark.parametrize(
    "change",
    [
        {"max_power_a": 5.75},
        {"max_power_v": 22.2},
        {"cells": 360},
        {"max_power_v": 21.8, "max_power_a": 5.74},
    ],
)
def test_figures_that_fit_no_diode_give_none(change: dict[str, float]):
    assert fit_diode(**(SHEET | change)) is None
