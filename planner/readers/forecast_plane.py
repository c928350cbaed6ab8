"""Grids of two-dimensional latitudes and longitudes, as projected models have them, brought to a regular one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from planner.domain.errors import Fault, InputError
from planner.readers.forecast_grid import LAT_NAMES, LON_NAMES, Corridor, Floats, coordinate

if TYPE_CHECKING:
    import xarray as xr

MARGIN_DEG = 1.0  # degree, read beyond the corridor
REACH = 1.5  # cells, how far outside the file's points a node takes the nearest of them
CIRCLE_DEG = 360.0


@dataclass(frozen=True, eq=False)
class _Plane:
    """Where the nodes of a regular grid lie among the points of the file.

    Attributes
    ----------
    lat, lon : array
        Of the regular grid, rising [degree].
    corners : array of int (nodes, 3)
        Points of the file around each node, flat.
    weights : array (nodes, 3)
        Of each; NaN beyond the file's points [1].
    """

    lat: Floats
    lon: Floats
    corners: npt.NDArray[np.int64]
    weights: Floats


def level_grid(part: xr.Dataset, chosen: Mapping[str, str], corridor: Corridor | None, where: str) -> xr.Dataset:
    """Return a dataset on a regular grid: itself, or what is wanted of it interpolated within triangles.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    chosen : mapping of str to str
        Quantities to the names of their variables.
    corridor : (south, north, west, east) or None
        What is read of a grid that is not regular [degree].
    where : str
        File name, for messages.

    Raises
    ------
    InputError
        When none of its points lies in the corridor.
    """
    lat, lon = coordinate(part, "latitude", LAT_NAMES), coordinate(part, "longitude", LON_NAMES)
    if lat is None or lon is None or lat.ndim != 2 or lat.dims != lon.dims:
        return part
    rows, columns = map(str, lat.dims)
    lats, lons = lat.to_numpy().astype(np.float64), lon.to_numpy().astype(np.float64)
    middle = float(lons.flat[0]) if corridor is None else 0.5 * (corridor[2] + corridor[3])
    lons = middle + (lons - middle + 180.0) % CIRCLE_DEG - 180.0
    box = _box(lats, lons, corridor, where)
    lats, lons = lats[box], lons[box]
    plane = _plane(lats, lons, corridor)
    inside = part[list(dict.fromkeys(chosen.values()))].isel({rows: box[0], columns: box[1]})
    fields = _turned_true({name: inside[name].load() for name in map(str, inside.data_vars)}, chosen, lats, lons)
    level = part.drop_vars([*part.data_vars, str(lat.name), str(lon.name)]).drop_dims(
        [rows, columns], errors="ignore"
    )
    coords = {
        "lat": ("lat", plane.lat, {"standard_name": "latitude"}),
        "lon": ("lon", plane.lon, {"standard_name": "longitude"}),
    }
    leveled = {
        name: _laid(field.transpose(..., rows, columns), plane) if {rows, columns} <= set(field.dims) else field
        for name, field in fields.items()
    }
    return level.assign_coords(coords).assign(leveled)


def _box(lats: Floats, lons: Floats, corridor: Corridor | None, where: str) -> tuple[slice, slice]:
    """Return the rows and columns that hold the corridor."""
    if corridor is None:
        return slice(None), slice(None)
    south, north, west, east = corridor
    near = (lats > south - MARGIN_DEG) & (lats < north + MARGIN_DEG)
    near &= (lons > west - MARGIN_DEG) & (lons < east + MARGIN_DEG)
    if not near.any():
        problem = (
            f"the forecast covers {lats.min():.2f} to {lats.max():.2f} N and {lons.min():.2f} to {lons.max():.2f} E; "
            f"the route needs {south:.2f} to {north:.2f} N and {west:.2f} to {east:.2f} E."
        )
        mend = "Take a forecast of the route's waters, or check the signs of the route's latitudes and longitudes."
        raise InputError([Fault(where, "", problem, mend)])
    rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
    return _widened(rows, lats.shape[0]), _widened(columns, lats.shape[1])


def _widened(index: npt.NDArray[np.int64], size: int) -> slice:
    """Return a slice that holds some nodes and one more on either side."""
    return slice(max(int(index[0]) - 1, 0), min(int(index[-1]) + 2, size))


def _plane(lats: Floats, lons: Floats, corridor: Corridor | None) -> _Plane:
    """Return a regular grid as fine as the file's, and where its nodes lie."""
    from scipy.spatial import Delaunay, QhullError, cKDTree

    south, north, west, east = lats.min(), lats.max(), lons.min(), lons.max()
    if corridor is not None:
        south, north = max(south, corridor[0] - MARGIN_DEG), min(north, corridor[1] + MARGIN_DEG)
        west, east = max(west, corridor[2] - MARGIN_DEG), min(east, corridor[3] + MARGIN_DEG)
    shrink = np.cos(np.radians(0.5 * (south + north)))
    step_lat = max(float(np.median(np.hypot(*(np.diff(a, axis=0).ravel() for a in (lats, lons * shrink))))), 1e-6)
    lat, lon = _axis(south, north, step_lat), _axis(west, east, step_lat / shrink)
    points = np.column_stack([lats.ravel(), lons.ravel() * shrink])
    nodes = np.column_stack([a.ravel() for a in np.meshgrid(lat, lon * shrink, indexing="ij")])
    far, nearest = cKDTree(points).query(nodes)
    corners = np.repeat(np.asarray(nearest, dtype=np.int64)[:, None], 3, axis=1)
    weights = np.where(far < REACH * step_lat, 1.0, np.nan)[:, None] * np.array([1.0, 0.0, 0.0])
    try:
        mesh = Delaunay(points)
    except QhullError:  # points in one line
        return _Plane(lat, lon, corners, weights)
    triangle = mesh.find_simplex(nodes)
    within = triangle >= 0
    transform = mesh.transform[triangle[within]]
    two = np.einsum("nij,nj->ni", transform[:, :2], nodes[within] - transform[:, 2])
    corners[within] = mesh.simplices[triangle[within]]
    weights[within] = np.column_stack([two, 1.0 - two.sum(axis=1)])
    return _Plane(lat, lon, corners, weights)


def _axis(low: float, high: float, step: float) -> Floats:
    return np.linspace(low, high, max(int(np.ceil((high - low) / step - 1e-9)) + 1, 2))


def _turned_true(
    fields: dict[str, xr.DataArray], chosen: Mapping[str, str], lats: Floats, lons: Floats
) -> dict[str, xr.DataArray]:
    """Return fields with a wind that is given along the grid's own axes turned to true east and north."""
    names = [chosen.get(quantity, "") for quantity in ("wind_east_m_s", "wind_north_m_s")]
    if not all(name in fields and _along_grid(fields[name]) for name in names):
        return fields
    shrink = np.cos(np.radians(lats))
    climb, run = np.gradient(lats, axis=1), np.gradient(lons, axis=1) * shrink
    slope = np.arctan2(climb, run)
    along, across = (fields[name] for name in names)
    east = along * np.cos(slope) - across * np.sin(slope)
    north = along * np.sin(slope) + across * np.cos(slope)
    return fields | {names[0]: east.assign_attrs(along.attrs), names[1]: north.assign_attrs(across.attrs)}


def _along_grid(variable: xr.DataArray) -> bool:
    """Tell whether a wind component lies along the grid's own axes."""
    told: Any = variable.attrs.get("GRIB_uvRelativeToGrid", 0)
    return int(told) == 1 or variable.attrs.get("standard_name") in {"x_wind", "y_wind"}


def _laid(field: xr.DataArray, plane: _Plane) -> xr.DataArray:
    """Return a field on the regular grid."""
    import xarray as xr

    values = field.to_numpy()
    flat = values.reshape(*values.shape[:-2], -1)
    laid = np.sum(flat[..., plane.corners] * plane.weights, axis=-1, dtype=np.float64).astype(np.float32)
    dims = (*field.dims[:-2], "lat", "lon")
    coords = {name: c for name, c in field.coords.items() if set(c.dims) <= set(dims)}
    shape = (*values.shape[:-2], plane.lat.size, plane.lon.size)
    return xr.DataArray(laid.reshape(shape), coords=coords, dims=dims, name=field.name, attrs=field.attrs)
