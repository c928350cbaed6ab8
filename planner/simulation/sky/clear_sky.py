"""Sun and cloudless sky at given times and places."""

from __future__ import annotations

import numpy as np

from planner.domain.arrays import Bools, Floats, Times
from planner.physics.sky.clearsky import clear_sky_ghi, turbidity_on_day
from planner.physics.sky.sun import day_of_year, extraterrestrial_w_m2, sun_position
from planner.simulation.sky.turbidity import monthly_turbidity

# 1, of the table's monthly Linke turbidity, which is too hazy for the sea: with all of it the cloudless sea of
# NCEP_gfs.grb comes out 2.6 % and the clearest hundredth of TAO's days at 140 W 8 % too dark. Aerosol of 0.07 at
# 550 nm over the open sea (Smirnov et al. 2009, J. Geophys. Res. 114, D06204) with 2 to 4 cm of water vapour makes
# 3.0 to 3.3 (Ineichen 2008, Solar Energy 82, 468-471; both recalled), 0.8 to 0.9 of the table there.
MARINE_SHARE = 0.85


def clear_sky(
    time: Times, lat: Floats, lon: Floats, *, turbidity_share: float = MARINE_SHARE
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the sun's azimuth and elevation, clear-sky global and extraterrestrial normal irradiance.

    Parameters
    ----------
    time : array of datetime64 (n,)
        UTC.
    lat, lon : array (n,)
        North and east, lon in [-180, 180) [degree].
    turbidity_share : float
        Of the table's monthly Linke turbidity: less than all of it at sea [1].

    Returns
    -------
    azimuth_deg, elevation_deg, ghi_w_m2, extraterrestrial_w_m2 : array (n,)
        Clockwise from north and apparent [degree], at sea level [W/m2].
    """
    azimuth, elevation = sun_position(time, lat, lon)
    days = day_of_year(time)
    turbidity = turbidity_share * turbidity_on_day(monthly_turbidity(lat, lon), days, _leap(time))
    extra = extraterrestrial_w_m2(days)
    return azimuth, elevation, clear_sky_ghi(elevation, turbidity, extra), extra


def _leap(time: Times) -> Bools:
    years = time.astype("datetime64[Y]").astype(np.int64) + 1970
    return np.asarray((years % 4 == 0) & ((years % 100 != 0) | (years % 400 == 0)))
