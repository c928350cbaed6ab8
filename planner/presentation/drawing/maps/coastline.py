"""The land within a map's extent, from the coastline that the package carries."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

WHOLE_TURN_DEG = 360.0


def land_within(lon_low: float, lon_high: float, lat_low: float, lat_high: float) -> BaseGeometry:
    """Return the land inside a box, whole across the 180th meridian.

    Parameters
    ----------
    lon_low, lon_high : float
        Edges [degrees east]; ``lon_high`` may exceed 180 (170 to 190) and is greater than ``lon_low``.
    lat_low, lat_high : float
        Edges [degrees north].

    Returns
    -------
    shapely geometry
        Polygons in the box's own longitudes [degrees]; empty in mid-ocean.

    Raises
    ------
    ValueError
        When the box is empty or wider than a turn.
    """
    import shapely

    if not (lon_low < lon_high <= lon_low + WHOLE_TURN_DEG and lat_low < lat_high):
        raise ValueError(f"no box of longitudes {lon_low} to {lon_high} and latitudes {lat_low} to {lat_high}")
    with (
        as_file(files("planner.presentation.drawing.maps") / "assets" / "coastline.npz") as path,
        np.load(path) as stored,
    ):
        scale = float(stored["per_degree"])
        low, high = stored["low"] / scale, stored["high"] / scale
        in_latitude = (low[:, 1] <= lat_high) & (high[:, 1] >= lat_low)
        wanted = {
            turn: np.flatnonzero(in_latitude & (low[:, 0] + turn <= lon_high) & (high[:, 0] + turn >= lon_low))
            for turn in (-WHOLE_TURN_DEG, 0.0, WHOLE_TURN_DEG)
        }
        if not any(len(rings) for rings in wanted.values()):
            return shapely.MultiPolygon()
        start, first, polygon = stored["start"], stored["first"], stored["polygon"]
        lon_differences, lat_differences = stored["lon_differences"], stored["lat_differences"]

    def ring(index: int, turn: float) -> np.ndarray:
        part = slice(start[index], start[index + 1])
        lon = first[index, 0] + np.cumsum(lon_differences[part], dtype=np.int64)
        lat = first[index, 1] + np.cumsum(lat_differences[part], dtype=np.int64)
        return np.column_stack([lon / scale + turn, lat / scale])

    pieces = []
    for turn, rings in wanted.items():
        for number in np.unique(polygon[rings]):
            outer, *holes = (int(index) for index in np.flatnonzero(polygon == number))
            shape = shapely.Polygon(ring(outer, turn), [ring(hole, turn) for hole in holes])
            if not shape.is_valid:  # rounding may pinch a ring
                shape = shape.buffer(0)
            pieces.append(shapely.clip_by_rect(shape, lon_low, lat_low, lon_high, lat_high))
    return shapely.union_all(pieces)
