"""Wire from panel to controller, and what the controller makes of its input."""

from __future__ import annotations

from typing import Final

from numba import njit

from planner.domain.arrays import Floats

COPPER_OHM_MM2_PER_M: Final = 0.017241  # ohm mm2/m at 20 C, annealed copper, IEC 60028


@njit(cache=True, error_model="numpy")
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


@njit(cache=True, error_model="numpy")
def output_power_w(input_power_w: float, load: Floats, efficiency: Floats, rated_w: float) -> float:
    """Return what a controller delivers: its efficiency's part of the input, up to its rated output.

    Parameters
    ----------
    input_power_w : float
        At its input terminals [W].
    load : array (node,)
        Input over rated output, rising [1].
    efficiency : array (node,)
        Output over input at each load, read linearly between and held at the ends [0..1].
    rated_w : float
        The most that it delivers [W].

    Returns
    -------
    float
        [W], never negative.
    """
    at = input_power_w / rated_w
    node = 0
    while node < load.size - 1 and at > load[node + 1]:
        node += 1
    part = efficiency[node]
    if node < load.size - 1 and at > load[node]:
        part += (efficiency[node + 1] - part) * (at - load[node]) / (load[node + 1] - load[node])
    return float(max(0.0, min(part * input_power_w, rated_w)))
