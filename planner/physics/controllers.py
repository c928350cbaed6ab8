"""Wire from panel to controller, and what the controller makes of its input."""

from __future__ import annotations

from typing import Final

from numba import njit

COPPER_OHM_MM2_PER_M: Final = 0.017241  # ohm mm2/m at 20 C, annealed copper, IEC 60028


@njit(cache=True)
def wire_resistance_ohm(length_m: float, section_mm2: float) -> float:
    """Return the resistance of a pair of copper wires, there and back.

    Parameters
    ----------
    length_m : float
        One way [m].
    section_mm2 : float
        Copper of one wire [mm2].

    Returns
    -------
    float
        [ohm].
    """
    return float(2.0 * length_m * COPPER_OHM_MM2_PER_M / section_mm2)


@njit(cache=True)
def output_power_w(input_power_w: float, efficiency: float, max_output_a: float, bus_v: float) -> float:
    """Return what a controller delivers: its efficiency's part of the input, up to its current limit.

    Parameters
    ----------
    input_power_w : float
        At its input terminals [W].
    efficiency : float
        Output over input [0..1].
    max_output_a, bus_v : float
        Output limit and the voltage it charges at [A, V].

    Returns
    -------
    float
        [W], never negative.
    """
    return float(max(0.0, min(efficiency * input_power_w, max_output_a * bus_v)))
