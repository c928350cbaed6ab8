"""Projected, Mercator and reduced grids brought to a regular one of latitudes and longitudes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.file import CUT_SHORT, VALUES_UNREAD, library_errors, refuse_too_large
from planner.readers.forecast.grids.grid import Corridor
from planner.readers.forecast.grids.points import continuous, scattered, spacing_deg
from planner.readers.forecast.grids.vectors import turned_true

if TYPE_CHECKING:
    import xarray as xr

MARGIN_DEG = 1.0  # degree, read beyond the corridor
REACH = 1.5  # cells, how far outside the file's points a node takes the nearest of them
OUTSIDE = 1e-9  # 1, share by which rounding may put a node outside of a cell
Found = tuple[npt.NDArray[np.bool_], Ints, Floats]
"""Nodes that lie within cells, and of these the corners' points and their weights."""
Box = dict[str, slice | npt.NDArray[np.int64]]
"""Of each dimension of a grid, what is read."""


@dataclass(frozen=True, eq=False)
class Level:
    """A dataset on a regular grid.

    Attributes
    ----------
    part : xarray.Dataset
    notes : mapping of str to str
        By quantity, what was done to it.
    refused : mapping of str to Fault
        By quantity, why it cannot be used.
    """

    part: xr.Dataset
    notes: Mapping[str, str] = field(default_factory=dict)
    refused: Mapping[str, Fault] = field(default_factory=dict)


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


Meshes = dict[tuple[object, ...], _Plane]
"""Of each grid and corridor met so far, how it is laid on a regular one: a mesh takes longer than all its fields."""


def level_grid(
    part: xr.Dataset, chosen: Mapping[str, str], corridor: Corridor | None, where: str, meshes: Meshes
) -> Level:
    """Return a dataset on a regular grid: itself, or what is wanted of it interpolated within triangles.

    Vectors are turned to true east and north at the file's own points, before anything is interpolated.

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
    meshes : dict
        Of the grids met before; gets this one's.

    Raises
    ------
    InputError
        When none of its points lies in the corridor.
    """
    points = scattered(part)
    if points is None:
        return Level(part)
    dims = tuple(map(str, points[0].dims))
    lats, lons = (axis.to_numpy().astype(np.float64) for axis in points)
    lons = continuous(lons, float(lons.flat[0]) if corridor is None else 0.5 * (corridor[2] + corridor[3]))
    box = box_around(dims, lats, lons, corridor, where)
    lats, lons = (axis[tuple(box.values())] for axis in (lats, lons))
    key = (lats.shape, hash(lats.tobytes()), hash(lons.tobytes()), corridor)
    plane = meshes[key] = meshes.get(key) or _plane(lats, lons, corridor)
    inside = part[list(dict.fromkeys(chosen.values()))].isel(box)
    named = ", ".join(map(str, inside.data_vars))
    refuse_too_large(max(variable.nbytes for variable in inside.data_vars.values()), where, named)
    with library_errors(where, named, VALUES_UNREAD, CUT_SHORT):
        inside = inside.load()
    fields = {
        name: variable.transpose(..., *dims) if set(dims) <= set(variable.dims) else variable
        for name, variable in ((str(name), variable) for name, variable in inside.data_vars.items())
    }
    fields, notes, refused = turned_true(fields, part, chosen, (lats, lons), where)
    level = part.drop_vars([*part.data_vars, *(str(axis.name) for axis in points)]).drop_dims(dims, errors="ignore")
    coords = {
        "lat": ("lat", plane.lat, {"standard_name": "latitude"}),
        "lon": ("lon", plane.lon, {"standard_name": "longitude"}),
    }
    leveled = {
        name: _laid(variable, len(dims), plane) if set(dims) <= set(variable.dims) else variable
        for name, variable in fields.items()
    }
    return Level(level.assign_coords(coords).assign(leveled), notes, refused)


def box_around(dims: tuple[str, ...], lats: Floats, lons: Floats, corridor: Corridor | None, where: str) -> Box:
    """Return what of a projected grid holds a corridor: rows and columns, or the points of a list.

    Parameters
    ----------
    dims : tuple of str
        Of the points.
    lats, lons : array
        Of the points, longitudes in the corridor's circle [degree].
    corridor : (south, north, west, east) or None
        All where it is None [degree].
    where : str
        File name, for messages.

    Raises
    ------
    InputError
        When none of the points lies near it.
    """
    if corridor is None:
        return {dim: slice(None) for dim in dims}
    south, north, west, east = corridor
    # of a list of points no further row can be taken beside those within: a margin of two of its cells
    margin = MARGIN_DEG if lats.ndim == 2 else max(MARGIN_DEG, 2.0 * float(np.median(np.abs(np.diff(lons)))))
    near = (lats > south - margin) & (lats < north + margin)
    near &= (lons > west - margin) & (lons < east + margin)
    if not near.any():
        problem = (
            f"the forecast covers {lats.min():.2f} to {lats.max():.2f} N and {lons.min():.2f} to {lons.max():.2f} E; "
            f"the route needs {south:.2f} to {north:.2f} N and {west:.2f} to {east:.2f} E."
        )
        remedy = "Take a forecast of the route's waters, or check the signs of the route's latitudes and longitudes."
        raise InputError([Fault(where, "", problem, remedy)])
    if lats.ndim == 1:
        return {dims[0]: np.flatnonzero(near)}
    rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
    return {dims[0]: _widened(rows, lats.shape[0]), dims[1]: _widened(columns, lats.shape[1])}


def _widened(index: npt.NDArray[np.int64], size: int) -> slice:
    """Return a slice that holds some nodes and one more on either side."""
    return slice(max(int(index[0]) - 1, 0), min(int(index[-1]) + 2, size))


def _plane(lats: Floats, lons: Floats, corridor: Corridor | None) -> _Plane:
    """Return a regular grid as fine as the file's, and where its nodes lie."""
    from scipy.spatial import cKDTree

    south, north, west, east = lats.min(), lats.max(), lons.min(), lons.max()
    if corridor is not None:
        south, north = max(south, corridor[0] - MARGIN_DEG), min(north, corridor[1] + MARGIN_DEG)
        west, east = max(west, corridor[2] - MARGIN_DEG), min(east, corridor[3] + MARGIN_DEG)
    shrink = np.cos(np.radians(0.5 * (south + north)))
    step_lat = spacing_deg(lats, lons)
    lat, lon = _axis(south, north, step_lat), _axis(west, east, step_lat / shrink)
    points = np.column_stack([lats.ravel(), lons.ravel() * shrink])
    nodes = np.column_stack([a.ravel() for a in np.meshgrid(lat, lon * shrink, indexing="ij")])
    far, nearest = cKDTree(points).query(nodes)
    corners = np.repeat(np.asarray(nearest, dtype=np.int64)[:, None], 3, axis=1)
    weights = np.where(far < REACH * step_lat, 1.0, np.nan)[:, None] * np.array([1.0, 0.0, 0.0])
    seek = _in_cells if lats.ndim == 2 else _in_mesh
    within, of_cell, parts = seek(points.reshape(*lats.shape, 2), nodes, corners[:, 0])
    corners[within], weights[within] = of_cell, parts
    return _Plane(lat, lon, corners, weights)


def _in_cells(points: Floats, nodes: Floats, nearest: Ints) -> Found:
    """Find the half of a cell of rows and columns around each node, among those that meet at its nearest point."""
    rows, columns = points.shape[:2]
    flat = points.reshape(-1, 2)
    row, column = np.divmod(nearest, columns)
    corners, weights = np.zeros((len(nodes), 3), dtype=np.int64), np.full((len(nodes), 3), -1.0)
    for (up, right), half in product(product((-1, 0), (-1, 0)), (0, 1)):
        open_yet = np.flatnonzero(weights.min(axis=1) < -OUTSIDE)
        y, x = row[open_yet] + up, column[open_yet] + right
        there = (y >= 0) & (y < rows - 1) & (x >= 0) & (x < columns - 1)
        tried, first = open_yet[there], y[there] * columns + x[there]
        cell = np.stack([first + half * (columns + 1), first + 1, first + columns], axis=1)
        parts = _shares(flat[cell], nodes[tried])
        better = parts.min(axis=1) > weights[tried].min(axis=1)
        corners[tried[better]], weights[tried[better]] = cell[better], parts[better]
    within = weights.min(axis=1) >= -OUTSIDE
    return within, corners[within], weights[within]


def _in_mesh(points: Floats, nodes: Floats, _nearest: Ints) -> Found:
    """Find the triangle of a list's points around each node."""
    from scipy.spatial import Delaunay, QhullError

    try:
        mesh = Delaunay(points)
    except QhullError:  # points in one line
        return np.zeros(len(nodes), dtype=np.bool_), np.empty((0, 3), dtype=np.int64), np.empty((0, 3))
    triangle = mesh.find_simplex(nodes)
    within = triangle >= 0
    corners = np.asarray(mesh.simplices[triangle[within]], dtype=np.int64)
    return within, corners, _shares(points[corners], nodes[within])


def _shares(triangle: Floats, node: Floats) -> Floats:
    """Return the weights of a triangle's corners, (n, 3, 2), at a node, (n, 2); NaN where it has no area."""
    (a, b), c = np.moveaxis(triangle[:, :2] - triangle[:, 2:], 1, 0), node - triangle[:, 2]
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        first = (c[:, 0] * b[:, 1] - c[:, 1] * b[:, 0]) / area
        second = (a[:, 0] * c[:, 1] - a[:, 1] * c[:, 0]) / area
    return np.column_stack([first, second, 1.0 - first - second])


def _axis(low: float, high: float, step: float) -> Floats:
    return np.linspace(low, high, max(int(np.ceil((high - low) / step - 1e-9)) + 1, 2))


def _laid(variable: xr.DataArray, along: int, plane: _Plane) -> xr.DataArray:
    """Return a variable whose grid has so many dimensions, the last, on the regular grid."""
    import xarray as xr

    values = variable.to_numpy()
    flat = values.reshape(*values.shape[:-along], -1)
    laid = np.sum(flat[..., plane.corners] * plane.weights, axis=-1, dtype=np.float64).astype(np.float32)
    dims = (*variable.dims[:-along], "lat", "lon")
    coords = {name: c for name, c in variable.coords.items() if set(c.dims) <= set(dims)}
    shape = (*values.shape[:-along], plane.lat.size, plane.lon.size)
    return xr.DataArray(laid.reshape(shape), coords=coords, dims=dims, name=variable.name, attrs=variable.attrs)
