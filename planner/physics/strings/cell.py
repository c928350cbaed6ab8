"""One cell, forward and in reverse: its junction's voltage at a current, and how fast that falls.

The single-diode equation with a shunt whose leak grows toward breakdown when the cell is driven in reverse, after
Bishop 1988, doi:10.1016/0379-6787(88)90059-2. A dim cell in a string stands in reverse as soon as the others drive
more current through it than its own light makes.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

FAST: Final = {"arcp", "contract", "nsz"}
"""What the compiler may do in this room: take reciprocals and fused steps, whose last digits differ."""
BREAKDOWN_V: Final = -15.0  # V over the junction, crystalline silicon (recalled)
BREAKDOWN_PART: Final = 2e-3  # 1, of the shunt's leak that takes part in it, crystalline silicon (recalled)
BREAKDOWN_EXPONENT: Final = 3  # 1, crystalline silicon (recalled); written out as a cube below
_ITERATIONS: Final = 100
_NEAR_V: Final = 1e-9  # V; the last step of Newton's method, whose square is the miss
_SMALL_PART: Final = 0.04  # 1, of what diode and shunt carry: the series' next term is then a hundred millionth
_THIRD: Final = 1.0 / 3.0


@njit(cache=True, error_model="numpy", fastmath=FAST)
def leak(voltage: float, shunt: float) -> tuple[float, float, float]:
    """Return what a junction leaks beside its diode, and the first two derivatives by voltage.

    Parameters
    ----------
    voltage : float
        Over the junction, above the breakdown's [V].
    shunt : float
        Conductance [S].

    Returns
    -------
    amps, first, second : float
        [A, S, S/V].
    """
    if voltage >= 0.0:
        return shunt * voltage, shunt, 0.0
    room = 1.0 - voltage / BREAKDOWN_V
    grown = BREAKDOWN_PART / (room * room * room)
    by_room = BREAKDOWN_EXPONENT * grown / (room * BREAKDOWN_V)  # d grown / d voltage
    bend = (BREAKDOWN_EXPONENT + 1.0) * by_room / (room * BREAKDOWN_V)
    return (
        shunt * voltage * (1.0 + grown),
        shunt * (1.0 + grown + voltage * by_room),
        shunt * (2.0 * by_room + voltage * bend),
    )


@njit(cache=True, error_model="numpy", fastmath=FAST)
def junction(
    current_a: float, light_a: float, dark_a: float, slope_v: float, shunt: float
) -> tuple[float, float, float]:
    """Return the voltage over a cell's junction at a current, and its first two derivatives by the current.

    Parameters
    ----------
    current_a : float
        Through the cell [A].
    light_a, dark_a : float
        Light and saturation current [A].
    slope_v : float
        Ideality x thermal voltage [V].
    shunt : float
        Conductance [S].

    Returns
    -------
    voltage, first, second : float
        To some 1e-9 V [V, V/A, V/A2].
    """
    room = light_a + dark_a - current_a
    leaked, leaks, bends = 0.0, shunt, 0.0
    forward = False
    if room > dark_a:
        # the diode alone would carry `room`; of that the shunt takes a part, whose logarithm is a short series
        voltage = slope_v * np.log(room / dark_a)
        by_room = 1.0 / room
        part = shunt * voltage * by_room
        forward = part < _SMALL_PART
        if forward:
            alone = voltage
            part *= 1.0 - shunt * slope_v * by_room
            for _ in range(2):
                voltage = alone - slope_v * part * (1.0 + part * (0.5 + part * (_THIRD + 0.25 * part)))
                part = shunt * voltage * by_room
            leaked = shunt * voltage
    elif room > 0.0:
        voltage = slope_v * np.log1p(room / dark_a)
    else:
        voltage = room / shunt
        pushed = BREAKDOWN_PART * shunt * -BREAKDOWN_V / -room
        if pushed < 1.0:
            voltage = max(voltage, BREAKDOWN_V * (1.0 - np.cbrt(pushed)))
    diode = room - leaked
    if not forward:
        for _ in range(_ITERATIONS):
            diode = dark_a * np.exp(voltage / slope_v)
            leaked, leaks, bends = leak(voltage, shunt)
            step = (room - diode - leaked) / (diode / slope_v + leaks)
            step = min(step, slope_v) if voltage > 0.0 else step  # from the left the exponential is still flat
            # never over the breakdown's voltage
            voltage = max(voltage + step, voltage + 0.7 * (BREAKDOWN_V - voltage))
            if abs(step) < _NEAR_V:
                break
    along = 1.0 / (diode + leaks * slope_v)
    bend = slope_v * along * along * along
    return voltage, -slope_v * along, -(diode + bends * slope_v * slope_v) * bend
