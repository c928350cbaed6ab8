"""Rows of equal substrings, one substring's voltage, and a string's voltage with its derivatives.

A *level* is a number of equal substrings under equal light. Its row holds, for one substring: light current [A],
saturation current [A], thermal slope [V] (ideality x cells x thermal voltage), series resistance [ohm], shunt
conductance [S], how many there are [1], the current [A] at which its bypass diode takes over, the open-circuit
voltage without the shunt [V], and room for the junction voltage last found [V]. Rows of a string rise by take-over
current.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from planner.domain.arrays import Floats

BYPASS_V: Final = 0.5  # V, forward drop of a bypass diode carrying the string (common practice, recalled)
LIGHT, DARK, SLOPE, SERIES, SHUNT, COUNT, TAKEOVER, OPEN, LAST = 0, 1, 2, 3, 4, 5, 6, 7, 8
COLUMNS: Final = 9
ITERATIONS: Final = 200
# V; Newton's method squares its error, so a last step of this size leaves some 1e-12 V.
LAST_STEP_V: Final = 1e-6
NARROW_V: Final = 1e-12  # V; a bracket this narrow has closed on one of its ends
# 1; a step of second order cubes its error, over the slope: the voltage is then right to some 1e-13 V.
SETTLED: Final = 1e-4
_FAR_FROM_SHORT: Final = (
    0.02  # 1, part of the light current that the diode must carry for its logarithm to be a start
)


@njit(cache=True, error_model="numpy")
def complete_row(levels: Floats, row: int) -> None:
    """Fill a row's take-over current and open-circuit voltage from the five figures before them.

    At take-over the substring's voltage has fallen to minus the bypass drop. Its junction is then far below the
    slope, so the take-over current is found as if the diode's exponential were zero.

    Parameters
    ----------
    levels : array (level, COLUMNS)
        Rows [A, A, V, ohm, S, 1, A, V, V].
    row : int
        Which.
    """
    light, dark, shunt = levels[row, LIGHT], levels[row, DARK], levels[row, SHUNT]
    levels[row, TAKEOVER] = (light + dark + BYPASS_V * shunt) / (1.0 + levels[row, SERIES] * shunt)
    levels[row, OPEN] = levels[row, SLOPE] * np.log1p(light / dark)
    levels[row, LAST] = levels[row, OPEN]


@njit(cache=True, error_model="numpy")
def start_junction(current_a: float, levels: Floats, row: int) -> None:
    """Put a row's junction voltage near that at a current: the diode's logarithm, its shunt taken as nearly full.

    Parameters
    ----------
    current_a : float
        Through the substring [A].
    levels : array (level, COLUMNS)
        Rows.
    row : int
        Which.
    """
    light, slope, opened = levels[row, LIGHT], levels[row, SLOPE], levels[row, OPEN]
    flow = light - current_a + levels[row, DARK] - 0.9 * opened * levels[row, SHUNT]
    levels[row, LAST] = (
        slope * np.log(flow / levels[row, DARK]) if flow > _FAR_FROM_SHORT * light else opened - 4.0 * slope
    )


@njit(cache=True, error_model="numpy")
def settle_junction(current_a: float, levels: Floats, row: int) -> float:
    """Return a substring's junction voltage at a current, sought from the voltage last found.

    Parameters
    ----------
    current_a : float
        Through the substring [A].
    levels : array (level, COLUMNS)
        Rows; the junction voltage last found is replaced.
    row : int
        Which.

    Returns
    -------
    float
        [V].
    """
    dark, slope, shunt = levels[row, DARK], levels[row, SLOPE], levels[row, SHUNT]
    flow = levels[row, LIGHT] - current_a + dark
    voltage = levels[row, LAST]
    for _ in range(ITERATIONS):
        diode = dark * np.exp(voltage / slope)
        step = (flow - diode - shunt * voltage) / (diode / slope + shunt)
        # From the left the exponential is still flat and the step far too long.
        step = min(step, slope)
        voltage += step
        if abs(step) < LAST_STEP_V:
            break
    levels[row, LAST] = voltage
    return float(voltage)


@njit(cache=True, error_model="numpy")
def substring_voltage_v(current_a: float, levels: Floats, row: int) -> float:
    """Return the voltage of one substring at a current: the single-diode equation, and its bypass diode.

    Parameters
    ----------
    current_a : float
        Through the substring [A].
    levels : array (level, COLUMNS)
        Rows; the junction voltage last found is replaced.
    row : int
        Which.

    Returns
    -------
    float
        [V].
    """
    if current_a >= levels[row, TAKEOVER]:
        return -BYPASS_V
    start_junction(current_a, levels, row)
    return float(max(settle_junction(current_a, levels, row) - current_a * levels[row, SERIES], -BYPASS_V))


@njit(cache=True, error_model="numpy")
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


@njit(cache=True, error_model="numpy")
def at_junction(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    voltage: float, active: int, stop: int, bypassed: float, levels: Floats, wire_ohm: float
) -> tuple[float, float, float, float, float, float, float]:
    """Return a string's current and voltage where its active level stands at a junction voltage.

    The active level is the dimmest that still carries the string. The brighter ones take one step of second order
    toward its current; where that step was not short, the figures are not settled and the call is to be repeated.

    Parameters
    ----------
    voltage : float
        Over the active level's junctions, one substring [V].
    active, stop : int
        The active row, and the end of the brighter ones after it.
    bypassed : float
        Number of dimmer substrings [1].
    levels : array (level, COLUMNS)
        Rows; the junction voltages of the brighter ones are replaced.
    wire_ohm : float
        Resistance between string and controller [ohm].

    Returns
    -------
    current, total, first, second : float
        Current, voltage at the end of the wire and its first two derivatives by current [A, V, V/A, V/A2].
    g, dg : float
        Conductance of the active level's junction and its derivative by voltage [S, S/V].
    unsettled : float
        Longest step taken by a brighter level, over its slope [1].
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
    unsettled = 0.0
    for row in range(active + 1, stop):
        count, series = levels[row, COUNT], levels[row, SERIES]
        slope, shunt, over = levels[row, SLOPE], levels[row, SHUNT], levels[row, LAST]
        diode = levels[row, DARK] * np.exp(over / slope)
        conductance = diode / slope + shunt
        step = (levels[row, LIGHT] + levels[row, DARK] - diode - shunt * over - current) / conductance
        step = min(max(step, -slope), slope)
        unsettled = max(unsettled, abs(step) / slope)
        step -= 0.5 * step * step * diode / (slope * slope * conductance)
        over += step
        levels[row, LAST] = over
        rise = step / slope
        diode *= 1.0 + rise * (1.0 + rise * (0.5 + rise / 6.0))
        resistance = 1.0 / (diode / slope + shunt)
        total += count * (over - current * series)
        first -= count * (resistance + series)
        second -= count * diode / (slope * slope) * resistance * resistance * resistance
    return current, total, first, second, g, dg, unsettled
