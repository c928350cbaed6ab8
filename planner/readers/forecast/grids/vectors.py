"""Wind and current that are given along a grid's own axes, turned to true east and north."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault
from planner.readers.forecast.grids.points import GRIB_GRID, scattered
from planner.readers.forecast.projection import (
    PROJECTION,
    RELATIVE,
    axes_by_points,
    axes_by_projection,
    projection_of,
)
from planner.readers.forecast.terms import TERMS

if TYPE_CHECKING:
    import xarray as xr

PAIRS: Final = (("wind_east_m_s", "wind_north_m_s"), ("current_east_m_s", "current_north_m_s"))
_ALONG_AXES = frozenset(
    {"x_wind", "y_wind", "grid_eastward_wind", "grid_northward_wind"}
    | {"sea_water_x_velocity", "sea_water_y_velocity"}
)
_TRUE = frozenset(
    {"eastward_wind", "northward_wind", "eastward_sea_water_velocity", "northward_sea_water_velocity"}
    | {"surface_eastward_sea_water_velocity", "surface_northward_sea_water_velocity"}
)
NO_MATTER_DEG: Final = 0.5  # degree: axes that lie so near east and north need no statement
_STATE = "Give them standard_name x_wind and y_wind, or eastward_wind and northward_wind, whichever the provider says"
_REGULAR = "ask the provider for a regular grid of latitudes and longitudes."
Wanted = tuple["xr.Dataset", dict[str, str]]


def paired(wanted: Sequence[Wanted]) -> list[Wanted]:
    """Return datasets with both components of a vector on a projected grid in one, where two datasets hold them.

    Parameters
    ----------
    wanted : sequence of (Dataset, dict)
        Each dataset of a file, and its variable's name for each quantity. Components that differ in times, members
        or grid are left apart.
    """
    left = [(part, dict(chosen)) for part, chosen in wanted]
    for east, north in PAIRS:
        for place, (part, chosen) in enumerate(left):
            if east not in chosen or north in chosen or scattered(part) is None:
                continue
            for other, names in left:
                if north in names and east not in names and _fits(part[chosen[east]], other[names[north]]):
                    chosen[north] = names.pop(north)
                    left[place] = (part.assign({chosen[north]: other[chosen[north]]}), chosen)
                    break
    return [(part, chosen) for part, chosen in left if chosen]


def _fits(one: xr.DataArray, other: xr.DataArray) -> bool:
    """Tell whether two variables have the same axes, and are of the same kind of member."""
    same = one.dims == other.dims and one.shape == other.shape
    same &= one.attrs.get("GRIB_dataType") == other.attrs.get("GRIB_dataType")
    return same and all(name in other.coords and one.coords[name].equals(other.coords[name]) for name in one.coords)


def turned_true(
    fields: dict[str, xr.DataArray],
    part: xr.Dataset,
    chosen: Mapping[str, str],
    places: tuple[Floats, Floats],
    where: str,
) -> tuple[dict[str, xr.DataArray], dict[str, str], dict[str, Fault]]:
    """Return fields with vectors that are given along the grid's own axes turned to true east and north.

    Parameters
    ----------
    fields : dict of str to DataArray
        By name, read, the dimensions of the grid last, rows before columns.
    part : xarray.Dataset
        As opened, which states the projection.
    chosen : mapping of str to str
        Quantities to names.
    places : tuple of array
        Latitudes and longitudes of the fields' grid [degree].
    where : str
        File name, for messages.

    Returns
    -------
    tuple
        The fields; by quantity, what was done to it; by quantity, why it cannot be used.
    """
    notes: dict[str, str] = {}
    refused: dict[str, Fault] = {}
    for pair in PAIRS:
        names = [chosen[quantity] for quantity in pair if quantity in chosen]
        if not names:
            continue
        along = {_along_axes(fields[name]) for name in names}
        if along == {False}:
            continue
        axes = _axes(part, fields[names[0]], *places)
        if along == {None} and axes is not None and _turn_deg(axes[0]) < NO_MATTER_DEG:
            continue
        problem, remedy = _why_not(names, TERMS[pair[0]].words, fields, along, axes)
        if problem or axes is None:
            refused |= {
                quantity: Fault(where, chosen[quantity], problem, remedy) for quantity in pair if quantity in chosen
            }
            continue
        fields = fields | _turned(fields, names, axes)
        turn = f"they are turned to true east and north, by up to {_turn_deg(axes[0]):.1f} degrees."
        notes[pair[0]] = f"{names[0]} and {names[1]} are given along the grid's own axes; {turn}"
    return fields, notes, refused


def _along_axes(variable: xr.DataArray) -> bool | None:
    """Tell whether a component lies along the grid's own axes; None where its file does not say."""
    flag = variable.attrs.get(RELATIVE)
    if isinstance(flag, (int, np.integer)):
        return bool(flag)
    name = variable.attrs.get("standard_name")
    if GRIB_GRID in variable.attrs:  # converted from GRIB without the flag: the name is then the parameter's alone
        return None
    return True if name in _ALONG_AXES else False if name in _TRUE else None


def _why_not(
    names: Sequence[str],
    words: str,
    fields: Mapping[str, xr.DataArray],
    along: set[bool | None],
    axes: tuple[Floats, Floats] | None,
) -> tuple[str, str]:
    """Return why components cannot be turned, and what to do about it; empty where they can be."""
    listed = " and ".join(names)
    if along == {None}:
        turn = "" if axes is None else f" (up to {_turn_deg(axes[0]):.0f} degrees off east)"
        problem = f"nothing says whether {listed} lie along the axes of the projected grid{turn}, or east and north."
        return problem, f"{_STATE}; or {_REGULAR}"
    if len(along) > 1:
        return f"of {listed} one is said to lie along the grid's axes, the other not.", f"{_STATE}; or {_REGULAR}"
    if len(names) < 2:
        problem = f"the {words} lies along the axes of a projected grid; its other component is not there"
        return f"{problem}, or at other times.", "Get both components at the same times."
    if len({str(fields[name].attrs.get("units")) for name in names}) > 1:
        return f"{listed} lie along the grid's axes and have different units.", "Give both the same units."
    if axes is None:
        problem = f"{listed} lie along the axes of a projected grid, and where those point is not known."
        return problem, f"The file states no projection that can be used; {_REGULAR}"
    return "", ""


def _axes(part: xr.Dataset, variable: xr.DataArray, lats: Floats, lons: Floats) -> tuple[Floats, Floats] | None:
    """Return unit vectors along the grid's axes, by its projection, or by its points where none is stated."""
    crs = projection_of(part, variable)
    if crs is not None:
        return axes_by_projection(crs, lats, lons)
    if PROJECTION in variable.attrs or lats.ndim != 2 or lats.shape[1] < 2:
        return None
    columns = part.variables.get(variable.dims[-1])
    falls = columns is not None and columns.ndim == 1 and columns.dtype.kind in "iuf" and columns[0] > columns[-1]
    return axes_by_points(lats, lons, westward=bool(falls))


def _turn_deg(along: Floats) -> float:
    """Return the most by which rows lie off east [degree]."""
    return float(np.nanmax(np.abs(np.degrees(np.arctan2(along[..., 1], along[..., 0])))))


def _turned(
    fields: Mapping[str, xr.DataArray], names: Sequence[str], axes: tuple[Floats, Floats]
) -> dict[str, xr.DataArray]:
    """Return the east and north components of a vector, under the names of those along x and y."""
    x = fields[names[0]]
    y = fields[names[1]].transpose(*x.dims)
    kind = np.result_type(x.dtype, np.float32)
    (x_east, x_north), (y_east, y_north) = (np.moveaxis(axis.astype(kind), -1, 0) for axis in axes)
    east, north = x.data * x_east + y.data * y_east, x.data * x_north + y.data * y_north
    return {names[0]: x.copy(data=east), names[1]: y.copy(data=north)}
