"""Maps of a forecast: hatch where there is cloud, nothing beyond the grid, whole across 180 and round the Earth."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
import xarray as xr

from planner.domain.arrays import Floats
from planner.domain.results.forecast import ForecastAccount
from planner.presentation.drawing.maps.map_sheet import MARGIN_PX
from planner.presentation.drawing.maps.weather_map import weather_pictures
from planner.presentation.pages.weather_page import standing_alone
from planner.presentation.words.wording import latitude, longitude

TIME = np.datetime64("2027-05-08T00:00", "ns") + np.arange(5) * np.timedelta64(6, "h")


def account(lat: Floats, lon: Floats, cover: Floats) -> ForecastAccount:
    """Return an account of one member's cloud (lat, lon), the same at all times, and a westerly of 20 m/s."""
    shape = (1, TIME.size, lat.size, lon.size)
    dims = ("member", "time", "lat", "lon")
    joined = xr.Dataset(
        {
            "cloud_cover": (dims, np.broadcast_to(cover, shape)),
            "wind_east_m_s": (dims, np.full(shape, 20.0)),
            "wind_north_m_s": (dims, np.zeros(shape)),
        },
        coords={"member": [0], "time": TIME, "lat": lat, "lon": lon},
    )
    return ForecastAccount((), (), (), (), (), (), 1, None, route_only=False, joined=joined)


def hatch_x(of: ForecastAccount) -> Floats:
    """Return where, from left to right, hatch is drawn on the first wide map [px]."""
    pictures, _ = weather_pictures(of)
    root = ET.fromstring(str(pictures[0].drawings[0]))
    path = next((each.attrib["d"] for each in root.iter("path") if each.attrib["class"] == "hatch"), "")
    return np.array([float(x) for x in re.findall(r"[ML]([\d.]+) ", path)])


def test_hatch_stands_where_cloud_is_and_thickens_with_it() -> None:
    lat, lon = np.linspace(-35.0, -20.0, 16), np.linspace(170.0, 190.0, 21)
    west = np.where(lon < 179.5, 0.9, 0.0)[None, :] * np.ones((lat.size, 1))
    drawn = hatch_x(account(lat, lon, west))
    assert drawn.size > 100
    assert drawn.max() < 380.0  # px, about the middle of the paper
    clear, some, thick = (hatch_x(account(lat, lon, np.full((16, 21), part))).size for part in (0.1, 0.3, 0.9))
    assert clear == 0
    assert thick == pytest.approx(4 * some, rel=0.1)


def test_nothing_is_drawn_beyond_the_grid() -> None:
    lat, lon = np.linspace(-35.0, -20.0, 16), np.linspace(170.0, 190.0, 21)
    drawn = hatch_x(account(lat, lon, np.ones((16, 21))))
    pictures, _ = weather_pictures(account(lat, lon, np.ones((16, 21))))
    edge = next(
        each.attrib["d"]
        for each in ET.fromstring(str(pictures[0].drawings[0])).iter("path")
        if each.attrib["class"] == "edge"
    )
    sides = np.array([float(x) for x in re.findall(r"[ML]([\d.]+) ", edge)])
    assert drawn.min() >= sides.min() - 0.1
    assert drawn.max() <= sides.max() + 0.1


def test_cloud_goes_on_across_180() -> None:
    lat, lon = np.linspace(-35.0, -20.0, 16), np.linspace(170.0, 190.0, 21)
    middle = np.where(np.abs(lon - 180.0) < 3.0, 0.9, 0.0)[None, :] * np.ones((16, 1))
    drawn = np.sort(hatch_x(account(lat, lon, middle)))
    assert drawn.min() < 360.0 < drawn.max()
    assert np.diff(drawn).max() < 40.0


@pytest.mark.parametrize(
    "lon", [np.arange(0.0, 360.0, 10.0), np.arange(-180.0, 180.0, 10.0), np.arange(-10.0, 361.0, 10.0)]
)
def test_a_grid_round_the_earth_is_drawn_whole(lon: Floats, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "planner.presentation.drawing.maps.map_sheet.land_within", lambda *_: shapely.MultiPolygon()
    )  # seconds
    lat = np.linspace(-90.0, 90.0, 19)
    drawn = np.sort(hatch_x(account(lat, lon, np.ones((19, lon.size)))))
    assert drawn[0] < MARGIN_PX + 10.0
    assert drawn[-1] > 680.0
    assert np.diff(drawn).max() < 30.0


def test_a_single_point_is_drawn() -> None:
    pictures, (table,) = weather_pictures(account(np.array([-30.0]), np.array([175.0]), np.array([[0.5]])))
    assert len(pictures) == 3
    assert table.rows[0][1:] == (
        f"{latitude(-30.0)} {longitude(175.0)}",
        "cloud 50\N{NO-BREAK SPACE}%",
        "from 270° 39 kn",
    )


def test_the_picture_alone_is_a_document() -> None:
    lat, lon = np.linspace(-35.0, -20.0, 4), np.linspace(170.0, 190.0, 5)
    pictures, _ = weather_pictures(account(lat, lon, np.full((4, 5), 0.5)))
    root = ET.fromstring(standing_alone(pictures))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert len(root.findall("{http://www.w3.org/2000/svg}svg")) == 3
