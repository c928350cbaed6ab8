"""The voltage of substrings and strings at a current, and the current at a voltage, solved to rounding."""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.strings.cell import FAST, junction
from planner.physics.strings.tables import (
    ALIKE,
    AT_A,
    AT_V,
    BEND,
    BY_A,
    COUNT,
    DARK,
    END_A,
    FIRST,
    LEAST_V,
    LIGHT,
    SERIES,
    SHUNT,
    SLOPE,
    STRINGS,
)

NEAR_V: Final = 1e-8  # V, how near a voltage is solved for
_ITERATIONS: Final = 80
_LONGEST_STEP: Final = 0.25  # 1, of the current: farther off, the slope tells nothing
_LEAST_A: Final = 1e-9  # A; a step is always allowed to be this long
_CLOSED_A: Final = 1e-14  # A; bounds this near have closed on the current
_FLAT: Final = -1e-9  # V/A; a flatter curve is one whose bypass diodes all conduct
_STRAIGHT: Final = 0.3  # 1, of the slope: a bend over the last step beyond which more than two terms count
_SURELY_OVER: Final = 1.02  # 1, of the current read off a curve, beyond which the bypass diode surely conducts

Bend = tuple[float, float, float]
"""A figure and its first two derivatives."""


@njit(cache=True, error_model="numpy", fastmath=FAST, inline="always")
def _cell_string_at(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    current_a: float, n: int, b: int, q: int, levels: Floats, substrings: Floats
) -> Bend:
    """Return the voltage of a string of cells at a current, and its derivatives by it."""
    volts, first, second = 0.0, 0.0, 0.0
    dark, slope, series = substrings[n, b, DARK], substrings[n, b, SLOPE], substrings[n, b, SERIES]
    for level in range(int(levels[n, q, LIGHT, -1])):
        alike = levels[n, q, COUNT, level]
        over, by_current, bend = junction(
            current_a, levels[n, q, LIGHT, level], dark, slope, levels[n, q, SHUNT, level]
        )
        volts += alike * (over - current_a * series)
        first += alike * (by_current - series)
        second += alike * bend
    return volts, first, second


@njit(cache=True, error_model="numpy", fastmath=FAST)
def _next_current(current_a: float, miss_v: float, slope: float, low: float, high: float) -> float:
    """Return the next guess of the current at which a falling voltage is met, within bounds found so far."""
    reach = _LONGEST_STEP * abs(current_a) + _LEAST_A
    step = -reach if slope > _FLAT else min(max(miss_v / slope, -reach), reach)
    guess = current_a + step
    return guess if low < guess < high else 0.5 * (low + high)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def _cell_string_current(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    target_v: float, start_a: float, n: int, b: int, q: int, levels: Floats, substrings: Floats
) -> Bend:
    """Return the current of a string of cells at a voltage, and its derivatives by it."""
    current, low, high = start_a, -np.inf, np.inf
    first, second = -1.0, 0.0
    for _ in range(_ITERATIONS):
        volts, first, second = _cell_string_at(current, n, b, q, levels, substrings)
        miss = target_v - volts
        if abs(miss) < NEAR_V or high - low < _CLOSED_A:
            break
        if miss < 0.0:
            low = current
        else:
            high = current
        current = _next_current(current, miss, first, low, high)
    return current, 1.0 / first, -second / (first * first * first)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def _side_by_side_at(current_a: float, n: int, b: int, levels: Floats, substrings: Floats) -> Bend:
    """Return the voltage of unlike strings of cells side by side at their common current, and its derivatives."""
    start = int(substrings[n, b, FIRST])
    stop = start + int(substrings[n, b, STRINGS])
    share = current_a / (stop - start)
    low, high = np.inf, -np.inf
    for q in range(start, stop):
        alone, _, _ = _cell_string_at(share, n, b, q, levels, substrings)
        low, high = min(low, alone), max(high, alone)
    volts = 0.5 * (low + high)
    first, second = -1.0, 0.0
    for _ in range(_ITERATIONS):
        amps, first, second = 0.0, 0.0, 0.0
        for q in range(start, stop):
            own, by_volts, bend = _cell_string_current(volts, share, n, b, q, levels, substrings)
            amps += own
            first += by_volts
            second += bend
        miss = current_a - amps
        if miss < 0.0:
            low = volts
        else:
            high = volts
        step = miss / first
        if abs(step) < NEAR_V or high - low < NEAR_V:
            break
        volts = volts + step if low < volts + step < high else 0.5 * (low + high)
    return volts, 1.0 / first, -second / (first * first * first)


@njit(cache=True, error_model="numpy", fastmath=FAST, inline="always")
def substring_at(current_a: float, n: int, b: int, levels: Floats, substrings: Floats) -> Bend:
    """Return a substring's voltage at a current, and its derivatives by it.

    Parameters
    ----------
    current_a : float
        Through the substring [A].
    n, b : int
        Node and substring.
    levels, substrings
        See ``tables``.

    Returns
    -------
    volts, first, second : float
        [V, V/A, V/A2].
    """
    least_v = substrings[n, b, LEAST_V]
    if current_a > _SURELY_OVER * substrings[n, b, END_A] + _LEAST_A:
        return least_v, 0.0, 0.0
    if substrings[n, b, ALIKE] > 0.0:
        times = substrings[n, b, STRINGS]
        volts, first, second = _cell_string_at(
            current_a / times, n, b, int(substrings[n, b, FIRST]), levels, substrings
        )
        first, second = first / times, second / (times * times)
    else:
        volts, first, second = _side_by_side_at(current_a, n, b, levels, substrings)
    return (volts, first, second) if volts > least_v else (least_v, 0.0, 0.0)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def voltage_near(current_a: float, n: int, b: int, substrings: Floats) -> float:
    """Return a substring's voltage near the current at which it was last solved; as for ``substring_at`` [V]."""
    step = current_a - substrings[n, b, AT_A]
    return float(substrings[n, b, AT_V] + step * (substrings[n, b, BY_A] + 0.5 * step * substrings[n, b, BEND]))


@njit(cache=True, error_model="numpy", fastmath=FAST, inline="always")
def string_current(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    target_v: float,
    start_a: float,
    near_v: float,
    wire_ohm: float,
    n: int,
    s: int,
    parts: Floats,
    levels: Floats,
    substrings: Floats,
) -> Bend:
    """Return the current of a string at a voltage behind its wire, and its derivatives by it.

    Parameters
    ----------
    target_v : float
        At the far end of the wire [V].
    start_a : float
        Near the current sought [A].
    near_v : float
        From so near a voltage the last step is taken, whose miss is of third order [V].
    wire_ohm : float
        [ohm].
    n, s : int
        Node and string.
    parts, levels, substrings
        See ``tables``.

    Returns
    -------
    current, first, second : float
        [A, A/V, A/V2].
    """
    current, low, high = start_a, -np.inf, np.inf
    by_volts, bend = -1.0, 0.0
    count = int(parts[n, s, 0, 0])
    for _ in range(_ITERATIONS):
        volts, first, second = -current * wire_ohm, -wire_ohm, 0.0
        for part in range(1, count + 1):
            times = parts[n, s, part, 1]
            b = int(parts[n, s, part, 0])
            own, by_current, turn = substring_at(current, n, b, levels, substrings)
            substrings[n, b, AT_A], substrings[n, b, AT_V] = current, own
            substrings[n, b, BY_A], substrings[n, b, BEND] = by_current, turn
            volts += times * own
            first += times * by_current
            second += times * turn
        miss = target_v - volts
        by_volts = 1.0 / min(first, _FLAT)
        bend = -second * by_volts * by_volts * by_volts
        if abs(miss) < near_v and first < _FLAT and abs(miss * bend) < _STRAIGHT * -by_volts:
            return current + miss * (by_volts + 0.5 * miss * bend), by_volts + miss * bend, bend
        if high - low < _CLOSED_A:
            break
        if miss < 0.0:
            low = current
        else:
            high = current
        # a step of second order, whose miss is of third; of first where that is far off
        aim = miss * (1.0 + 0.5 * miss * bend / by_volts)
        current = _next_current(current, aim if aim * miss > 0.0 else miss, first, low, high)
    return current, by_volts, bend
