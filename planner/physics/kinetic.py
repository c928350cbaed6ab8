"""The kinetic two-well model: of a lead bank's charge, part is at hand and the rest follows at a limited rate.

Manwell and McGowan, Solar Energy 50 (1993) 399. The wells hold y1 = c h1 and y2 = (1 - c) h2 of charge, and current I
(positive discharging) is drawn from the first. With their gap d = h2 - h1 and the total q = y1 + y2,

    d' = I / c - k d,        y1 = c (q - (1 - c) d),

so a bank counts as empty at y1 = 0 although q is left: rate limits what is available, not what is stored. Charge is
reckoned here over the rated capacity, that of a 20-hour discharge; the wells hold a little more.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

RATED_HOURS: Final = 20.0  # h; lead capacities are rated over (IEC 60095-1, recalled)


@njit(cache=True, error_model="numpy")
def spare_charge(available_fraction: float, flow_per_h: float) -> float:
    """Return what the wells hold beyond the rated capacity, over it: what a 20-hour discharge leaves behind.

    Parameters
    ----------
    available_fraction : float
        Share of the first well, c; 1 leaves nothing [1].
    flow_per_h : float
        Rate at which the wells level, k [1/h].

    Returns
    -------
    float
        [1].
    """
    decay = np.exp(-flow_per_h * RATED_HOURS)
    left = (1.0 - available_fraction) * (1.0 - decay) / (available_fraction * flow_per_h * RATED_HOURS)
    return float(left)


@njit(cache=True, error_model="numpy")
def at_hand_rate(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, gap: float, step_h: float, available_fraction: float, flow_per_h: float, spare: float
) -> float:
    """Return the discharging current, over rated capacity, that empties the first well just at the end of a step.

    Parameters
    ----------
    soc : float
        Charge over rated capacity at the start [0..1].
    gap : float
        d at the start, over rated capacity [1].
    step_h : float
        Step [h].
    available_fraction, flow_per_h : float
        c and k [1, 1/h].
    spare : float
        From ``spare_charge`` [1].

    Returns
    -------
    float
        Never negative [1/h].
    """
    decay = np.exp(-flow_per_h * step_h)
    left = 1.0 - available_fraction
    held = soc + spare - left * gap * decay
    return float(max(held, 0.0) / (step_h + left * (1.0 - decay) / (available_fraction * flow_per_h)))


@njit(cache=True, error_model="numpy")
def next_gap(gap: float, rate: float, step_h: float, available_fraction: float, flow_per_h: float) -> float:
    """Return the gap between the wells after a step of constant current.

    Parameters
    ----------
    gap : float
        d at the start, over rated capacity [1].
    rate : float
        Current over rated capacity, positive discharging [1/h].
    step_h, available_fraction, flow_per_h
        As for ``at_hand_rate``.

    Returns
    -------
    float
        [1].
    """
    decay = np.exp(-flow_per_h * step_h)
    return float(gap * decay + rate * (1.0 - decay) / (available_fraction * flow_per_h))
