"""Current-voltage curves as points: of a substring from its cells' light, of strings in series and in parallel.

A curve is two rows, currents that rise and voltages that fall, read linearly between points. A substring's points lie
where the junction of its dimmest cell stands at chosen voltages, dense about the knee; all its cells are in them.
Points serve to find about where the best voltage lies; ``tracking`` then solves the equations there.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from planner.domain.arrays import Floats, Ints
from planner.physics.strings.cell import BREAKDOWN_V, FAST, junction, leak
from planner.physics.strings.tables import COUNT, DARK, LEAST_V, LIGHT, SERIES, SHUNT, SLOPE

BYPASS_V: Final = 0.5  # V, forward drop of a bypass diode that carries the string (common practice, recalled)
AMPS, VOLTS = 0, 1
"""Rows of a curve."""
# 1; how far below open circuit the dimmest junction stands, over its slope: the current that its diode carries falls
# by a factor of e from one to the next. Those above open circuit take current from other strings.
_BELOW_OPEN: Final = np.array([-1.6, 0.0, 0.7, 1.3, 1.8, 2.2, 2.6, 3.0, 3.5, 4.2, 6.0])
_CARRIED: Final = np.exp(-_BELOW_OPEN)
# 1, of the breakdown's voltage, where the dimmest cell stands in reverse
_IN_REVERSE: Final = np.array([0.0, 0.1, 0.35, 0.7, 0.9, 0.98, 0.9995])
_KNEE: Final = np.exp(-np.array([1.3, 2.2, 3.0, 4.2, 7.0]))  # 1; those of a brighter cell, the dimmest in reverse
_BRIGHTER: Final = 2  # levels beside the dimmest that have points of their own
_FEW: Final = 0.2  # 1; of what a diode carries, beyond which three terms of its logarithm's series are few
_THIRD: Final = 1.0 / 3.0
MOST_POINTS: Final = _BELOW_OPEN.size + _IN_REVERSE.size + _BRIGHTER * _KNEE.size
"""On the curve of one cell string."""


@njit(cache=True, error_model="numpy", fastmath=FAST)
def _rough_junction(current_a: float, light_a: float, dark_a: float, slope_v: float, shunt: float) -> float:
    """Return a cell's junction voltage, to some 1e-5 V where it stands well forward."""
    room = light_a + dark_a - current_a
    if room > 0.02 * light_a:
        alone = slope_v * np.log(room / dark_a)
        return float(alone - slope_v * shunt * alone / (room + shunt * slope_v))
    return float(junction(current_a, light_a, dark_a, slope_v, shunt)[0])


@njit(cache=True, error_model="numpy", fastmath=FAST)
def cell_string_curve(  # noqa: C901, PLR0912, PLR0915, PLR0917 - one loop, compiled; no keyword-only arguments
    n: int, b: int, q: int, times: float, levels: Floats, substrings: Floats, curve: Floats
) -> int:
    """Fill the curve of equal strings of cells side by side; return how many points it has.

    Parameters
    ----------
    n, b, q : int
        Node, substring, string of cells.
    times : float
        How many strings like it there are [1].
    levels, substrings
        See ``tables``.
    curve : array (2, point)
        Filled; it ends where the bypass diode takes over.
    """
    dark, slope, series = substrings[n, b, DARK], substrings[n, b, SLOPE], substrings[n, b, SERIES]
    least_v = substrings[n, b, LEAST_V]
    light, shunt, alike = levels[n, q, LIGHT, 0], levels[n, q, SHUNT, 0], levels[n, q, COUNT, 0]
    count = int(levels[n, q, LIGHT, -1])
    knees = min(count - 1, _BRIGHTER) * _KNEE.size
    opened = slope * np.log1p(light / dark)
    used = 0
    for k in range(_BELOW_OPEN.size):
        voltage = opened - _BELOW_OPEN[k] * slope
        if voltage > 0.0:
            current = light + dark - (light + dark) * _CARRIED[k] - shunt * voltage
            curve[AMPS, used], curve[VOLTS, used] = current, alike * (voltage - current * series)
            used += 1
    for level in range(1, count):
        bright, leaks, cells = levels[n, q, LIGHT, level], levels[n, q, SHUNT, level], levels[n, q, COUNT, level]
        room, over = 1.0, 0.0
        for point in range(used):
            current = curve[AMPS, point]
            # what the diode carries less than when it was last solved, of that
            less = 1.0 - (bright + dark - current) / room
            step = less * (1.0 + less * (0.5 + less * _THIRD)) * slope
            if point == 0 or abs(less) > _FEW:
                room, step = bright + dark - current, 0.0
                over = _rough_junction(current, bright, dark, slope, leaks)
            curve[VOLTS, point] += cells * (over - step - current * series)
    before_a, before_v, before_over = curve[AMPS, used - 1], curve[VOLTS, used - 1], np.inf
    for point in range(used):
        curve[AMPS, point] *= times
    k, knee = 0, 0
    while k < _IN_REVERSE.size:
        voltage = _IN_REVERSE[k] * BREAKDOWN_V
        k += 1
        if knee < knees:
            level, carried = 1 + knee // _KNEE.size, _KNEE[knee % _KNEE.size]
            bright = levels[n, q, LIGHT, level] + dark
            current = bright * (1.0 - carried)
            current -= levels[n, q, SHUNT, level] * slope * np.log(bright * carried / dark)
            about = (light - current) / shunt
            if least_v < BREAKDOWN_V:  # no bypass diode stops the cell short of its breakdown
                about = junction(current, light, dark, slope, shunt)[0]
            if about > voltage:  # a brighter cell's knee comes first
                knee += 1
                k -= 1
                if about >= min(before_over, 0.0):
                    continue
                voltage = about
        before_over = voltage
        current = light + dark - dark * np.exp(voltage / slope) - leak(voltage, shunt)[0]
        total = alike * (voltage - current * series)
        for level in range(1, count):
            other = _rough_junction(current, levels[n, q, LIGHT, level], dark, slope, levels[n, q, SHUNT, level])
            total += levels[n, q, COUNT, level] * (other - current * series)
        if total <= least_v:
            # the point where the diode takes over, read between this one and the last
            current = before_a + (before_v - least_v) / (before_v - total) * (current - before_a)
            total = least_v
        curve[AMPS, used], curve[VOLTS, used] = times * current, total
        used += 1
        if total <= least_v:
            break
        before_a, before_v = current, total
    return used


@njit(cache=True, error_model="numpy", fastmath=FAST)
def add_in_series(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    n: int, s: int, parts: Floats, curves: Floats, points: Ints, least_v: float, places: Ints, total: Floats
) -> int:
    """Fill the curve of a string, its parts in series; return how many points it has.

    Parameters
    ----------
    n, s : int
        Node and string.
    parts
        See ``tables``.
    curves : array (node, substring, 2, point)
        Of each substring; one that has come to its end keeps its last voltage.
    points : int array (node, substring)
        How many points each has.
    least_v : float
        Voltage below which no more points are wanted [V].
    places : int array (part,)
        Room to work in.
    total : array (2, point)
        Filled.
    """
    count = int(parts[n, s, 0, 0])
    used = 0
    if count == 1:
        b, times = int(parts[n, s, 1, 0]), parts[n, s, 1, 1]
        for point in range(points[n, b]):
            total[AMPS, point], total[VOLTS, point] = curves[n, b, AMPS, point], times * curves[n, b, VOLTS, point]
            used += 1
            if total[VOLTS, point] < least_v and point > 0:
                break
        return used
    current = -np.inf
    for part in range(count):
        places[part] = 0
        current = max(current, curves[n, int(parts[n, s, part + 1, 0]), AMPS, 0])
    while True:
        voltage = 0.0
        following = np.inf
        for part in range(count):
            b, at = int(parts[n, s, part + 1, 0]), places[part]
            last = points[n, b] - 1
            while at < last and curves[n, b, AMPS, at + 1] <= current:
                at += 1
            places[part] = at
            volts = curves[n, b, VOLTS, at]
            if at < last:
                ahead_a, ahead_v = curves[n, b, AMPS, at + 1], curves[n, b, VOLTS, at + 1]
                here = curves[n, b, AMPS, at]
                volts += (current - here) / (ahead_a - here) * (ahead_v - volts)
                following = min(following, ahead_a)
            voltage += parts[n, s, part + 1, 1] * volts
        total[AMPS, used], total[VOLTS, used] = current, voltage
        used += 1
        if following == np.inf or (voltage < least_v and used > 1) or used == total.shape[1]:
            return used
        current = following


@njit(cache=True, error_model="numpy", fastmath=FAST)
def add_in_parallel(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    curves: Floats, points: Ints, count: int, wire_ohm: float, places: Ints, total: Floats
) -> int:
    """Fill the curve of parts in parallel behind a common wire; return how many points it has.

    Parameters
    ----------
    curves : array (part, 2, point)
        Of each part.
    points : int array (part,)
        How many points each has.
    count : int
        How many parts there are.
    wire_ohm : float
        That all their current passes [ohm].
    places : int array (part,)
        Room to work in.
    total : array (2, point)
        Filled, between the highest and the lowest voltage that all parts reach.
    """
    voltage, lowest = np.inf, -np.inf
    for part in range(count):
        places[part] = 0
        voltage = min(voltage, curves[part, VOLTS, 0])
        lowest = max(lowest, curves[part, VOLTS, points[part] - 1])
    used = 0
    while True:
        current = 0.0
        following = -np.inf
        for part in range(count):
            at, last = places[part], points[part] - 1
            while at < last and curves[part, VOLTS, at + 1] >= voltage:
                at += 1
            places[part] = at
            amps = curves[part, AMPS, at]
            if at < last:
                ahead_a, ahead_v = curves[part, AMPS, at + 1], curves[part, VOLTS, at + 1]
                here = curves[part, VOLTS, at]
                amps += (here - voltage) / (here - ahead_v) * (ahead_a - amps)
                following = max(following, ahead_v)
            current += amps
        total[AMPS, used], total[VOLTS, used] = current, voltage - current * wire_ohm
        used += 1
        if voltage <= lowest or following == -np.inf or used == total.shape[1]:
            return used
        voltage = max(following, lowest)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def current_at(voltage: float, curve: Floats, points: int) -> float:
    """Return the current of a curve at a voltage, the nearest end's beyond it [A].

    Parameters
    ----------
    voltage : float
        [V].
    curve : array (2, point)
        Currents that rise, voltages that fall.
    points : int
        How many it has.
    """
    low, high = 0, points - 1
    if voltage >= curve[VOLTS, low]:
        return float(curve[AMPS, low])
    if voltage <= curve[VOLTS, high]:
        return float(curve[AMPS, high])
    while high - low > 1:
        middle = (low + high) // 2
        if curve[VOLTS, middle] > voltage:
            low = middle
        else:
            high = middle
    here, ahead = curve[VOLTS, low], curve[VOLTS, high]
    return float(curve[AMPS, low] + (here - voltage) / (here - ahead) * (curve[AMPS, high] - curve[AMPS, low]))
