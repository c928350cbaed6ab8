"""The single-diode figures of a panel from its data sheet, and how they move with light and temperature."""

from __future__ import annotations

from planner.physics.diode.conditions import (
    BOLTZMANN_EV_K,
    LEAST_LIGHT_W_M2,
    REFERENCE_K,
    REFERENCE_W_M2,
    at_conditions,
    dark_growth,
    peak_power_w,
)
from planner.physics.diode.sheet import Diode, fit_diode

__all__ = [
    "BOLTZMANN_EV_K",
    "LEAST_LIGHT_W_M2",
    "REFERENCE_K",
    "REFERENCE_W_M2",
    "Diode",
    "at_conditions",
    "dark_growth",
    "fit_diode",
    "peak_power_w",
]
