"""Substrings with bypass diodes in series, strings in parallel, and the highest power of the whole.

A *level* is a number of equal substrings under equal light. Its row holds, for one substring: light current [A],
saturation current [A], thermal slope [V] (ideality x cells x thermal voltage), series resistance [ohm], shunt
conductance [S], how many there are [1], the current [A] at which its bypass diode takes over, the open-circuit
voltage without the shunt [V], and room for the junction voltage last found [V]. Rows
of a string rise by take-over current.

Between two take-over currents the string's voltage is a concave, falling function of its current, so its power is
concave too: one maximum in each interval, found to rounding. The highest of them is the global maximum, exactly.
The same holds for parallel strings between their take-over voltages.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BYPASS_V: Final = 0.5  # V, forward drop of a bypass diode carrying the string (common practice, recalled)
LIGHT, DARK, SLOPE, SERIES, SHUNT, COUNT, TAKEOVER, OPEN, LAST = 0, 1, 2, 3, 4, 5, 6, 7, 8
COLUMNS: Final = 9
_ITERATIONS: Final = 100
# V; Newton's method squares its error, so a last step of this size leaves some 1e-12 V.
_LAST_STEP_V: Final = 1e-6
_NARROW_V: Final = 1e-12  # V; a bracket this narrow has closed on one of its ends


@njit(cache=True)
def complete_row(levels: Floats, row: int) -> None:
    """Fill a row's take-over current and open-circuit voltage from the five figures before them.

    At take-over the substring's voltage has fallen to minus the bypass drop. Its junction is then far below the
    slope, so the take-over current is found as if the diode's exponential were zero.
    """
    light, dark, shunt = levels[row, LIGHT], levels[row, DARK], levels[row, SHUNT]
    levels[row, TAKEOVER] = (light + dark + BYPASS_V * shunt) / (1.0 + levels[row, SERIES] * shunt)
    levels[row, OPEN] = levels[row, SLOPE] * np.log1p(light / dark)
    levels[row, LAST] = levels[row, OPEN]


@njit(cache=True)
def _settle_junction(current_a: float, levels: Floats, row: int) -> tuple[float, float]:
    """Return a substring's junction voltage at a current and its diode current there, from the voltage last found."""
    dark, slope, shunt = levels[row, DARK], levels[row, SLOPE], levels[row, SHUNT]
    flow = levels[row, LIGHT] - current_a + dark
    voltage, diode = levels[row, LAST], 0.0
    for _ in range(_ITERATIONS):
        diode = dark * np.exp(voltage / slope)
        step = (flow - diode - shunt * voltage) / (diode / slope + shunt)
        # From the left the exponential is still flat and the step far too long.
        step = min(step, slope)
        voltage += step
        if abs(step) < _LAST_STEP_V:
            diode *= 1.0 + step / slope
            break
    levels[row, LAST] = voltage
    return voltage, diode


@njit(cache=True)
def substring_voltage_v(current_a: float, levels: Floats, row: int) -> float:
    """Return the voltage of one substring at a current: the single-diode equation, and its bypass diode.

    Parameters
    ----------
    current_a : float
        Through the substring [A].
    levels : array (level, COLUMNS)
        Rows; the junction voltage last found starts the search and is replaced.
    row : int
        Which.

    Returns
    -------
    float
        [V].
    """
    voltage, _ = _settle_junction(current_a, levels, row)
    return float(max(voltage - current_a * levels[row, SERIES], -BYPASS_V))


@njit(cache=True)
def string_voltage_v(current_a: float, levels: Floats) -> float:
    """Return the voltage of a string at a current, without its wire.

    Parameters
    ----------
    current_a : float
        Through the string [A].
    levels : array (level, COLUMNS)
        Rows in any order.

    Returns
    -------
    float
        [V].
    """
    total = 0.0
    for row in range(levels.shape[0]):
        total += levels[row, COUNT] * substring_voltage_v(current_a, levels, row)
    return total


@njit(cache=True)
def _at_junction(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    voltage: float, active: int, stop: int, bypassed: float, levels: Floats, wire_ohm: float
) -> tuple[float, float, float, float, float, float]:
    """Return current, string voltage, its first two derivatives by current, and the active level's g and dg/dv.

    The active level is the dimmest that still carries the string, ``voltage`` is over its junctions and g is their
    conductance; rows from it to ``stop`` are the brighter ones, ``bypassed`` counts the dimmer substrings.
    """
    count, series = levels[active, COUNT], levels[active, SERIES]
    slope, shunt = levels[active, SLOPE], levels[active, SHUNT]
    diode = levels[active, DARK] * np.exp(voltage / slope)
    current = levels[active, LIGHT] + levels[active, DARK] - diode - shunt * voltage
    g = diode / slope + shunt
    dg = diode / (slope * slope)
    total = count * (voltage - current * series) - current * wire_ohm - BYPASS_V * bypassed
    first = -count * (1.0 / g + series) - wire_ohm
    second = -count * dg / (g * g * g)
    for row in range(active + 1, stop):
        over, other_diode = _settle_junction(current, levels, row)
        other_slope, other_count = levels[row, SLOPE], levels[row, COUNT]
        resistance = 1.0 / (other_diode / other_slope + levels[row, SHUNT])
        total += other_count * (over - current * levels[row, SERIES])
        first -= other_count * (resistance + levels[row, SERIES])
        second -= other_count * other_diode / (other_slope * other_slope) * resistance * resistance * resistance
    return current, total, first, second, g, dg


@njit(cache=True)
def _hold_voltage(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
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

    The active level's junction voltage is sought between two bounds, from the one last found.
    """
    voltage = min(max(levels[active, LAST], low), high)
    current, first, second = 0.0, -1.0, 0.0
    for _ in range(_ITERATIONS):
        current, total, first, second, g, _ = _at_junction(voltage, active, stop, bypassed, levels, wire_ohm)
        miss = total - target_v
        if miss > 0.0:
            high = voltage
        else:
            low = voltage
        step = miss / (first * g)
        if abs(step) < _LAST_STEP_V:
            voltage += step
            current -= miss / first
            break
        if high - low < _NARROW_V:
            break
        voltage = voltage + step if low < voltage + step < high else 0.5 * (low + high)
    levels[active, LAST] = voltage
    return current, 1.0 / first, -second / (first * first * first)


@njit(cache=True)
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
    for _ in range(_ITERATIONS):
        current, total, first, second, g, dg = _at_junction(voltage, active, stop, bypassed, levels, wire_ohm)
        slope = total + current * first
        if slope > 0.0:
            high = voltage
        else:
            low = voltage
        # Concave power stays under its tangent.
        if current * total + slope * (span_a[1 if slope > 0.0 else 0] - current) <= beat_w:
            return 0.0, 0.0, voltage
        # Power by current, times g: close to an exponential of the junction voltage, kind to Newton's method.
        step = -g * slope / (dg * slope - g * g * (2.0 * first + current * second))
        if abs(step) < _LAST_STEP_V:
            more = -slope / (2.0 * first + current * second)
            current, total = current + more, total + first * more
            break
        if high - low < _NARROW_V:
            break
        voltage = voltage + step if low < voltage + step < high else 0.5 * (low + high)
    return current, total, voltage


@njit(cache=True)
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
    stop = levels.shape[0]
    best_power, best_current, left, bypassed, about_v = 0.0, 0.0, 0.0, 0.0, 0.0
    for row in range(stop):
        levels[row, LAST] = levels[row, OPEN]
        about_v += 0.8 * levels[row, COUNT] * levels[row, LAST]
    for active in range(stop):
        right = levels[active, TAKEOVER]
        count, slope = levels[active, COUNT], levels[active, SLOPE]
        high = levels[active, LAST]
        skip = right - left < 1e-12
        if active > 0 and not skip:
            high, _ = _settle_junction(left, levels, active)
            _, total, first, _, _, _ = _at_junction(high, active, stop, bypassed, levels, wire_ohm)
            if total < least_v or total <= 0.0:
                break
            about_v = total
            skip = total + left * first <= 0.0 or total * right <= best_power
        if not skip:
            low = right * levels[active, SERIES] - BYPASS_V
            # Where power peaks, g is about current over voltage.
            levels[active, LAST] = slope * np.log(slope * count * 0.95 * right / (about_v * levels[active, DARK]))
            current, total, voltage = _peak_between(
                (left, right), low, high, best_power, active, stop, bypassed, levels, wire_ohm
            )
            if current > 0.0 and total < least_v:
                levels[active, LAST] = 0.5 * (voltage + high)
                current, _, _ = _hold_voltage(least_v, voltage, high, active, stop, bypassed, levels, wire_ohm)
                total = least_v
            if current * total > best_power:
                best_power, best_current = current * total, current
        bypassed += count
        left = right
    return best_power, best_current


@njit(cache=True)
def _parallel_at(
    voltage: float, offsets: Ints, actives: Ints, bypassed: Floats, levels: Floats
) -> tuple[float, float, float]:
    """Return the summed current of parallel strings at their common voltage, and its first two derivatives by it."""
    current, first, second = 0.0, 0.0, 0.0
    for s in range(actives.size):
        active = actives[s]
        low = levels[active, TAKEOVER] * levels[active, SERIES] - BYPASS_V - 1.0
        high = max(voltage + BYPASS_V * bypassed[s], levels[active, OPEN]) + 1.0
        amps, by_voltage, by_voltage_2 = _hold_voltage(
            voltage, low, high, active, offsets[s + 1], bypassed[s], levels, 0.0
        )
        current += amps
        first += by_voltage
        second += by_voltage_2
    return current, first, second


@njit(cache=True)
def _seek_parallel(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
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
        last_step_v = _LAST_STEP_V if hold == 0 else 1e-11
        for _ in range(_ITERATIONS):
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
            if high - low < _NARROW_V:
                break
            voltage = voltage + step if low < voltage + step < high else 0.5 * (low + high)
        if voltage - current * wire_ohm >= least_v:
            break
        low, high = voltage, top
        voltage = min(least_v + current * wire_ohm, 0.5 * (low + high))
    return voltage, current


@njit(cache=True)
def parallel_peak(  # noqa: C901 - one search, compiled
    levels: Floats, offsets: Ints, wire_ohm: float, least_v: float, string_current_a: Floats
) -> float:
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
    strings = offsets.size - 1
    edges = np.empty(levels.shape[0])
    actives, bypassed = np.empty(strings, np.int64), np.empty(strings)
    for row in range(levels.shape[0]):
        levels[row, LAST] = levels[row, OPEN]
    right = 0.0
    for s in range(strings):
        rows = levels[offsets[s] : offsets[s + 1]]
        right = max(right, string_voltage_v(0.0, rows))
        for row in range(rows.shape[0]):
            edges[offsets[s] + row] = string_voltage_v(rows[row, TAKEOVER], rows)
    best_power = 0.0
    for edge in np.sort(edges)[::-1]:
        left = max(edge, 0.0)
        if right - left < 1e-9:
            continue
        if right <= least_v:
            break
        for s in range(strings):
            active, bypassed[s] = offsets[s], 0.0
            while active < offsets[s + 1] - 1 and edges[active] > 0.5 * (left + right):
                bypassed[s] += levels[active, COUNT]
                active += 1
            actives[s] = active
            for row in range(active, offsets[s + 1]):
                levels[row, LAST] = 0.9 * levels[row, OPEN]
        voltage, current = _seek_parallel(
            max(left, least_v), right, least_v, best_power, offsets, actives, bypassed, levels, wire_ohm
        )
        input_v = voltage - current * wire_ohm
        if current > 0.0 and input_v > least_v - 1e-9 and current * input_v > best_power:
            best_power = current * input_v
            for s in range(strings):
                string_current_a[s] = _parallel_at(
                    voltage, offsets[s : s + 2], actives[s : s + 1], bypassed[s : s + 1], levels
                )[0]
        right = left
    return best_power
