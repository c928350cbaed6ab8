"""The highest power of one string, and the peak that a tracker meets first."""

from __future__ import annotations

import numpy as np
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.strings.levels import (
    BYPASS_V,
    COUNT,
    DARK,
    ITERATIONS,
    LAST,
    LAST_STEP_V,
    NARROW_V,
    OPEN,
    SERIES,
    SETTLED,
    SLOPE,
    TAKEOVER,
    at_junction,
    settle_junction,
    start_junction,
)

_LEAST_INTERVAL_A = 1e-12  # A; two take-over currents this close are one
_PATIENCE = 10  # looks after which the active level waits for the brighter ones to settle
_LONGEST_STEP = 2.0  # 1, over the slope: farther off, the derivatives tell nothing


@njit(cache=True, error_model="numpy")
def hold_voltage(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    target_v: float,
    low: float,
    high: float,
    active: int,
    stop: int,
    bypassed: float,
    levels: Floats,
    wire_ohm: float,
) -> tuple[float, float, float]:
    """Return current and its first two derivatives by voltage where the string stands at a voltage.

    Parameters
    ----------
    target_v : float
        At the end of the wire [V].
    low, high : float
        Bounds of the active level's junction voltage, sought from the one last found [V].
    active, stop, bypassed, levels, wire_ohm
        As in ``at_junction``.

    Returns
    -------
    current, first, second : float
        [A, A/V, A/V2].
    """
    voltage = min(max(levels[active, LAST], low), high)
    current, first, second = 0.0, -1.0, 0.0
    for look in range(ITERATIONS):
        current, total, first, second, g, _, unsettled = at_junction(
            voltage, active, stop, bypassed, levels, wire_ohm
        )
        miss = total - target_v
        step = miss / (first * g)
        if unsettled < SETTLED:
            if miss > 0.0:
                high = voltage
            else:
                low = voltage
            if abs(step) < LAST_STEP_V:
                voltage += step
                current -= miss / first
                break
            if high - low < NARROW_V:
                break
        elif look > _PATIENCE:
            continue
        voltage = voltage + step if low < voltage + step < high else 0.5 * (low + high)
    levels[active, LAST] = voltage
    return current, 1.0 / first, -second / (first * first * first)


@njit(cache=True, error_model="numpy")
def _peak_between(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    span_a: tuple[float, float],
    low: float,
    high: float,
    beat_w: float,
    active: int,
    stop: int,
    bypassed: float,
    levels: Floats,
    wire_ohm: float,
) -> tuple[float, float, float]:
    """Return current and voltage of the highest power between two currents, and the active junction voltage there.

    The junction voltage is sought between two bounds, from the one last found. The current comes back zero as soon
    as no power in the interval can reach ``beat_w``.
    """
    voltage = min(max(levels[active, LAST], low), high)
    current, total = 0.0, 0.0
    for look in range(ITERATIONS):
        current, total, first, second, g, dg, unsettled = at_junction(
            voltage, active, stop, bypassed, levels, wire_ohm
        )
        slope = total + current * first
        # Power by current, times g: close to an exponential of the junction voltage, kind to Newton's method.
        step = -g * slope / (dg * slope - g * g * (2.0 * first + current * second))
        if unsettled < SETTLED:
            if slope > 0.0:
                high = voltage
            else:
                low = voltage
            # Concave power stays under its tangent.
            if current * total + slope * (span_a[1 if slope > 0.0 else 0] - current) <= beat_w:
                return 0.0, 0.0, voltage
            if abs(step) < LAST_STEP_V:
                more = -slope / (2.0 * first + current * second)
                current, total = current + more, total + first * more
                break
            if high - low < NARROW_V:
                break
        elif look > _PATIENCE:
            continue
        step = min(max(step, -_LONGEST_STEP * levels[active, SLOPE]), _LONGEST_STEP * levels[active, SLOPE])
        voltage = voltage + step if low < voltage + step < high else 0.5 * (low + high)
    return current, total, voltage


@njit(cache=True, error_model="numpy")
def _interval_peak(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    left: float,
    beat_w: float,
    active: int,
    bypassed: float,
    about_v: float,
    levels: Floats,
    wire_ohm: float,
    least_v: float,
) -> tuple[float, float, bool]:
    """Return the highest power and its current from a current to the active level's take-over, at least ``least_v``.

    Both are zero where no power there can reach ``beat_w``; the flag tells whether power was still rising toward
    the take-over.
    """
    stop = levels.shape[0]
    right, slope = levels[active, TAKEOVER], levels[active, SLOPE]
    guess_a = left + 0.93 * (right - left)
    diode_a = right - guess_a
    alike = levels[active, COUNT]
    for row in range(active + 1, stop):
        start_junction(guess_a, levels, row)
        # The brighter a level, the stiffer its voltage, the less it counts.
        alike += levels[row, COUNT] * diode_a / (diode_a + levels[row, TAKEOVER] - right)
    if active > 0:
        start_junction(left, levels, active)
        high = settle_junction(left, levels, active)
    else:
        high = levels[active, OPEN]
    low = right * levels[active, SERIES] - BYPASS_V
    # Where power peaks, the levels' resistances together are about voltage over current.
    levels[active, LAST] = slope * np.log(slope * alike * guess_a / (about_v * levels[active, DARK]))
    current, total, voltage = _peak_between(
        (left, right), low, high, beat_w, active, stop, bypassed, levels, wire_ohm
    )
    rising = current > 0.0 and voltage - low < 2.0 * LAST_STEP_V
    if current > 0.0 and total < least_v:
        levels[active, LAST] = 0.5 * (voltage + high)
        current, _, _ = hold_voltage(least_v, voltage, high, active, stop, bypassed, levels, wire_ohm)
        # Held at its very beginning, the interval has nothing that the one before it has not.
        current, total, rising = max(current, left), least_v, False
    return current * total, current, rising


@njit(cache=True, error_model="numpy")
def string_peak(levels: Floats, wire_ohm: float, least_v: float) -> tuple[float, float]:
    """Return the highest power of one string at the far end of its wire, at no less than a voltage.

    Parameters
    ----------
    levels : array (level, COLUMNS)
        Rows rising by take-over current.
    wire_ohm : float
        Resistance between string and controller, both ways [ohm].
    least_v : float
        Voltage that the controller needs at its input [V].

    Returns
    -------
    power_w, current_a : float
        At the controller's input; both zero where the voltage is not reached [W, A].
    """
    best_power, best_current, left, bypassed, open_v = 0.0, 0.0, 0.0, 0.0, 0.0
    for row in range(levels.shape[0]):
        open_v += levels[row, COUNT] * levels[row, OPEN]
    for active in range(levels.shape[0]):
        right, count = levels[active, TAKEOVER], levels[active, COUNT]
        # No more than this at the interval's beginning, and so within it.
        most_v = open_v - BYPASS_V * bypassed - left * wire_ohm
        if most_v <= max(least_v, 0.0):
            break
        if right - left > _LEAST_INTERVAL_A and most_v * right > best_power:
            total = _voltage_at(left, active, bypassed, levels, wire_ohm) if active > 0 else most_v
            if total <= max(least_v, 0.0):
                break
            if total * right > best_power:
                about_v = 0.8 * most_v if active == 0 else total
                power, current, _ = _interval_peak(
                    left, best_power, active, bypassed, about_v, levels, wire_ohm, least_v
                )
                if power > best_power:
                    best_power, best_current = power, current
        bypassed += count
        open_v -= count * levels[active, OPEN]
        left = max(left, right)
    return best_power, best_current


@njit(cache=True, error_model="numpy")
def string_upper_peak(levels: Floats, wire_ohm: float, least_v: float) -> tuple[float, float]:
    """Return the power of one string at the first peak met from open circuit, at no less than a voltage.

    Parameters
    ----------
    levels, wire_ohm, least_v
        As in ``string_peak``.

    Returns
    -------
    power_w, current_a : float
        At the controller's input; both zero where the voltage is not reached [W, A].
    """
    power, current, left, bypassed = 0.0, 0.0, 0.0, 0.0
    for active in range(levels.shape[0]):
        right, count = levels[active, TAKEOVER], levels[active, COUNT]
        if right - left > _LEAST_INTERVAL_A:
            total = _voltage_at(left, active, bypassed, levels, wire_ohm)
            if total <= max(least_v, 0.0):
                break
            power, current, rising = _interval_peak(left, -np.inf, active, bypassed, total, levels, wire_ohm, least_v)
            if not rising:
                break
        bypassed += count
        left = max(left, right)
    return power, current


@njit(cache=True, error_model="numpy")
def _voltage_at(current_a: float, active: int, bypassed: float, levels: Floats, wire_ohm: float) -> float:
    """Return the voltage at the end of the wire at a current between two take-overs [V]."""
    total = -BYPASS_V * bypassed - current_a * wire_ohm
    for row in range(active, levels.shape[0]):
        start_junction(current_a, levels, row)
        total += levels[row, COUNT] * (settle_junction(current_a, levels, row) - current_a * levels[row, SERIES])
    return float(total)
