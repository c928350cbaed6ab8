"""The highest power of parallel strings, and the peak that a tracker meets first."""

from __future__ import annotations

import numpy as np
from numba import njit

from planner.domain.arrays import Floats, Ints
from planner.physics.strings.levels import (
    BYPASS_V,
    COUNT,
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
    start_junction,
    string_voltage_v,
)
from planner.physics.strings.series import hold_voltage

_EXACT_V = 1e-11  # V; where a voltage is held, an error costs power of first order
_LEAST_INTERVAL_V = 1e-9  # V; two take-over voltages this close are one
_QUICK_ITERATIONS = 12  # after so many, the search that cannot fail takes over


@njit(cache=True, error_model="numpy")
def _parallel_at(
    voltage: float, offsets: Ints, actives: Ints, bypassed: Floats, levels: Floats
) -> tuple[float, float, float]:
    """Return the summed current of parallel strings at their common voltage, and its first two derivatives by it."""
    current, first, second = 0.0, 0.0, 0.0
    for s in range(actives.size):
        active = actives[s]
        low = levels[active, TAKEOVER] * levels[active, SERIES] - BYPASS_V - 1.0
        high = max(voltage + BYPASS_V * bypassed[s], levels[active, OPEN]) + 1.0
        amps, by_voltage, by_voltage_2 = hold_voltage(
            voltage, low, high, active, offsets[s + 1], bypassed[s], levels, 0.0
        )
        current += amps
        first += by_voltage
        second += by_voltage_2
    return current, first, second


@njit(cache=True, error_model="numpy")
def _seek_quickly(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    low: float,
    high: float,
    offsets: Ints,
    actives: Ints,
    bypassed: Floats,
    levels: Floats,
    wire_ohm: float,
    string_current_a: Floats,
) -> tuple[bool, float, float]:
    """Return whether the peak between two voltages was found by moving all junctions at once, its voltage, current.

    Each string is followed along its tangent and bend to the common voltage, so a step of Newton's method costs one
    look at each level instead of one search. Only a settled peak inside the bounds counts.
    """
    strings = actives.size
    voltage, weight = 0.0, 0.0
    for s in range(strings):
        active = actives[s]
        # Near its peak a string carries about 0.93 of what its active level is lit for.
        amps, over = 0.93 * levels[active, TAKEOVER], levels[active, OPEN] - 2.6 * levels[active, SLOPE]
        levels[active, LAST] = over
        total = levels[active, COUNT] * (over - amps * levels[active, SERIES]) - BYPASS_V * bypassed[s]
        for row in range(active + 1, offsets[s + 1]):
            start_junction(amps, levels, row)
            total += levels[row, COUNT] * (levels[row, LAST] - amps * levels[row, SERIES])
        voltage += amps * total
        weight += amps
    voltage = min(max(voltage / weight, low), high)
    figures = np.empty((strings, 5))
    for _ in range(_QUICK_ITERATIONS):
        current, first, second, apart = 0.0, 0.0, 0.0, 0.0
        for s in range(strings):
            active = actives[s]
            amps, total, by_amps, by_amps_2, g, dg, unsettled = at_junction(
                levels[active, LAST], active, offsets[s + 1], bypassed[s], levels, 0.0
            )
            by_voltage = 1.0 / by_amps
            by_voltage_2 = -by_amps_2 * by_voltage * by_voltage * by_voltage
            miss = voltage - total
            figures[s] = (total, by_voltage, by_voltage_2, g, dg)
            string_current_a[s] = amps
            current += amps + miss * (by_voltage + 0.5 * miss * by_voltage_2)
            first += by_voltage + miss * by_voltage_2
            second += by_voltage_2
            apart = max(apart, unsettled, abs(miss * by_voltage / g) / levels[active, SLOPE])
        tilt = current + voltage * first - 2.0 * wire_ohm * current * first
        bend = 2.0 * first + voltage * second - 2.0 * wire_ohm * (first * first + current * second)
        if bend >= 0.0:
            return False, voltage, 0.0
        step = -tilt / bend
        if not low <= voltage + step <= high:
            return False, voltage, 0.0
        if apart < SETTLED and abs(step) < LAST_STEP_V:
            for s in range(strings):
                miss = voltage + step - figures[s, 0]
                string_current_a[s] += miss * (figures[s, 1] + 0.5 * miss * figures[s, 2])
            return True, voltage + step, current + first * step
        voltage += step
        for s in range(strings):
            total, by_voltage, by_voltage_2, g, dg = figures[s]
            slope = levels[actives[s], SLOPE]
            miss = voltage - total
            move = -miss * (by_voltage + 0.5 * miss * by_voltage_2) / g
            move = min(max(move, -slope), slope)
            levels[actives[s], LAST] += move - 0.5 * move * move * dg / g
    return False, voltage, 0.0


@njit(cache=True, error_model="numpy")
def _seek_surely(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    low: float,
    high: float,
    least_v: float,
    beat_w: float,
    offsets: Ints,
    actives: Ints,
    bypassed: Floats,
    levels: Floats,
    wire_ohm: float,
) -> tuple[float, float]:
    """Return voltage and current of parallel strings at their highest power between two voltages.

    Where the far end of the wire would stand under ``least_v``, it is held there. The current comes back zero as
    soon as no power in the interval can reach ``beat_w``.
    """
    bottom, top = low, high
    voltage, current = max(0.8 * high, 0.5 * (low + high)), 0.0
    for hold in range(2):
        # A missed peak costs power of second order only, a missed voltage of first.
        last_step_v = LAST_STEP_V if hold == 0 else _EXACT_V
        for _ in range(ITERATIONS):
            current, first, second = _parallel_at(voltage, offsets, actives, bypassed, levels)
            # Power at the near end of the wire is concave in voltage and no less than at the far end.
            tilt = current + voltage * first
            if voltage * current + tilt * ((top if tilt > 0.0 else bottom) - voltage) <= beat_w:
                return voltage, 0.0
            if hold == 0:
                miss = tilt - 2.0 * wire_ohm * current * first
                bend = 2.0 * first + voltage * second - 2.0 * wire_ohm * (first * first + current * second)
            else:
                miss = least_v - (voltage - current * wire_ohm)
                bend = wire_ohm * first - 1.0
            if miss > 0.0:
                low = voltage
            else:
                high = voltage
            step = -miss / bend if bend < 0.0 else 0.5 * (low + high) - voltage
            if abs(step) < last_step_v:
                voltage, current = voltage + step, current + first * step
                break
            if high - low < NARROW_V:
                break
            voltage = voltage + step if low < voltage + step < high else 0.5 * (low + high)
        if voltage - current * wire_ohm >= least_v:
            break
        low, high = voltage, top
        voltage = min(least_v + current * wire_ohm, 0.5 * (low + high))
    return voltage, current


@njit(cache=True, error_model="numpy")
def _find_edges(levels: Floats, offsets: Ints, least_v: float, edges: Floats) -> float:
    """Fill the voltage of its string at each row's take-over; return a voltage that no string exceeds.

    An edge that lies under ``least_v`` for certain is not found exactly.
    """
    top = 0.0
    for s in range(offsets.size - 1):
        first, stop = offsets[s], offsets[s + 1]
        open_v, bypassed = 0.0, 0.0
        for row in range(first, stop):
            open_v += levels[row, COUNT] * levels[row, OPEN]
        top = max(top, open_v)
        for row in range(first, stop):
            bypassed += levels[row, COUNT]
            open_v -= levels[row, COUNT] * levels[row, OPEN]
            edges[row] = open_v - BYPASS_V * bypassed
            if edges[row] > least_v:
                edges[row] = string_voltage_v(levels[row, TAKEOVER], levels[first:stop])
    return top


@njit(cache=True, error_model="numpy")
def _take_places(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    middle: float, edges: Floats, levels: Floats, offsets: Ints, actives: Ints, bypassed: Floats
) -> None:
    """Fill the active row of each string at a voltage, and how many substrings are bypassed there."""
    for s in range(actives.size):
        active, bypassed[s] = offsets[s], 0.0
        while active < offsets[s + 1] - 1 and edges[active] > middle:
            bypassed[s] += levels[active, COUNT]
            active += 1
        actives[s] = active


@njit(cache=True, error_model="numpy")
def _parallel(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    levels: Floats, offsets: Ints, wire_ohm: float, least_v: float, string_current_a: Floats, peaks: int
) -> float:
    """Return the highest power of so many peaks, met from above, and fill the currents of the strings there."""
    strings = offsets.size - 1
    edges, trial_a = np.empty(levels.shape[0]), np.empty(strings)
    actives, bypassed = np.empty(strings, np.int64), np.empty(strings)
    right = _find_edges(levels, offsets, least_v, edges)
    best_power = 0.0
    for edge in np.sort(edges)[::-1]:
        left = max(edge, 0.0)
        if right - left < _LEAST_INTERVAL_V:
            continue
        if right <= least_v:
            break
        _take_places(0.5 * (left + right), edges, levels, offsets, actives, bypassed)
        low = max(left, least_v)
        found, voltage, current = _seek_quickly(
            low, right, offsets, actives, bypassed, levels, wire_ohm, trial_a[:strings]
        )
        if not found or voltage - current * wire_ohm < least_v:
            for s in range(strings):
                for row in range(actives[s], offsets[s + 1]):
                    levels[row, LAST] = 0.9 * levels[row, OPEN]
            beat_w = best_power if peaks > 1 else -np.inf
            voltage, current = _seek_surely(low, right, least_v, beat_w, offsets, actives, bypassed, levels, wire_ohm)
            found = False
        input_v = voltage - current * wire_ohm
        if current > 0.0 and input_v > least_v - 1e-9 and current * input_v > best_power:
            best_power = current * input_v
            for s in range(strings):
                string_current_a[s] = (
                    trial_a[s]
                    if found
                    else _parallel_at(voltage, offsets[s : s + 2], actives[s : s + 1], bypassed[s : s + 1], levels)[0]
                )
        peaks -= voltage - left > 2.0 * LAST_STEP_V
        if peaks == 0:
            break
        right = left
    return best_power


@njit(cache=True, error_model="numpy")
def parallel_peak(levels: Floats, offsets: Ints, wire_ohm: float, least_v: float, string_current_a: Floats) -> float:
    """Return the highest power of parallel strings at the far end of their wire, at no less than a voltage.

    No diode blocks a string: a dim one may take current from the others.

    Parameters
    ----------
    levels : array (level, COLUMNS)
        Rows of all strings, one string after another, each rising by take-over current.
    offsets : int array (string + 1,)
        Where each string's rows begin; the last is the number of rows.
    wire_ohm, least_v : float
        As in ``string_peak`` [ohm, V].
    string_current_a : array (string,)
        Filled with the current through each string [A].

    Returns
    -------
    float
        At the controller's input; zero where the voltage is not reached [W].
    """
    return _parallel(levels, offsets, wire_ohm, least_v, string_current_a, levels.shape[0] + 1)


@njit(cache=True, error_model="numpy")
def parallel_upper_peak(
    levels: Floats, offsets: Ints, wire_ohm: float, least_v: float, string_current_a: Floats
) -> float:
    """Return the power of parallel strings at the first peak met from open circuit, at no less than a voltage.

    Parameters
    ----------
    levels, offsets, wire_ohm, least_v, string_current_a
        As in ``parallel_peak``.

    Returns
    -------
    float
        At the controller's input; zero where the voltage is not reached [W].
    """
    return _parallel(levels, offsets, wire_ohm, least_v, string_current_a, 1)
