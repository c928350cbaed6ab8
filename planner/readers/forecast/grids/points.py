"""Grids whose latitudes and longitudes run along the same dimensions: projected, Mercator and reduced ones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.readers.forecast.grids.grid import CIRCLE_DEG, LAT_NAMES, LON_NAMES, coordinate
from planner.readers.forecast.terms import plain

if TYPE_CHECKING:
    import xarray as xr

GRIB_GRID: Final = "GRIB_gridType"
"""Attribute: the kind of grid that a GRIB variable stands on."""
SOME: Final = 20_000  # points of which the distance to their nearest is taken
LEAST_SPACING_DEG: Final = 1e-6  # degree, a tenth of a metre
_X_NAMES = frozenset({"x", "rlon", "westeast", "nx", "ni", "i", "xirho", "lon", "longitude"})


def scattered(part: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray] | None:
    """Return latitudes and longitudes of a grid without axes of them, rows before columns; None of another grid.

    A list of places in a NetCDF file is no grid: they may be stations, or a ship's track.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    """
    lat, lon = coordinate(part, "latitude", LAT_NAMES), coordinate(part, "longitude", LON_NAMES)
    if lat is None or lon is None or set(lat.dims) != set(lon.dims):
        return None
    if lat.ndim == 2:
        first, second = map(str, lat.dims)
        dims = (second, first) if _runs_along_x(part, first) and not _runs_along_x(part, second) else (first, second)
        return lat.transpose(*dims), lon.transpose(*dims)
    of_grib = any(GRIB_GRID in variable.attrs for variable in part.data_vars.values())
    return (lat, lon) if lat.ndim == 1 and lat.size > 1 and of_grib else None


def _runs_along_x(part: xr.Dataset, dim: str) -> bool:
    attributes = part.variables[dim].attrs if dim in part.variables else {}
    named = attributes.get("standard_name") in {"projection_x_coordinate", "grid_longitude"}
    return named or attributes.get("axis") == "X" or plain(dim) in _X_NAMES


def spacing_deg(lats: Floats, lons: Floats) -> float:
    """Return how far points usually lie from their nearest, in degrees of latitude.

    Parameters
    ----------
    lats, lons : array
        Longitudes continuous [degree].
    """
    from scipy.spatial import cKDTree

    shrink = np.cos(np.radians(0.5 * (np.nanmin(lats) + np.nanmax(lats))))
    points = np.column_stack([lats.ravel(), lons.ravel() * shrink])
    if len(points) < 2:
        return LEAST_SPACING_DEG
    far, _ = cKDTree(points).query(points[:: max(1, len(points) // SOME)], k=[2])
    return max(float(np.median(far)), LEAST_SPACING_DEG)


def continuous(lons: Floats, middle: float) -> Floats:
    """Return longitudes in the circle around one of them [degree]."""
    around: Floats = middle + (lons - middle + 0.5 * CIRCLE_DEG) % CIRCLE_DEG - 0.5 * CIRCLE_DEG
    return around
