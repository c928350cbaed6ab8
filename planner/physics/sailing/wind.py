"""The wind: read off a forecast grid, over moving water, and as it is felt on board."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.frames import locate

FORECAST_HEIGHT_M: Final = 10.0  # m above the surface, WMO-No. 8
LEAST_HEIGHT_M: Final = 0.1  # m; lower lies among the waves
PROFILE_EXPONENT: Final = 0.11  # 1, over the sea, Hsu, Meindl and Gilhousen 1994


class WindGrid(NamedTuple):
    """Wind over ground on a grid.

    Attributes
    ----------
    time_h : array (t,)
        Rising [h].
    lat_deg, lon_deg : array (y,), (x,)
        Rising; longitude runs on past 180 [degree].
    east_kn, north_kn : array (t, y, x)
        Toward east and north [kn].
    """

    time_h: Floats
    lat_deg: Floats
    lon_deg: Floats
    east_kn: Floats
    north_kn: Floats


@njit(cache=True)
def read_wind(grid: WindGrid, time_h: float, lat_deg: float, lon_deg: float) -> tuple[float, float]:
    """Return the wind at a time and place, linear in each of the three, held beyond the grid.

    Parameters
    ----------
    grid : WindGrid
        The wind.
    time_h, lat_deg, lon_deg : float
        When [h] and where [degree]; any turn of longitude.

    Returns
    -------
    east_kn, north_kn : float
        Toward east and north [kn].
    """
    centre = 0.5 * (grid.lon_deg[0] + grid.lon_deg[-1])
    lon = centre + (lon_deg - centre + 180.0) % 360.0 - 180.0
    t, time_part = locate(grid.time_h, time_h)
    y, lat_part = locate(grid.lat_deg, lat_deg)
    x, lon_part = locate(grid.lon_deg, lon)
    east = north = 0.0
    for dt in range(2):
        for dy in range(2):
            for dx in range(2):
                weight = (
                    (time_part if dt else 1.0 - time_part)
                    * (lat_part if dy else 1.0 - lat_part)
                    * (lon_part if dx else 1.0 - lon_part)
                )
                if weight != 0.0:  # an axis of one node gives the next no weight; NaN goes on as NaN
                    east += weight * grid.east_kn[t + dt, y + dy, x + dx]
                    north += weight * grid.north_kn[t + dt, y + dy, x + dx]
    return east, north


@njit(cache=True)
def wind_from(east_kn: Any, north_kn: Any) -> tuple[Any, Any]:
    """Return speed and direction of a wind from its components.

    Parameters
    ----------
    east_kn, north_kn : float or array (...)
        Toward east and north [kn].

    Returns
    -------
    speed_kn, from_deg : float or array (...)
        Speed [kn]; direction it blows from in [0, 360), 0 in a dead calm [degree].
    """
    return np.hypot(east_kn, north_kn), np.degrees(np.arctan2(-east_kn, -north_kn)) % 360.0


def apparent_wind(wind_kn: Any, wind_angle_deg: Any, speed_kn: Any, leeway_deg: Any) -> tuple[Any, Any]:
    """Return the wind felt on board: the true wind over the water less the boat's velocity through it.

    Parameters
    ----------
    wind_kn, wind_angle_deg : float or array (...)
        True wind over the water [kn], its angle off the bow, positive over starboard [degree].
    speed_kn, leeway_deg : float or array (...)
        Speed through water [kn]; course through water less heading [degree].

    Returns
    -------
    wind_kn, wind_angle_deg : float or array (...)
        Apparent wind [kn], its angle off the bow in [-180, 180), positive over starboard [degree].
    """
    angle, leeway = np.radians(wind_angle_deg), np.radians(leeway_deg)
    # Both winds are drawn toward where they come from; a boat that moves draws wind from ahead of her.
    ahead = wind_kn * np.cos(angle) + speed_kn * np.cos(leeway)
    starboard = wind_kn * np.sin(angle) + speed_kn * np.sin(leeway)
    degrees = np.degrees(np.arctan2(starboard, ahead))
    return np.hypot(ahead, starboard), (degrees + 180.0) % 360.0 - 180.0


apparent_wind_in_step = njit(cache=True)(apparent_wind)  # the same for kernels: arrays need no compiling


def wind_at_height(wind_10m_kn: Any, height_m: Any) -> Any:
    """Return the wind at a height over the sea from that at 10 m, by a power law.

    Hsu, Meindl and Gilhousen 1994, doi:10.1175/1520-0450(1994)033<0757:DTPLWP>2.0.CO;2: exponent 0.11 over the sea.

    Parameters
    ----------
    wind_10m_kn : float or array (...)
        As forecasts have it [kn].
    height_m : float or array (...)
        Above the water [m]; under a tenth of a metre counts as that.

    Returns
    -------
    float or array (...)
        [kn].
    """
    return wind_10m_kn * (np.maximum(height_m, LEAST_HEIGHT_M) / FORECAST_HEIGHT_M) ** PROFILE_EXPONENT


@njit(cache=True)
def held_tack(tack: float, wind_angle_deg: float, hysteresis_deg: float) -> float:
    """Return the tack, which changes only once the wind is well over the other side.

    Parameters
    ----------
    tack : float
        Held so far: +1 starboard, -1 port, 0 not yet known.
    wind_angle_deg : float
        True wind off the bow, positive over starboard [degree].
    hysteresis_deg : float
        How far past dead astern (or, under engine, dead ahead) the wind must go [degree].

    Returns
    -------
    float
        +1 or -1.
    """
    side = 1.0 if wind_angle_deg >= 0.0 else -1.0
    size = abs(wind_angle_deg)
    if tack in (0.0, side) or hysteresis_deg < size < 180.0 - hysteresis_deg:
        return side
    return tack
