"""What is usual at sea: how much of a cloudless sky's light its days let through, by latitude and month."""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.domain.arrays import Floats, Times
from planner.physics.sky.sampling import cells
from planner.physics.sky.sun import day_of_year

# %, from the south northwards, January to December: MERRA-2, 2011 to 2015 (Gelaro et al. 2017, J. Climate 30,
# 5419-5454), cells of 3 degrees near land of which 60 % are sea, over the planner's clear sky; within a band the
# cells lie 10 apart (standard deviation). Made by scripts/make_clearness.py.
CLEARNESS: Final = (
    (61, 61, 57, 56, 54, 52, 52, 55, 57, 58, 60, 60),
    (78, 78, 73, 71, 65, 63, 64, 65, 70, 72, 75, 76),
    (84, 82, 79, 77, 73, 72, 72, 74, 78, 80, 81, 82),
    (81, 84, 84, 86, 87, 87, 86, 88, 89, 87, 87, 84),
    (70, 71, 74, 82, 87, 89, 90, 92, 93, 91, 86, 78),
    (64, 66, 66, 66, 71, 77, 81, 84, 86, 82, 75, 66),
    (71, 72, 73, 66, 60, 62, 64, 66, 66, 65, 64, 69),
    (89, 91, 92, 89, 73, 63, 63, 64, 64, 71, 80, 87),
    (86, 87, 90, 88, 85, 77, 75, 74, 77, 86, 85, 86),
    (78, 76, 81, 85, 86, 85, 88, 87, 87, 84, 79, 78),
    (60, 64, 70, 72, 73, 77, 82, 82, 82, 76, 69, 63),
    (51, 54, 63, 64, 64, 61, 63, 67, 67, 59, 54, 50),
    (63, 53, 62, 65, 64, 60, 56, 58, 58, 56, 59, 62),
)
BANDS_DEG: Final = np.arange(-55.0, 66.0, 10.0)  # degree, middles of the bands
MONTH_DAYS: Final = 365.25 / 12.0  # d


def clearness_at(time: Times, lat: Floats) -> Floats:
    """Return the usual clear-sky index of the days at sea, linear between months and bands, held beyond them.

    Parameters
    ----------
    time : array of datetime64 (n,)
        UTC.
    lat : array (n,)
        [degree].

    Returns
    -------
    array (n,)
        Mean of the month's days [1].
    """
    table = np.array(CLEARNESS) / 100.0
    month = (day_of_year(time) / MONTH_DAYS - 0.5) % 12.0
    (band, up), earlier, on = cells(BANDS_DEG, lat), month.astype(np.int64), month % 1.0
    south, north = (
        (1.0 - on) * table[row, earlier] + on * table[row, (earlier + 1) % 12] for row in (band, band + 1)
    )
    return np.asarray((1.0 - up) * south + up * north, dtype=np.float64)
