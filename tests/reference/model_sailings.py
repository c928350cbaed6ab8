"""Legs on the WGS84 ellipsoid, one point at a time: geodesics from geographiclib, rhumb lines by quadrature."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geographiclib.geodesic import Geodesic
from model_tables import wrap

NM_M = 1852.0  # m in a nautical mile, exact
A_M = Geodesic.WGS84.a
E2 = Geodesic.WGS84.f * (2.0 - Geodesic.WGS84.f)
GAUSS = ((-0.9061798459386640, 0.2369268850561891), (-0.5384693101056831, 0.4786286704993665), (0.0, 128.0 / 225.0))
GAUSS_5 = (*GAUSS, *((-node, weight) for node, weight in GAUSS[:2]))  # Gauss-Legendre on -1..1, five nodes


@dataclass(frozen=True)
class Leg:
    """Where a leg begins, how it runs, and how long it is."""

    lat: float
    lon: float
    bearing: float
    length_nm: float
    rhumb: bool


def make_leg(lat1: float, lon1: float, lat2: float, lon2: float, *, rhumb: bool) -> Leg:
    """The leg between two waypoints, the short way round."""
    if not rhumb:
        line = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
        return Leg(lat1, lon1, line["azi1"] % 360.0, line["s12"] / NM_M, rhumb)
    phi1, phi2, dlon = math.radians(lat1), math.radians(lat2), math.radians(wrap(lon2 - lon1))
    north, east = _integral(_meridian, phi1, phi2), dlon * _east_scale(phi1, phi2)
    return Leg(lat1, lon1, math.degrees(math.atan2(east, north)) % 360.0, math.hypot(north, east) / NM_M, rhumb)


def along(leg: Leg, nm: float) -> tuple[float, float, float]:
    """Latitude, longitude and the leg's bearing at a distance along it."""
    if not leg.rhumb:
        line = Geodesic.WGS84.Direct(leg.lat, leg.lon, leg.bearing, nm * NM_M)
        return line["lat2"], wrap(line["lon2"]), line["azi2"] % 360.0
    north = nm * NM_M * math.cos(math.radians(leg.bearing))
    east = nm * NM_M * math.sin(math.radians(leg.bearing))
    phi1 = math.radians(leg.lat)
    phi2 = phi1
    for _ in range(8):  # Newton on the meridian's arc
        phi2 -= (_integral(_meridian, phi1, phi2) - north) / _meridian(phi2)
    lon = math.radians(leg.lon) + east / _east_scale(phi1, phi2)
    return math.degrees(phi2), wrap(math.degrees(lon)), leg.bearing


def beside(lat: float, lon: float, bearing: float, right_nm: float) -> tuple[float, float, float]:
    """The point to the right of a leg, and the leg's bearing carried there."""
    if right_nm == 0.0:
        return lat, lon, bearing
    line = Geodesic.WGS84.Direct(lat, lon, bearing + 90.0, right_nm * NM_M)
    return line["lat2"], wrap(line["lon2"]), (line["azi2"] - 90.0) % 360.0


def _meridian(phi: float) -> float:
    """Radius of curvature along the meridian [m]."""
    return A_M * (1.0 - E2) / (1.0 - E2 * math.sin(phi) ** 2) ** 1.5


def _isometric(phi: float) -> float:
    """Isometric latitude gained a radian of latitude."""
    return (1.0 - E2) / ((1.0 - E2 * math.sin(phi) ** 2) * math.cos(phi))


def _east_scale(phi1: float, phi2: float) -> float:
    """Metres of rhumb line to the east a radian of longitude: arc over isometric latitude, or its limit due east."""
    if abs(phi2 - phi1) < 1e-9:
        middle = (phi1 + phi2) / 2.0
        return _meridian(middle) / _isometric(middle)
    return _integral(_meridian, phi1, phi2) / _integral(_isometric, phi1, phi2)


def _integral(function, start: float, end: float) -> float:
    pieces = max(1, math.ceil(abs(end - start) / 0.05))
    half = (end - start) / pieces / 2.0
    total = 0.0
    for piece in range(pieces):
        middle = start + (2 * piece + 1) * half
        total += half * sum(weight * function(middle + half * node) for node, weight in GAUSS_5)
    return total
