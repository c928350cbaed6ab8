"""A single diode: how its figures move with light and temperature, and its maximum power."""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

BOLTZMANN_EV_K: Final = 8.617333262e-5  # eV/K, CODATA 2018, exact quotient of exact constants
REFERENCE_K: Final = 298.15  # K, standard test conditions, IEC 60904-3
REFERENCE_W_M2: Final = 1000.0  # W/m2, the same
BAND_GAP_EV: Final = 1.121  # eV, silicon at 25 C, De Soto et al. 2006
BAND_GAP_PER_K: Final = -0.0002677  # 1/K, the same
LEAST_LIGHT_W_M2: Final = 1e-3  # W/m2, darker than any night; keeps the shunt's resistance finite


@njit(cache=True, error_model="numpy")
def dark_growth(temp_c: float) -> float:
    """Return saturation current at a cell temperature over that at 25 C: De Soto et al. 2006, equations 10 and 11.

    Parameters
    ----------
    temp_c : float
        Cells [degree Celsius].

    Returns
    -------
    float
        [1].
    """
    kelvin = temp_c + 273.15
    gap = BAND_GAP_EV * (1.0 + BAND_GAP_PER_K * (kelvin - REFERENCE_K))
    exponent = (BAND_GAP_EV / REFERENCE_K - gap / kelvin) / BOLTZMANN_EV_K
    return float((kelvin / REFERENCE_K) ** 3 * np.exp(exponent))


@njit(cache=True, error_model="numpy")
def at_conditions(
    light_a: float,
    dark_a: float,
    slope_v: float,
    light_a_per_c: float,
    temp_c: float,
) -> tuple[float, float, float]:
    """Return light current at 1000 W/m2, saturation current and slope at a cell temperature: De Soto et al. 2006.

    The light current and the shunt's conductance go with the irradiance; the series resistance stays.

    Parameters
    ----------
    light_a, dark_a, slope_v, light_a_per_c : float
        Figures at 1000 W/m2 and 25 C [A, A, V, A/K].
    temp_c : float
        Cells [degree Celsius].

    Returns
    -------
    light_a, dark_a, slope_v : float
        [A, A, V].
    """
    return (
        light_a + light_a_per_c * (temp_c - 25.0),
        dark_a * dark_growth(temp_c),
        slope_v * (temp_c + 273.15) / REFERENCE_K,
    )


@njit(cache=True, error_model="numpy")
def peak_power_w(light: float, dark: float, slope_v: float, series: float, shunt: float) -> float:
    """Return the maximum power of a single diode circuit, by bisection on its junction voltage.

    Parameters
    ----------
    light, dark : float
        Light and saturation current [A].
    slope_v : float
        Ideality x cells x thermal voltage [V].
    series, shunt : float
        Series resistance and shunt conductance [ohm, S].

    Returns
    -------
    float
        [W].
    """
    low, high = 0.0, slope_v * np.log1p(light / dark)
    voltage, current = 0.0, 0.0
    for _ in range(60):
        over = 0.5 * (low + high)
        diode = dark * np.exp(over / slope_v)
        current = light + dark - diode - shunt * over
        g = diode / slope_v + shunt
        voltage = over - current * series
        if voltage * g < current * (1.0 + series * g):
            low = over
        else:
            high = over
    return float(voltage * current)
