"""Cell temperature from light, air and wind, by how the panel is mounted."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

# King, Boyson and Kratochvil 2004, Sandia SAND2004-3535, table of a [1], b [s/m], cell over back at 1000 W/m2 [K].
# Wind was measured at 10 m ashore, over modules near the ground; the wind at a panel's own height in its place leaves
# the cells warm by some kelvin rather than cold. "Ventilated" is its close roof mount; canvas and deck are its
# insulated back.
MOUNTINGS: Final = MappingProxyType(
    {
        "open": (-3.56, -0.0750, 3.0),
        "ventilated": (-2.98, -0.0471, 1.0),
        "on_canvas": (-2.81, -0.0455, 0.0),
        "on_deck": (-2.81, -0.0455, 0.0),
    }
)


def cell_temperature_c(
    poa_w_m2: npt.ArrayLike,
    air_temp_c: npt.ArrayLike,
    wind_m_s: npt.ArrayLike,
    *,
    heat: npt.ArrayLike,
    wind_per_s_m: npt.ArrayLike,
    cell_over_back_c: npt.ArrayLike,
) -> Floats:
    """Return the cell temperature.

    King et al. 2004, SAND2004-3535, equations 11 and 12.

    Parameters
    ----------
    poa_w_m2 : array_like (...)
        Irradiance in the plane of the panel [W/m2].
    air_temp_c : array_like (...)
        Air [degree Celsius].
    wind_m_s : array_like (...)
        Wind over the panel [m/s].
    heat, wind_per_s_m, cell_over_back_c : array_like (...)
        The mounting's a [1], b [s/m] and temperature step at 1000 W/m2 [K].

    Returns
    -------
    array (...)
        [degree Celsius].
    """
    poa = np.asarray(poa_w_m2, dtype=np.float64)
    warming = np.exp(np.asarray(heat) + np.asarray(wind_per_s_m) * np.asarray(wind_m_s))
    return np.asarray(air_temp_c + poa * (warming + np.asarray(cell_over_back_c) / 1000.0), dtype=np.float64)
