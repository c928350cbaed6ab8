"""The magnetic field from the World Magnetic Model: variation, and whether a compass can steer by it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

if TYPE_CHECKING:
    from pygeomag import GeoMag

FIRST_MODEL: Final = 2010  # year of the oldest model that pygeomag carries
LAST_MODEL: Final = 2025  # year of the newest
MODEL_YEARS: Final = 5  # a, validity of a model (NCEI, World Magnetic Model technical report)
STEADY_NT: Final = 6000.0  # nT, horizontal; below, compasses err much (the same report's caution zone)
BLIND_NT: Final = 2000.0  # nT; below, they cannot be relied on (its blackout zone)


@lru_cache(maxsize=4)
def _model(epoch: int) -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag(base_year=epoch)


def decimal_year(time: npt.ArrayLike) -> Floats:
    """Return the year with its fraction.

    Parameters
    ----------
    time : array_like (...) of datetime64
        UTC.

    Returns
    -------
    array (...)
        Decimal year [a].
    """
    moment = np.asarray(time, dtype="datetime64[ns]")
    year = moment.astype("datetime64[Y]")
    start, end = year.astype("datetime64[ns]"), (year + 1).astype("datetime64[ns]")
    return np.asarray(year.astype(np.int64) + 1970 + (moment - start) / (end - start), dtype=np.float64)


def model_epoch(year: float) -> int:
    """Return the epoch [a] of the model that serves a decimal year [a]: its own five years, else the nearest."""
    epoch = int(year) // MODEL_YEARS * MODEL_YEARS
    return min(max(epoch, FIRST_MODEL), LAST_MODEL)


def field_at(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, year: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return the magnetic variation at sea level, and the field's horizontal part, by which a compass steers.

    Before 2010 the oldest model and after 2030 the newest are carried on by their own yearly change, about a tenth of
    a degree a year worse.

    Parameters
    ----------
    lat_deg, lon_deg : array_like (...)
        Position [degree].
    year : array_like (...)
        Decimal year [a].

    Returns
    -------
    variation_deg, horizontal_nt : array (...)
        Variation, positive east, in [-180, 180] [degree]; horizontal intensity [nT].

    References
    ----------
    NCEI and BGS, The US/UK World Magnetic Model for 2025-2030, as in pygeomag.
    """
    places = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in (lat_deg, lon_deg, year)))
    found = [
        _model(model_epoch(at)).calculate(glat=lat, glon=lon, alt=0.0, time=at, allow_date_outside_lifespan=True)
        for lat, lon, at in zip(*(place.ravel().tolist() for place in places), strict=True)
    ]
    shape = places[0].shape
    return np.array([each.d for each in found]).reshape(shape), np.array([each.h for each in found]).reshape(shape)
