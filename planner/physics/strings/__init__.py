"""Substrings with bypass diodes in series, strings in parallel, and the highest power of the whole.

Between two take-over currents the string's voltage is a concave, falling function of its current, so its power is
concave too: one maximum in each interval, found to rounding. The highest of them is the global maximum, exactly.
The same holds for parallel strings between their take-over voltages. The first of them met from open circuit is the
upper peak, where a tracker that does not look further stays.
"""

from __future__ import annotations

from planner.physics.strings.levels import (
    BYPASS_V,
    COLUMNS,
    COUNT,
    DARK,
    LAST,
    LIGHT,
    OPEN,
    SERIES,
    SHUNT,
    SLOPE,
    TAKEOVER,
    complete_row,
    string_voltage_v,
    substring_voltage_v,
)
from planner.physics.strings.parallel import parallel_peak, parallel_upper_peak
from planner.physics.strings.series import string_peak, string_upper_peak

__all__ = [
    "BYPASS_V",
    "COLUMNS",
    "COUNT",
    "DARK",
    "LAST",
    "LIGHT",
    "OPEN",
    "SERIES",
    "SHUNT",
    "SLOPE",
    "TAKEOVER",
    "complete_row",
    "parallel_peak",
    "parallel_upper_peak",
    "string_peak",
    "string_upper_peak",
    "string_voltage_v",
    "substring_voltage_v",
]
