"""Sunlight under a cloudless sky at sea level: Ineichen's model with the monthly Linke turbidity."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

DAYS_OF_MONTH = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])  # d, Gregorian calendar, common year
DAYS_OF_MONTH_LEAP = np.where(np.arange(12) == 1, 29, DAYS_OF_MONTH)


def _month_middles(days: npt.NDArray[np.int64]) -> Floats:
    """Return the day of year of the middle of each month, with December before and January after [d]."""
    middles = np.cumsum(days) - days / 2.0
    return np.concatenate([[-days[11] / 2.0], middles, [days.sum() + days[0] / 2.0]])


MIDDLES = _month_middles(DAYS_OF_MONTH)
MIDDLES_LEAP = _month_middles(DAYS_OF_MONTH_LEAP)


def turbidity_on_day(monthly: Floats, day_of_year: npt.NDArray[np.int64], leap_year: npt.NDArray[np.bool_]) -> Floats:
    """Return the Linke turbidity of a day, linear between the middles of the months.

    Parameters
    ----------
    monthly : array (n, 12)
        Linke turbidity of each month at each place [1].
    day_of_year : array of int (n,)
        1 on the first of January [d].
    leap_year : array of bool (n,)
        Whether the day's year has 366 days.

    Returns
    -------
    array (n,)
        Linke turbidity [1].
    """
    around = np.concatenate([monthly[:, 11:], monthly, monthly[:, :1]], axis=1)
    middles = np.where(leap_year[:, None], MIDDLES_LEAP, MIDDLES)
    below = np.sum(middles[:, 1:-1] <= day_of_year[:, None], axis=1)
    row = np.arange(day_of_year.size)
    low, high = middles[row, below], middles[row, below + 1]
    part = (day_of_year - low) / (high - low)
    return np.asarray(around[row, below] * (1.0 - part) + around[row, below + 1] * part, dtype=np.float64)


def clear_sky_ghi(elevation_deg: Floats, turbidity: Floats, extraterrestrial_w_m2: Floats) -> Floats:
    """Return global horizontal irradiance under a cloudless sky at sea level; exactly 0 with the sun down.

    Parameters
    ----------
    elevation_deg : array (n,)
        Apparent elevation of the sun [degree].
    turbidity : array (n,)
        Linke turbidity [1].
    extraterrestrial_w_m2 : array (n,)
        Normal to the sun above the air [W/m2].

    Returns
    -------
    array (n,)
        Global horizontal irradiance [W/m2].

    References
    ----------
    Ineichen and Perez (2002), A new airmass independent formulation for the Linke turbidity coefficient,
    Solar Energy 73, 151-157, doi:10.1016/S0038-092X(02)00045-2; air mass after Kasten and Young (1989).
    """
    from pvlib.atmosphere import get_relative_airmass
    from pvlib.clearsky import ineichen

    ghi = np.zeros(np.shape(elevation_deg))
    up = elevation_deg > 0.0
    if not up.any():
        return ghi
    zenith = 90.0 - elevation_deg[up]
    clear = ineichen(
        zenith,
        get_relative_airmass(zenith),
        turbidity[up],
        altitude=0.0,
        dni_extra=extraterrestrial_w_m2[up],
    )
    ghi[up] = clear["ghi"]
    return ghi
