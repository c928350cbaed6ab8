"""Great circles and rhumb lines on the WGS84 ellipsoid: distance and bearing, and the position a distance along.

The inverse great circle is pyproj's. The direct ones are compiled here, since the march along the track asks for a
position at every step; they take numbers, or arrays of one shape.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.frames import wrap_180

if TYPE_CHECKING:
    from pyproj import Geod

EQUATOR_M: Final = 6378137.0  # m, semi-major axis of WGS84 (NGA.STND.0036, table 3.1)
FLATTENING: Final = 1.0 / 298.257223563  # 1, of WGS84 (the same table)
POLE_M: Final = EQUATOR_M * (1.0 - FLATTENING)  # m, semi-minor axis
ECCENTRICITY: Final = (FLATTENING * (2.0 - FLATTENING)) ** 0.5  # 1, first eccentricity
THIRD: Final = FLATTENING / (2.0 - FLATTENING)  # 1, third flattening n
RECTIFYING_M: Final = EQUATOR_M / (1.0 + THIRD) * (1.0 + THIRD**2 / 4.0 + THIRD**4 / 64.0)  # m, meridian / 2 pi
SAME_PARALLEL: Final = 1e-5  # rad of rectifying latitude, 64 m: below it the difference quotient becomes a derivative
HALVINGS: Final = 45  # of a quarter of the way round the earth: to under a micrometre
VINCENTY_ROUNDS: Final = 8  # each gains three digits, so that the eighth moves nothing


@lru_cache(maxsize=1)
def _wgs84() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")


def great_circle(
    lat1: npt.ArrayLike, lon1: npt.ArrayLike, lat2: npt.ArrayLike, lon2: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Return length and first bearing of the shortest line between positions.

    Parameters
    ----------
    lat1, lon1, lat2, lon2 : array_like (...)
        From and to [degree].

    Returns
    -------
    distance_m, bearing_deg : array (...)
        Length [m]; bearing at the first position in [0, 360) [degree].

    References
    ----------
    C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013), doi:10.1007/s00190-012-0578-z, as in pyproj.
    """
    at = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in (lon1, lat1, lon2, lat2)))
    bearing, _, distance = _wgs84().inv(at[0], at[1], at[2], at[3])
    return np.asarray(distance, dtype=np.float64), np.asarray(bearing, dtype=np.float64) % 360.0


def rhumb_line(
    lat1: npt.ArrayLike, lon1: npt.ArrayLike, lat2: npt.ArrayLike, lon2: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Return length and bearing of the line of constant bearing between positions, the short way round.

    Parameters
    ----------
    lat1, lon1, lat2, lon2 : array_like (...)
        From and to [degree].

    Returns
    -------
    distance_m, bearing_deg : array (...)
        Length [m]; bearing in [0, 360) [degree].

    References
    ----------
    G. G. Bennett, Practical rhumb line calculations on the spheroid, J. Navigation 49 (1996),
    doi:10.1017/S0373463300013151.
    """
    phi1, phi2 = np.radians(lat1), np.radians(lat2)
    east = np.radians(wrap_180(np.asarray(lon2, dtype=np.float64) - np.asarray(lon1, dtype=np.float64)))
    mu1, mu2 = rectifying_latitude(phi1), rectifying_latitude(phi2)
    stretch = np.asarray(_stretch(phi1, phi2, mu1, mu2), dtype=np.float64)
    bearing = np.degrees(np.arctan2(east, stretch * (mu2 - mu1))) % 360.0
    return RECTIFYING_M * np.hypot(mu2 - mu1, east / stretch), bearing


def highest_latitude(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return the latitude between two positions on their great circle that lies farthest from the equator.

    Parameters
    ----------
    lat1, lon1, lat2, lon2 : float
        From and to [degree].

    Returns
    -------
    float
        Of the vertex, or of an end where the vertex does not lie between; north positive [degree].

    References
    ----------
    Clairaut's relation, as in Karney (2013), eq. 5: the sine of the bearing times the cosine of the reduced latitude
    is the same all along a geodesic.
    """
    there, back, _ = _wgs84().inv(lon1, lat1, lon2, lat2)
    ends = max((lat1, lat2), key=abs)
    rises, falls = np.cos(np.radians(there)), np.cos(np.radians(back + 180.0))
    if rises * falls >= 0.0:
        return ends
    reduced = np.arccos(min(abs(np.sin(np.radians(there))) * np.cos(_reduced(lat1)), 1.0))
    vertex = float(np.copysign(np.degrees(np.arctan(np.tan(reduced) / (1.0 - FLATTENING))), rises))
    return max((vertex, ends), key=abs)


def touch_parallel(
    lat_deg: float, lon_deg: float, parallel_deg: float, *, toward: float
) -> tuple[float, float, float, float]:
    """Return the great circle that leads to a parallel and touches it there.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Position nearer the equator than the parallel, or on it [degree].
    parallel_deg : float
        Latitude of the parallel [degree].
    toward : float
        +1 eastward, -1 westward [1].

    Returns
    -------
    lat_deg, lon_deg : float
        Where it touches [degree].
    bearing_deg : float
        At the position [degree].
    distance_m : float
        From there [m].

    References
    ----------
    Clairaut's relation, as ``highest_latitude``; the distance by bisection on the bearing.
    """
    sine = np.cos(_reduced(parallel_deg)) / np.cos(_reduced(lat_deg))
    sharp = float(np.degrees(np.arcsin(min(float(sine), 1.0))))
    bearing = (sharp if parallel_deg > 0.0 else 180.0 - sharp) * toward % 360.0
    near, far = 0.0, 0.5 * np.pi * EQUATOR_M
    for _ in range(HALVINGS):
        middle = 0.5 * (near + far)
        _, _, there = great_circle_point(lat_deg, lon_deg, bearing, middle)
        if np.cos(np.radians(there)) * np.sign(parallel_deg) > 0.0:
            near = middle
        else:
            far = middle
    lat, lon, _ = great_circle_point(lat_deg, lon_deg, bearing, near)
    return float(lat), float(lon), bearing, near


def _reduced(lat_deg: float) -> Any:
    """Return the reduced latitude [rad]."""
    return np.arctan((1.0 - FLATTENING) * np.tan(np.radians(lat_deg)))


@njit(cache=True)
def great_circle_point(lat_deg: Any, lon_deg: Any, bearing_deg: Any, distance_m: Any) -> tuple[Any, Any, Any]:
    """Return where a great circle leads.

    Parameters
    ----------
    lat_deg, lon_deg, bearing_deg : float or array (...)
        Position and bearing at the start [degree].
    distance_m : float or array (...)
        Along the line; negative backwards [m].

    Returns
    -------
    lat_deg, lon_deg, bearing_deg : float or array (...)
        Position, longitude in [-180, 180), and bearing there in [0, 360) [degree].

    References
    ----------
    T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid, Survey Review 23 (1975), eqs 1-11.
    """
    alpha1 = np.radians(bearing_deg)
    tan_u1 = (1.0 - FLATTENING) * np.tan(np.radians(lat_deg))
    cos_u1 = 1.0 / np.sqrt(1.0 + tan_u1 * tan_u1)
    sin_u1 = tan_u1 * cos_u1
    sigma1 = np.arctan2(tan_u1, np.cos(alpha1))
    sin_alpha = cos_u1 * np.sin(alpha1)
    cos_sq_alpha = 1.0 - sin_alpha * sin_alpha
    u_sq = cos_sq_alpha * (EQUATOR_M**2 - POLE_M**2) / POLE_M**2
    big_a = 1.0 + u_sq / 16384.0 * (4096.0 + u_sq * (-768.0 + u_sq * (320.0 - 175.0 * u_sq)))
    big_b = u_sq / 1024.0 * (256.0 + u_sq * (-128.0 + u_sq * (74.0 - 47.0 * u_sq)))
    first = distance_m / (POLE_M * big_a)
    sigma = first
    for _ in range(VINCENTY_ROUNDS):
        cos_2m = np.cos(2.0 * sigma1 + sigma)
        inner = np.cos(sigma) * (-1.0 + 2.0 * cos_2m**2) - big_b / 6.0 * cos_2m * (
            -3.0 + 4.0 * np.sin(sigma) ** 2
        ) * (-3.0 + 4.0 * cos_2m**2)
        sigma = first + big_b * np.sin(sigma) * (cos_2m + big_b / 4.0 * inner)
    cos_2m = np.cos(2.0 * sigma1 + sigma)
    sin_s, cos_s = np.sin(sigma), np.cos(sigma)
    northing = sin_u1 * sin_s - cos_u1 * cos_s * np.cos(alpha1)
    lat = np.arctan2(
        sin_u1 * cos_s + cos_u1 * sin_s * np.cos(alpha1),
        (1.0 - FLATTENING) * np.sqrt(sin_alpha * sin_alpha + northing * northing),
    )
    spherical = np.arctan2(sin_s * np.sin(alpha1), cos_u1 * cos_s - sin_u1 * sin_s * np.cos(alpha1))
    big_c = FLATTENING / 16.0 * cos_sq_alpha * (4.0 + FLATTENING * (4.0 - 3.0 * cos_sq_alpha))
    series = sigma + big_c * sin_s * (cos_2m + big_c * cos_s * (-1.0 + 2.0 * cos_2m**2))
    east = spherical - (1.0 - big_c) * FLATTENING * sin_alpha * series
    lon = (lon_deg + np.degrees(east) + 180.0) % 360.0 - 180.0
    return np.degrees(lat), lon, np.degrees(np.arctan2(sin_alpha, -northing)) % 360.0


@njit(cache=True)
def rhumb_line_point(lat_deg: Any, lon_deg: Any, bearing_deg: Any, distance_m: Any) -> tuple[Any, Any, Any]:
    """Return where a line of constant bearing leads; it must not pass a pole.

    Parameters
    ----------
    lat_deg, lon_deg, bearing_deg : float or array (...)
        Position and bearing [degree].
    distance_m : float or array (...)
        Along the line; negative backwards [m].

    Returns
    -------
    lat_deg, lon_deg, bearing_deg : float or array (...)
        Position, longitude in [-180, 180), and the same bearing in [0, 360) [degree].

    References
    ----------
    G. G. Bennett, Practical rhumb line calculations on the spheroid, J. Navigation 49 (1996),
    doi:10.1017/S0373463300013151.
    """
    phi1, course = np.radians(lat_deg), np.radians(bearing_deg)
    mu1 = rectifying_latitude(phi1)
    mu2 = mu1 + distance_m / RECTIFYING_M * np.cos(course)
    phi2 = geodetic_latitude(mu2)
    east = distance_m / RECTIFYING_M * np.sin(course) * _stretch(phi1, phi2, mu1, mu2)
    return np.degrees(phi2), (lon_deg + np.degrees(east) + 180.0) % 360.0 - 180.0, bearing_deg % 360.0


@njit(cache=True)
def rectifying_latitude(phi: Any) -> Any:
    """Return the latitude that is proportional to distance along the meridian.

    Parameters
    ----------
    phi : float or array (...)
        Geodetic latitude [rad].

    Returns
    -------
    mu : float or array (...)
        Rectifying latitude [rad]; the series in the third flattening is cut after its fourth power, 1e-13 rad.

    References
    ----------
    C. F. F. Karney, On auxiliary latitudes, Survey Review 56 (2024), doi:10.1080/00396265.2023.2217604, eq. A5.
    """
    n = THIRD
    return (
        phi
        + (-3.0 / 2.0 * n + 9.0 / 16.0 * n**3) * np.sin(2.0 * phi)
        + (15.0 / 16.0 * n**2 - 15.0 / 32.0 * n**4) * np.sin(4.0 * phi)
        - 35.0 / 48.0 * n**3 * np.sin(6.0 * phi)
        + 315.0 / 512.0 * n**4 * np.sin(8.0 * phi)
    )


@njit(cache=True)
def geodetic_latitude(mu: Any) -> Any:
    """Return the geodetic latitude of a rectifying one: the inverse of ``rectifying_latitude``.

    Parameters
    ----------
    mu : float or array (...)
        Rectifying latitude [rad].

    Returns
    -------
    phi : float or array (...)
        Geodetic latitude [rad].

    References
    ----------
    As ``rectifying_latitude``, eq. A6.
    """
    n = THIRD
    return (
        mu
        + (3.0 / 2.0 * n - 27.0 / 32.0 * n**3) * np.sin(2.0 * mu)
        + (21.0 / 16.0 * n**2 - 55.0 / 32.0 * n**4) * np.sin(4.0 * mu)
        + 151.0 / 96.0 * n**3 * np.sin(6.0 * mu)
        + 1097.0 / 512.0 * n**4 * np.sin(8.0 * mu)
    )


@njit(cache=True)
def _stretch(phi1: Any, phi2: Any, mu1: Any, mu2: Any) -> Any:
    """Return isometric over rectifying difference of latitude; on one parallel, the derivative at its middle."""
    middle = geodetic_latitude(0.5 * (mu1 + mu2))
    across = EQUATOR_M * np.cos(middle) / np.sqrt(1.0 - (ECCENTRICITY * np.sin(middle)) ** 2)
    apart = 1.0 * (np.abs(mu2 - mu1) > SAME_PARALLEL)  # a weight serves numbers and arrays alike
    quotient = (_isometric(phi2) - _isometric(phi1)) / (apart * (mu2 - mu1) + 1.0 - apart)
    return apart * quotient + (1.0 - apart) * RECTIFYING_M / across


@njit(cache=True)
def _isometric(phi: Any) -> Any:
    return np.arcsinh(np.tan(phi)) - ECCENTRICITY * np.arctanh(ECCENTRICITY * np.sin(phi))
