"""Where the axes of a projected grid point on Earth, by the projection that its file states or by its own points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

if TYPE_CHECKING:
    import xarray as xr
    from pyproj import CRS

PROJECTION: Final = "projection"
"""Attribute of a GRIB variable: the grid-mapping attributes of CF for its grid; empty where there are none for it."""
RELATIVE: Final = "GRIB_uvRelativeToGrid"
"""Attribute: 1 where components lie along the grid's axes, 0 where they are east and north (WMO flag table 3.3)."""
PARALLEL_ROWS: Final = frozenset(
    {"regular_ll", "regular_gg", "reduced_ll", "reduced_gg", "mercator", "unstructured_grid"}
)
"""GRIB grids without axes of their own beside east and north."""
STEP_RAD: Final = 1e-4  # rad, some 600 m on Earth: how far an axis is followed either way to find where it points


def grib_projection(message: Any) -> dict[str, Any]:
    """Return the CF grid-mapping attributes of a GRIB message's grid; empty for a kind that is not known.

    Parameters
    ----------
    message : mapping
        Of ecCodes keys.

    References
    ----------
    WMO Manual on Codes I.2, templates 3.1, 3.20 and 3.30; CF conventions 1.11, appendix F.
    """
    if message.get("earthIsOblate"):
        axes = ("earthMajorAxisInMetres", "earthMinorAxisInMetres")
        earth = dict(zip(("semi_major_axis", "semi_minor_axis"), (float(message[key]) for key in axes), strict=True))
    else:
        earth = {"earth_radius": float(message["radius"])}
    kind = message["gridType"]
    if kind == "lambert":
        return earth | {
            "grid_mapping_name": "lambert_conformal_conic",
            "standard_parallel": [float(message["Latin1InDegrees"]), float(message["Latin2InDegrees"])],
            "longitude_of_central_meridian": float(message["LoVInDegrees"]),
            "latitude_of_projection_origin": float(message["Latin1InDegrees"]),
        }
    if kind == "polar_stereographic":
        pole = -1.0 if int(message["projectionCentreFlag"]) & 128 else 1.0  # WMO flag table 3.5, bit 1
        return earth | {
            "grid_mapping_name": "polar_stereographic",
            "standard_parallel": pole * abs(float(message["LaDInDegrees"])),
            "straight_vertical_longitude_from_pole": float(message["orientationOfTheGridInDegrees"]),
            "latitude_of_projection_origin": pole * 90.0,
        }
    if kind in {"rotated_ll", "rotated_gg"}:  # a turn about the new pole moves no parallel of it
        return earth | {
            "grid_mapping_name": "rotated_latitude_longitude",
            "grid_north_pole_latitude": -float(message["latitudeOfSouthernPoleInDegrees"]),
            "grid_north_pole_longitude": float(message["longitudeOfSouthernPoleInDegrees"]) - 180.0,
        }
    return {}


def projection_of(part: xr.Dataset, variable: xr.DataArray) -> CRS | None:
    """Return the projection that a file states for a variable's grid, or None where it states none of use.

    Parameters
    ----------
    part : xarray.Dataset
        As opened.
    variable : xarray.DataArray
        One of its variables.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    stated = variable.attrs.get(PROJECTION)
    if stated is None:
        words = str(variable.attrs.get("grid_mapping", variable.encoding.get("grid_mapping", ""))).split()
        mapping = part.variables.get(words[0].rstrip(":")) if words else None
        stated = {} if mapping is None else mapping.attrs
    try:
        crs = CRS.from_cf(stated) if stated else None
    except (CRSError, KeyError, ValueError, TypeError):  # what is raised for attributes that are wrong or too few
        return None
    return crs if crs is not None and crs.is_derived and crs.source_crs is not None else None


def axes_by_projection(crs: CRS, lats: Floats, lons: Floats) -> tuple[Floats, Floats]:
    """Return unit vectors along a projection's x and y at some places.

    Parameters
    ----------
    crs : pyproj.CRS
        Projected, or geographic about another pole.
    lats, lons : array
        [degree].

    Returns
    -------
    tuple of array (..., 2)
        East and north parts of x and of y.
    """
    from pyproj import Transformer

    onto = Transformer.from_crs(crs.source_crs, crs, always_xy=True)
    ellipsoid = crs.ellipsoid
    radius_m = 6.371e6 if ellipsoid is None else float(ellipsoid.semi_major_metre)
    flattening = 1.0 / ellipsoid.inverse_flattening if ellipsoid is not None and ellipsoid.inverse_flattening else 0.0
    unit = float(crs.axis_info[0].unit_conversion_factor)  # radians or metres
    step = STEP_RAD / unit if crs.is_geographic else STEP_RAD * radius_m / unit
    x, y = onto.transform(lons, lats)

    def along(dx: float, dy: float) -> Floats:
        ends = [onto.transform(x + sign * dx, y + sign * dy, direction="INVERSE") for sign in (1.0, -1.0)]
        ahead, behind = (_position(lat, lon, flattening) for lon, lat in ends)
        return _east_north(ahead - behind, lats, lons)

    return along(step, 0.0), along(0.0, step)


def axes_by_points(lats: Floats, lons: Floats, *, westward: bool) -> tuple[Floats, Floats]:
    """Return unit vectors along the rows of a grid, and to the left of them, on a sphere.

    Parameters
    ----------
    lats, lons : array (rows, columns)
        Two columns at least [degree].
    westward : bool
        Whether x falls from column to column.

    Returns
    -------
    tuple of array (rows, columns, 2)
        East and north parts of x and of y.
    """
    # differences in space are smooth across 180 degrees and near the poles, where those of longitudes are not
    order: Any = 2 if lats.shape[1] > 2 else 1
    ahead = np.gradient(_position(lats, lons, 0.0), axis=1, edge_order=order)
    along = _east_north(-ahead if westward else ahead, lats, lons)
    return along, np.stack([-along[..., 1], along[..., 0]], axis=-1)


def _position(lats: npt.ArrayLike, lons: npt.ArrayLike, flattening: float) -> Floats:
    """Return places in space, in semi-major axes of an ellipsoid (geodetic to geocentric coordinates)."""
    phi, lam = np.radians(lats), np.radians(lons)
    squared = flattening * (2.0 - flattening)
    normal = 1.0 / np.sqrt(1.0 - squared * np.sin(phi) ** 2)
    parts = (np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), (1.0 - squared) * np.sin(phi))
    return np.stack([normal * part for part in parts], axis=-1)


def _east_north(vectors: Floats, lats: Floats, lons: Floats) -> Floats:
    """Return the east and north parts of vectors in space, made one in length."""
    phi, lam = np.radians(lats), np.radians(lons)
    ex, ey, ez = np.moveaxis(vectors, -1, 0)
    east = -np.sin(lam) * ex + np.cos(lam) * ey
    north = -np.sin(phi) * (np.cos(lam) * ex + np.sin(lam) * ey) + np.cos(phi) * ez
    parts = np.stack([east, north], axis=-1)
    with np.errstate(invalid="ignore"):  # places beyond the projection are infinite, and become NaN
        unit: Floats = parts / np.linalg.norm(parts, axis=-1, keepdims=True)
    return unit
