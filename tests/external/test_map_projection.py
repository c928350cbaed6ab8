"""The map against the published projection, and its land against published areas."""

from __future__ import annotations

import numpy as np
import pyproj
import pytest
import shapely

from planner.presentation.drawing.maps.coastline import land_within
from planner.presentation.drawing.maps.map_sheet import sheet_for

SNYDER = "Snyder 1987, Map Projections: A Working Manual, USGS Professional Paper 1395, equations 7-6 and 7-7"
A_M = 6378137.0  # WGS84, NGA.STND.0036
ECCENTRICITY = np.sqrt(0.00669437999014)  # WGS84, NGA.STND.0036


@pytest.mark.external(source=SNYDER, kind="paper")
@pytest.mark.parametrize("width", [360.0, 720.0])
def test_the_sheet_is_the_ellipsoid_s_mercator(width: float) -> None:
    lon, lat = np.array([174.1, 180.0, 184.8, 178.3]), np.array([-35.3, -28.0, -21.1, -30.9])
    sheet = sheet_for(lon, lat, width)
    x = A_M * np.radians(lon)
    phi = np.radians(lat)
    e_sin = ECCENTRICITY * np.sin(phi)
    y = A_M * np.log(np.tan(np.pi / 4 + phi / 2) * ((1 - e_sin) / (1 + e_sin)) ** (ECCENTRICITY / 2))
    paper = sheet.place(lon, lat)
    scale = (paper[2, 0] - paper[0, 0]) / (x[2] - x[0])
    # 1e-6 px: both are the same closed form in double precision
    np.testing.assert_allclose(paper[:, 0] - paper[0, 0], scale * (x - x[0]), atol=1e-6)
    np.testing.assert_allclose(paper[:, 1] - paper[0, 1], -scale * (y - y[0]), atol=1e-6)


@pytest.mark.external(
    source="Natural Earth 1:10m land; areas of islands as almanacs print them", kind="dataset", recalled=True
)
@pytest.mark.parametrize(
    ("inside", "area_km2"),
    [
        ((176.0, -38.9), 113_700.0),  # North Island of New Zealand
        ((170.8, -43.9), 150_400.0),  # South Island of New Zealand
        ((-18.5, 65.0), 102_800.0),  # Iceland
        ((80.7, 7.5), 65_000.0),  # Sri Lanka
    ],
)
def test_islands_have_their_areas(inside: tuple[float, float], area_km2: float) -> None:
    lon, lat = inside
    around = shapely.get_parts(land_within(lon - 12.0, lon + 12.0, lat - 9.0, lat + 9.0))
    (island,) = [piece for piece in around if piece.contains(shapely.Point(inside))]
    shown = abs(pyproj.Geod(ellps="WGS84").geometry_area_perimeter(island)[0]) / 1e6
    assert shown == pytest.approx(area_km2, rel=0.02)  # a coast at 1:10 million is smoothed; almanacs count islets
