"""The input voltage that a controller holds over a roll: the best for the mean of all its nodes, or the upper peak.

No controller follows a roll of a few seconds: its search takes tens of them, so one voltage stands while the light
swings. Curves of points tell about where the best lies; Newton's method on the equations finds it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from planner.domain.arrays import Floats, Ints
from planner.physics.strings.cell import FAST
from planner.physics.strings.curves import AMPS, VOLTS, current_at
from planner.physics.strings.exact import Bend, string_current

_REFINEMENTS: Final = 16
_SETTLED: Final = 1e-5  # 1, of the voltage; the step from so near leaves a miss of third order
_ROUGH: Final = 5e-3  # 1, of the voltage; how near strings are solved for while the voltage is still on its way
_LAST_STEP_V: Final = 1e-3  # V; the step of second order from here leaves some 1e-8 of the diode's current
_MOST_PART: Final = 0.6  # 1; a falling exponential's is at most a half
_WINDOW: Final = 0.04  # 1, of the voltage about the best point in which the peak is sought
_OUTER: Final = 30
_ALONG: Final = 0.1  # 1, of how near strings are solved for; a miss behind the wire moves the sum along its slope


@njit(cache=True, error_model="numpy", fastmath=FAST)
def _best_point(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    weight: Floats, start: int, stop: int, least_v: float, upper: bool, curves: Floats, points: Ints, places: Ints
) -> float:
    """Return the point's voltage at which the mean power over nodes is highest, or 0 where none is reached."""
    voltage, most_a = 0.0, 0.0
    for n in range(start, stop):
        places[n] = 0
        voltage = max(voltage, curves[n, VOLTS, 0])
        most_a += weight[n] * curves[n, AMPS, points[n] - 1]
    best, best_v, last = 0.0, 0.0, 0.0
    while voltage >= least_v and voltage * most_a > best:  # no lower voltage can give more
        power, following = 0.0, 0.0
        for n in range(start, stop):
            at, end = places[n], points[n] - 1
            if voltage > curves[n, VOLTS, 0]:
                following = max(following, curves[n, VOLTS, 0])
                continue
            while at < end and curves[n, VOLTS, at + 1] >= voltage:
                at += 1
            places[n] = at
            current = curves[n, AMPS, at]
            if at < end:
                here, beyond = curves[n, VOLTS, at], curves[n, VOLTS, at + 1]
                current += (here - voltage) / (here - beyond) * (curves[n, AMPS, at + 1] - current)
                following = max(following, beyond)
            power += weight[n] * max(current, 0.0)
        power *= voltage
        if power > best:
            best, best_v = power, voltage
        if (upper and power < last) or voltage == least_v:
            break
        last, voltage = power, max(following, least_v)
    return best_v


@njit(cache=True, error_model="numpy", fastmath=FAST)
def _node_current(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    voltage: float,
    near_v: float,
    wire_ohm: float,
    n: int,
    first_string: int,
    strings: int,
    parts: Floats,
    levels: Floats,
    substrings: Floats,
    found: Floats,
) -> Bend:
    """Return a node's current at a voltage at the controller's input; its strings' are sought from and kept.

    Row 0 of ``found`` (node, 3, string) holds the strings' currents, 1 and 2 get the derivatives by the voltage.
    """
    if strings == 1:
        total, first, second = string_current(
            voltage, found[n, 0, 0], near_v, wire_ohm, n, first_string, parts, levels, substrings
        )
        found[n, 0, 0], found[n, 1, 0], found[n, 2, 0] = total, first, second
        return total, first, second
    total, first, second = 0.0, 0.0, 0.0
    for s in range(strings):
        total += found[n, 0, s]
    behind = voltage + total * wire_ohm
    for _ in range(_OUTER):
        total, first, second = 0.0, 0.0, 0.0
        for s in range(strings):
            own, by_volts, bend = string_current(
                behind, found[n, 0, s], near_v, 0.0, n, first_string + s, parts, levels, substrings
            )
            found[n, 0, s], found[n, 1, s], found[n, 2, s] = own, by_volts, bend
            total += own
            first += by_volts
            second += bend
        step = (voltage + total * wire_ohm - behind) / (1.0 - wire_ohm * first)
        behind += step
        for s in range(strings):
            found[n, 0, s] += step * found[n, 1, s]
        total += step * first
        if abs(step) < _ALONG * near_v:
            break
    along = 1.0 - wire_ohm * first
    first, second = first / along, second / (along * along * along)
    for s in range(strings):
        by_volts = found[n, 1, s] / along
        found[n, 2, s] = found[n, 2, s] / (along * along) + found[n, 1, s] * wire_ohm * second
        found[n, 1, s] = by_volts
    return total, first, second


@njit(cache=True, error_model="numpy", fastmath=FAST)
def held_voltage(  # noqa: C901, PLR0912, PLR0917 - one search, compiled; no keyword-only arguments
    weight: Floats,
    start: int,
    stop: int,
    wire_ohm: float,
    least_v: float,
    upper: bool,
    first_string: int,
    strings: int,
    inputs: Floats,
    input_points: Ints,
    string_curves: Floats,
    string_points: Ints,
    parts: Floats,
    levels: Floats,
    substrings: Floats,
    places: Ints,
    found: Floats,
) -> float:
    """Return the input voltage that a controller holds over nodes of the roll; 0 where it reaches none of use.

    Parameters
    ----------
    weight : array (node,)
        Of each node [1].
    start, stop : int
        The nodes over which the voltage is held.
    wire_ohm, least_v : float
        Wire that the strings share, voltage needed at its far end, above 0 [ohm, V].
    upper : bool
        Whether it stays on the first peak met from open circuit.
    first_string, strings : int
        The controller's strings.
    inputs, input_points
        Curves at the controller's input (node, 2, point), how many points each has (node,).
    string_curves, string_points
        Of each of the controller's strings at its own ends, (node, string, 2, point) and (node, string).
    parts, levels, substrings
        See ``tables``.
    places : int array (node,)
        Room to work in.
    found : array (node, 3, string)
        Row 0 is filled with the strings' currents, 0 at a node that gives nothing [A]; the others are room to work.
    """
    voltage = _best_point(weight, start, stop, least_v, upper, inputs, input_points, places)
    if voltage == 0.0:
        return 0.0
    low, high = max(least_v, (1.0 - _WINDOW) * voltage), (1.0 + _WINDOW) * voltage
    for n in range(start, stop):
        if strings == 1:
            found[n, 0, 0] = current_at(voltage, inputs[n], input_points[n])
            continue
        behind = voltage + current_at(voltage, inputs[n], input_points[n]) * wire_ohm
        for s in range(strings):
            found[n, 0, s] = current_at(behind, string_curves[n, s], string_points[n, s])
    low_met, high_met, near_v = False, False, _ROUGH * voltage
    for left in range(_REFINEMENTS, 0, -1):
        tilt, bend, twist = 0.0, 0.0, 0.0
        for n in range(start, stop):
            amps = 0.0
            if voltage < inputs[n, VOLTS, 0]:
                amps, by_volts, turn = _node_current(
                    voltage, near_v, wire_ohm, n, first_string, strings, parts, levels, substrings, found
                )
            if amps > 0.0:
                tilt += weight[n] * (amps + voltage * by_volts)
                bend += weight[n] * (2.0 * by_volts + voltage * turn)
                # the third derivative is that of an exponential
                twist += weight[n] * turn * (3.0 + voltage * turn / by_volts)
            else:
                found[n, :, :strings] = 0.0
        if near_v <= _LAST_STEP_V and tilt > 0.0:
            low, low_met = voltage, True
        elif near_v <= _LAST_STEP_V:
            high, high_met = voltage, True
        # Halley's step; where a bypass diode's corner throws it out of the bounds, to them or half way between
        part = min(max(0.5 * tilt * twist / (bend * bend), -1.0), _MOST_PART)
        step = -tilt / (bend * (1.0 - part)) if bend < 0.0 else np.copysign(np.inf, tilt)
        if voltage + step <= low:
            step = (0.5 * (low + high) if low_met else low) - voltage
        elif voltage + step >= high:
            step = (0.5 * (low + high) if high_met else high) - voltage
        settled = near_v <= _LAST_STEP_V and abs(step) < _SETTLED * voltage
        if left == 1 and not settled:
            break
        voltage += step
        # along the bends that were found, which leaves a miss of third order
        for n in range(start, stop):
            for s in range(strings):
                found[n, 0, s] += step * (found[n, 1, s] + 0.5 * step * found[n, 2, s])
        if settled:
            break
        near_v = _LAST_STEP_V
    return voltage
