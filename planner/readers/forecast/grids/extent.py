"""What a file's grid is like before anything is cut of it, and a thinner look at a large one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError
from planner.domain.results.forecast import Grid
from planner.readers.forecast.file import CUT_SHORT, VALUES_UNREAD, library_errors, refuse_giant
from planner.readers.forecast.grids.grid import CIRCLE_DEG, Cut, find_axes
from planner.readers.forecast.grids.points import continuous, scattered, spacing_deg

if TYPE_CHECKING:
    import xarray as xr

FEWEST_NODES = 9  # of an axis that is thinned; a coarse grid is left as it is


def grid_of(part: xr.Dataset, where: str) -> Grid:
    """Return a dataset's grid as it is in the file.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    where : str
        File name, for messages.

    Raises
    ------
    InputError
        When latitudes, longitudes or times are missing.
    """
    points = scattered(part)
    if points is not None:
        refuse_giant(points[0].size, where, "latitude, longitude")
        with library_errors(where, "latitude, longitude", VALUES_UNREAD, CUT_SHORT):
            lats, lons = (axis.to_numpy().astype(np.float64) for axis in points)
        if not (np.isfinite(lats).all() and np.isfinite(lons).all()):
            problem = "the points of the grid have missing latitudes or longitudes."
            raise InputError([Fault(where, "", problem, "The file is damaged, or cut out of a grid; fetch it anew.")])
        lons = continuous(lons, float(lons.flat[0]))
        step = round(spacing_deg(lats, lons), 6)
        return _grid(lats, lons, (1, *lats.shape)[-2:], (step, step), projected=True)
    axes = find_axes(part, where)
    steps = [_step(np.diff(axes.lat)), _step((np.diff(axes.lon) + 180.0) % CIRCLE_DEG - 180.0)]
    return _grid(axes.lat, axes.lon, (axes.lat.size, axes.lon.size), (steps[0], steps[1]), projected=False)


def _grid(
    lat: Floats, lon: Floats, shape: tuple[int, ...], step: tuple[float | None, float | None], *, projected: bool
) -> Grid:
    east = lon
    if not projected and lon.size > 1:
        east = lon[0] + np.concatenate([[0.0], np.cumsum((np.diff(lon) + 180.0) % CIRCLE_DEG - 180.0)])
    return Grid(
        south=float(np.nanmin(lat)),
        north=float(np.nanmax(lat)),
        west=float(np.nanmin(east)),
        east=float(np.nanmax(east)),
        rows=shape[0],
        columns=shape[1],
        step_lat_deg=step[0],
        step_lon_deg=step[1],
        from_north=not projected and lat.size > 1 and bool(lat[0] > lat[-1]),
        from_east=not projected and lon.size > 1 and bool(east[0] > east[-1]),
        projected=projected,
    )


def _step(gaps: Floats) -> float | None:
    return round(float(np.median(np.abs(gaps))), 6) if gaps.size else None


def thinned_plane(part: xr.Dataset, stride: int) -> xr.Dataset:
    """Return every so many-th row and column of a projected grid, nothing read yet; other grids as they are.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    stride : int
        [1]; the same for all files, so that equal grids stay equal.
    """
    points = scattered(part)
    if stride == 1 or points is None:
        return part
    each = stride if points[0].ndim == 2 else stride**2
    return part.isel({dim: slice(None, None, _step_of(part.sizes[dim], each)) for dim in points[0].dims})


def thinned(nodes: Cut, stride: int) -> Cut:
    """Return every so many-th row and column of what was cut of a grid; arguments as for ``thinned_plane``."""
    rows, columns = (_step_of(axis.size, stride) for axis in (nodes.lat, nodes.lon))
    return replace(
        nodes,
        lat_index=nodes.lat_index[::rows],
        lon_index=nodes.lon_index[::columns],
        lat=nodes.lat[::rows],
        lon=nodes.lon[::columns],
    )


def _step_of(size: int, stride: int) -> int:
    return min(stride, max(1, (size - 1) // (FEWEST_NODES - 1)))
