"""Cells in light and in shadow, substrings with bypass diodes, strings, and the voltage that a controller holds.

The dimmest cell of a substring limits it until the bypass diode takes over. Curves of points (``curves``) are added
in series and in parallel and show about where the best voltage lies; there the equations are solved (``exact``,
``tracking``).
"""

from __future__ import annotations

from planner.physics.strings.curves import (
    AMPS,
    BYPASS_V,
    MOST_POINTS,
    VOLTS,
    add_in_parallel,
    add_in_series,
    cell_string_curve,
)
from planner.physics.strings.exact import string_current, substring_at, voltage_near
from planner.physics.strings.tracking import held_voltage

__all__ = [
    "AMPS",
    "BYPASS_V",
    "MOST_POINTS",
    "VOLTS",
    "add_in_parallel",
    "add_in_series",
    "cell_string_curve",
    "held_voltage",
    "string_current",
    "substring_at",
    "voltage_near",
]
