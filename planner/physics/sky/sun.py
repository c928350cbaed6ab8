"""Where the sun stands and how strong it is above the air, by the SPA algorithm and Spencer's series in pvlib."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Times
from planner.domain.units import SOLAR_CONSTANT_W_M2

DELTA_T_S = 67.0  # s, terrestrial less universal time; pvlib's default, within 3 s of measured 2010-2030
PRESSURE_PA = 101_325.0  # Pa, at sea level (ISO 2533 standard atmosphere)
AIR_TEMP_C = 12.0  # degree Celsius, for refraction; pvlib's default


def sun_position(time: Times, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return the sun's azimuth and apparent elevation at each time and place, at sea level.

    Parameters
    ----------
    time : array of datetime64 (n,)
        UTC.
    lat_deg, lon_deg : array_like (n,)
        North and east [degree].

    Returns
    -------
    azimuth : array (n,)
        Clockwise from north [degree], 0..360.
    elevation : array (n,)
        Above the horizon, refracted [degree].

    References
    ----------
    Reda and Andreas (2008), Solar position algorithm for solar radiation applications, NREL/TP-560-34302,
    doi:10.2172/15003974.
    """
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    lat, lon = (np.broadcast_to(np.asarray(x, dtype=np.float64), time.shape) for x in (lat_deg, lon_deg))
    position = get_solarposition(
        pd.DatetimeIndex(time.astype("datetime64[ns]")),
        lat,
        lon,
        altitude=0.0,
        pressure=PRESSURE_PA,
        temperature=AIR_TEMP_C,
        method="nrel_numpy",
        delta_t=DELTA_T_S,
    )
    azimuth = position["azimuth"].to_numpy(dtype=np.float64)
    elevation = position["apparent_elevation"].to_numpy(dtype=np.float64)
    return azimuth, elevation


def extraterrestrial_w_m2(day_of_year: npt.ArrayLike) -> Floats:
    """Return the irradiance normal to the sun above the atmosphere.

    Spencer (1971), "Fourier series representation of the position of the sun", as pvlib has it.

    Parameters
    ----------
    day_of_year : array_like (...)
        1 on the first of January, UTC [d].

    Returns
    -------
    array (...)
        Within 3.5 percent of the solar constant [W/m2].
    """
    from pvlib.irradiance import get_extra_radiation

    days = np.asarray(day_of_year, dtype=np.float64)
    return np.asarray(get_extra_radiation(days, SOLAR_CONSTANT_W_M2, method="spencer"), dtype=np.float64)


def day_of_year(time: Times) -> npt.NDArray[np.int64]:
    """Return the day of the year, UTC, 1 on the first of January [d].

    Parameters
    ----------
    time : array of datetime64 (n,)
        UTC.

    Returns
    -------
    array of int (n,)
        1..366 [d].
    """
    days = time.astype("datetime64[D]")
    since_new_year = days - days.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray(since_new_year.astype(np.int64) + 1, dtype=np.int64)
