"""The sheet that maps are drawn on: a rectangle of a Mercator chart on wide or narrow paper, with its land."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np

from planner.domain.arrays import Floats
from planner.presentation.drawing.maps.coastline import land_within
from planner.presentation.drawing.svg import box, path, picture, rings

if TYPE_CHECKING:
    from cartopy.crs import CRS
    from shapely.geometry.base import BaseGeometry

LEAST_PAD_DEG = 0.5
PAD_OF_SPAN = 0.08
TALLEST, FLATTEST = 1.35, 0.6  # height over width of the sheet
WIDE_PX, NARROW_PX = 720.0, 360.0
MARGIN_PX = 30.0


@dataclass(frozen=True, eq=False)
class MapSheet:
    """A rectangle of a Mercator chart and its place on the paper.

    Longitudes count unwrapped from the track's first, so that no meridian is special.

    Attributes
    ----------
    middle_lon : float
        Meridian that the projection is centred on [degree].
    x, y : (float, float)
        Edges of the rectangle, projected [m].
    width : float
        Of the paper, margins included [px].
    """

    middle_lon: float
    x: tuple[float, float]
    y: tuple[float, float]
    width: float

    @property
    def height(self) -> float:
        """Height of the paper [px]."""
        return MARGIN_PX * 2 + self.scale * (self.y[1] - self.y[0])

    @property
    def edges(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the map within its margin [px]."""
        return MARGIN_PX, MARGIN_PX, self.width - MARGIN_PX, self.height - MARGIN_PX

    @property
    def scale(self) -> float:
        """Paper to projected metres [px/m]."""
        return (self.width - 2 * MARGIN_PX) / (self.x[1] - self.x[0])

    def place(self, lon: Floats, lat: Floats) -> Floats:
        """Return paper coordinates (n, 2)."""
        metres = _mercator(lon, lat, self.middle_lon)
        return MARGIN_PX + self.scale * (metres - [self.x[0], self.y[1]]) * [1.0, -1.0]

    def position(self, points: Floats) -> tuple[Floats, Floats]:
        """Return longitudes, unwrapped, and latitudes (n,) of points on the paper (n, 2)."""
        projection, degrees = _projections(self.middle_lon)
        x, y = ((points - MARGIN_PX) / self.scale * [1.0, -1.0] + [self.x[0], self.y[1]]).T
        there = degrees.transform_points(projection, x, y)
        return self.middle_lon + there[:, 0], np.asarray(there[:, 1])

    def box(self) -> tuple[float, float, float, float]:
        """Return lon_low, lon_high, lat_low, lat_high of the sheet."""
        left, top, right, bottom = self.edges
        (west, east), (south, north) = self.position(np.array([[left, bottom], [right, top]]))
        return float(west), float(east), float(south), float(north)

    def begun(self, land: str, *, label: str) -> ET.Element:
        """Return a drawing of sea and land (from ``land_path``) that assistive technology reads as this label."""
        css = "wide" if self.width == WIDE_PX else "narrow"
        root = picture(self.width, self.height, label=label, css=f"map {css}")
        box(root, "open-sea", (0.0, 0.0), (self.width, self.height))
        path(root, "land", land)
        return root


@lru_cache(maxsize=4)  # a projection takes milliseconds to make, and a sheet asks for it with every line
def _projections(middle_lon: float) -> tuple[CRS, CRS]:
    """Return Mercator about a meridian, and plain degrees counted from it."""
    import cartopy.crs as ccrs

    return ccrs.Mercator(central_longitude=middle_lon), ccrs.PlateCarree(central_longitude=middle_lon)


def _mercator(lon: Floats, lat: Floats, middle_lon: float) -> Floats:
    projection, degrees = _projections(middle_lon)
    return np.asarray(projection.transform_points(degrees, np.asarray(lon) - middle_lon, np.asarray(lat))[:, :2])


def sheet_for(lon: Floats, lat: Floats, width: float) -> MapSheet:
    """Return a sheet that holds the track with a margin of sea round it, neither too tall nor too flat.

    Parameters
    ----------
    lon, lat : array (point,)
        Of the track, longitudes unwrapped [degree].
    width : float
        Of the paper [px].
    """
    pad = max(LEAST_PAD_DEG, PAD_OF_SPAN * float(max(np.ptp(lon), np.ptp(lat))))
    sides = np.array([-pad, pad])
    return sheet_of_box(lon[[lon.argmin(), lon.argmax()]] + sides, lat[[lat.argmin(), lat.argmax()]] + sides, width)


def sheet_of_box(lon: Floats, lat: Floats, width: float) -> MapSheet:
    """Return a sheet that holds a box, neither too tall nor too flat.

    Parameters
    ----------
    lon, lat : array (2,)
        Lowest and highest, longitudes unwrapped [degree].
    width : float
        Of the paper [px].
    """
    middle = float(np.round((lon[0] + lon[1]) / 2))
    (x_low, y_low), (x_high, y_high) = _mercator(lon, lat, middle)
    across, up = x_high - x_low, y_high - y_low
    wider, taller = max(0.0, up / TALLEST - across) / 2, max(0.0, across * FLATTEST - up) / 2
    return MapSheet(middle, (x_low - wider, x_high + wider), (y_low - taller, y_high + taller), width)


def sheets_with_land(sheet_of_width: Callable[[float], MapSheet]) -> list[tuple[MapSheet, str]]:
    """Return a wide and a narrow sheet, each with the path of its land."""
    sheets = [sheet_of_width(width) for width in (WIDE_PX, NARROW_PX)]
    land = land_within(*sheets[0].box())
    return [(sheet, land_path(sheet, land)) for sheet in sheets]


def land_path(sheet: MapSheet, land: BaseGeometry) -> str:
    """Return the path of the land (from ``land_within``) on a sheet, thinned to what the paper shows."""
    import shapely

    lon_low, lon_high, *_ = sheet.box()
    thinned = land.simplify((lon_high - lon_low) / sheet.width / 2, preserve_topology=True)
    polygons = [part for part in shapely.get_parts(thinned) if part.geom_type == "Polygon"]
    outlines = [ring for polygon in polygons for ring in (polygon.exterior, *polygon.interiors)]
    return rings([sheet.place(*np.asarray(ring.coords).T[:2]) for ring in outlines])
