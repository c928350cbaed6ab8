"""Wind along the axes of projected grids comes out true, set beside displacements on the projection's own Earth."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, SPAN, TIME, write
from grib_case import (
    AIR,
    COVER,
    GRID_RELATIVE,
    RADIUS_M,
    SOUTHERN_LAMBERT,
    U10,
    V10,
    Floats,
    Message,
    places,
    write_grib,
)
from pyproj import Geod, Proj

from planner.domain.errors import InputError
from planner.readers.forecast.reader import read_forecast
from planner.readers.forecast.survey import survey

WITHIN_DEG = 0.1
EAST_M_S, NORTH_M_S = 8.0, -3.0
SPHERE = f"+a={RADIUS_M} +b={RADIUS_M}"
SPHERE_1 = "+a=6367470 +b=6367470"  # m, the only sphere of GRIB 1
WGS84 = "+ellps=WGS84"


@dataclass(frozen=True)
class Case:
    """A grid as GRIB states it, and the same as PROJ does."""

    grid: dict[str, Any]
    proj: str
    earth: str = SPHERE
    edition: int = 2
    keys: dict[str, Any] = field(default_factory=dict)


NORTHERN_LAMBERT = SOUTHERN_LAMBERT | {
    "latitudeOfFirstGridPointInDegrees": 38.0,
    "longitudeOfFirstGridPointInDegrees": 170.0,
    "LaDInDegrees": 45.0,
    "LoVInDegrees": 190.0,
    "Latin1InDegrees": 45.0,
    "Latin2InDegrees": 45.0,
}
STEREOGRAPHIC: dict[str, Any] = {
    "gridType": "polar_stereographic",
    "Nx": 41,
    "Ny": 31,
    "latitudeOfFirstGridPointInDegrees": 40.0,
    "longitudeOfFirstGridPointInDegrees": 172.0,
    "LaDInDegrees": 60.0,
    "orientationOfTheGridInDegrees": 200.0,
    "DxInMetres": 50000,
    "DyInMetres": 50000,
    "jScansPositively": 1,
}
SOUTHERN_STEREOGRAPHIC = STEREOGRAPHIC | {
    "projectionCentreFlag": 128,
    "latitudeOfFirstGridPointInDegrees": -40.0,
    "LaDInDegrees": -60.0,
    "orientationOfTheGridInDegrees": 150.0,
}
ROTATED: dict[str, Any] = {
    "gridType": "rotated_ll",
    "Ni": 41,
    "Nj": 31,
    "jScansPositively": 1,
    "latitudeOfFirstGridPointInDegrees": -7.5,
    "longitudeOfFirstGridPointInDegrees": 350.0,
    "latitudeOfLastGridPointInDegrees": 7.5,
    "longitudeOfLastGridPointInDegrees": 10.0,
    "iDirectionIncrementInDegrees": 0.5,
    "jDirectionIncrementInDegrees": 0.5,
    "latitudeOfSouthernPoleInDegrees": -50.0,
    "longitudeOfSouthernPoleInDegrees": 178.0,
}
MERCATOR: dict[str, Any] = {
    "gridType": "mercator",
    "Ni": 41,
    "Nj": 31,
    "jScansPositively": 1,
    "latitudeOfFirstGridPointInDegrees": -36.0,
    "longitudeOfFirstGridPointInDegrees": 171.0,
    "latitudeOfLastGridPointInDegrees": -22.56,
    "longitudeOfLastGridPointInDegrees": 191.0,
    "LaDInDegrees": -28.0,
    "DiInMetres": 49091,
    "DjInMetres": 49091,
}
LCC_SOUTH = "+proj=lcc +lat_0=-30 +lon_0=160 +lat_1=-25 +lat_2=-40"
STERE_NORTH = "+proj=stere +lat_0=90 +lat_ts=60 +lon_0=200"
OBLIQUE = "+proj=ob_tran +o_proj=eqc +o_lat_p=50 +o_lon_p=0 +lon_0=178"
CASES = {
    "Lambert, southern": Case(SOUTHERN_LAMBERT, LCC_SOUTH),
    "Lambert, southern, GRIB 1": Case(SOUTHERN_LAMBERT, LCC_SOUTH, SPHERE_1, 1),
    "Lambert, tangent, northern": Case(NORTHERN_LAMBERT, "+proj=lcc +lat_0=45 +lon_0=190 +lat_1=45"),
    "Lambert on WGS84": Case({"shapeOfTheEarth": 5} | SOUTHERN_LAMBERT, LCC_SOUTH, WGS84),
    "Lambert, rows from the north": Case(
        SOUTHERN_LAMBERT | {"latitudeOfFirstGridPointInDegrees": -22.0, "jScansPositively": 0}, LCC_SOUTH
    ),
    "Lambert, column by column": Case(SOUTHERN_LAMBERT | {"jPointsAreConsecutive": 1}, LCC_SOUTH),
    "polar stereographic": Case(STEREOGRAPHIC, STERE_NORTH),
    "polar stereographic, GRIB 1": Case(
        {k: v for k, v in STEREOGRAPHIC.items() if k != "LaDInDegrees"}, STERE_NORTH, SPHERE_1, 1
    ),
    "polar stereographic, southern": Case(SOUTHERN_STEREOGRAPHIC, "+proj=stere +lat_0=-90 +lat_ts=-60 +lon_0=150"),
    "rotated": Case(ROTATED, OBLIQUE),
    "rotated, GRIB 1": Case(ROTATED, OBLIQUE, SPHERE_1, 1),
    "Mercator": Case(MERCATOR, "+proj=merc +lat_ts=-28"),
}


def bearing_of_x(case: Case, lat: Floats, lon: Floats) -> Floats:
    """Return the true bearing in which x grows at some places, by going half a kilometre either way [degree]."""
    projection = Proj(f"{case.proj} {case.earth}")
    x, y = projection(lon, lat)
    (west, south), (east, north) = (projection(x + step, y, inverse=True) for step in (-500.0, 500.0))
    forward, _, _ = Geod(case.earth).inv(west, south, east, north)
    return np.asarray(forward)


def along_axes(
    case: Case, lat: Floats, lon: Floats, east: Floats | float, north: Floats | float
) -> tuple[Floats, Floats]:
    """Return the parts along x and y of a vector given by its true ones."""
    turn = np.radians(90.0 - bearing_of_x(case, lat, lon))
    return east * np.cos(turn) + north * np.sin(turn), north * np.cos(turn) - east * np.sin(turn)


def grib_of(case: Case, path: Path, wind: tuple[Floats, Floats], *, flag: int = GRID_RELATIVE) -> Path:
    """Write wind along the axes, air and cloud at two times."""
    keys = {"resolutionAndComponentFlags": flag}
    fields = [(U10, wind[0]), (V10, wind[1]), (AIR, 290.0), (COVER, 0.5)]
    # the fields lie apart, as files that are joined from others have them
    messages = [Message(what, values, step, keys) for what, values in fields for step in ("0", "6")]
    return write_grib(path, case.grid, messages, edition=case.edition)


def off_deg(forecast: xr.Dataset, east: Floats | float, north: Floats | float) -> Floats:
    """Return by how much the wind's direction differs from a true one; NaN where there is none [degree]."""
    ours = np.arctan2(forecast["wind_east_m_s"], forecast["wind_north_m_s"]).to_numpy()[0]
    return np.asarray((np.degrees(ours - np.arctan2(east, north)) + 180.0) % 360.0 - 180.0)


def joined(path: Path) -> xr.Dataset:
    """Return the whole of a file on its regular grid; NaN beyond its points."""
    account = survey([path], corridor=None, span=None, departure=None)
    assert account.all_faults == ()
    assert account.joined is not None
    return account.joined


@pytest.mark.external(source="PROJ's projections and geodesics, by displacement along x", kind="library")
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", CASES)
def test_wind_along_a_grids_axes_comes_out_true_at_every_node(name: str, tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    case = CASES[name]
    lat, lon = places(case.grid, edition=case.edition)
    assert lon.min() < 180.0 < lon.max()
    wind = along_axes(case, lat, lon, EAST_M_S, NORTH_M_S)
    if name != "Mercator":
        assert np.abs(90.0 - bearing_of_x(case, lat, lon)).max() > 5.0
    forecast = joined(grib_of(case, tmp_path / "f.grb", wind))
    off = off_deg(forecast, EAST_M_S, NORTH_M_S)
    assert np.isfinite(off).mean() > 0.6
    assert np.nanmax(np.abs(off)) < WITHIN_DEG
    speed = np.hypot(forecast["wind_east_m_s"], forecast["wind_north_m_s"])
    np.testing.assert_allclose(speed.to_numpy()[np.isfinite(speed)], np.hypot(EAST_M_S, NORTH_M_S), rtol=1e-4)


@pytest.mark.external(source="PROJ's projections and geodesics, by displacement along x", kind="library")
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", ["Lambert, southern", "rotated", "Lambert, column by column"])
def test_a_wind_that_shifts_from_place_to_place_is_interpolated_as_a_true_one(name: str, tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    case = CASES[name]
    lat, lon = places(case.grid, edition=case.edition)
    middle_lat, middle_lon = float(lat.mean()), float(lon.mean())

    def shifting(lat: Any, lon: Any) -> tuple[Any, Any]:
        return 6.0 + 0.4 * (lat - middle_lat), -4.0 + 0.3 * (lon - middle_lon)

    path = grib_of(case, tmp_path / "f.grb", along_axes(case, lat, lon, *shifting(lat, lon)))
    south, east = middle_lat - 4.0, middle_lon + 5.0
    forecast = read_forecast([path], corridor=(south, south + 8.0, east - 10.0, east), span=None)
    assert "are turned to true east and north" in forecast.attrs["notes"]
    at_lat, at_lon = np.meshgrid(forecast["lat"], forecast["lon"], indexing="ij")
    assert at_lon.min() < 180.0 < at_lon.max()
    assert np.abs(off_deg(forecast, *shifting(at_lat, at_lon))).max() < WITHIN_DEG


@pytest.mark.filterwarnings("ignore")
def test_a_wind_that_grib_states_true_is_not_turned(tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    case = CASES["Lambert, southern"]
    path = grib_of(case, tmp_path / "f.grb", (np.float64(EAST_M_S), np.float64(NORTH_M_S)), flag=0)
    forecast = read_forecast([path], corridor=CORRIDOR, span=None)
    assert np.abs(off_deg(forecast, EAST_M_S, NORTH_M_S)).max() < 1e-3
    assert "turned" not in forecast.attrs["notes"]


def netcdf(case: Case, lat: Floats, lon: Floats, names: tuple[str, str] | None, **mapping: Any) -> xr.Dataset:
    """Wind along the axes as NetCDF has it, by its standard names and, where one is given, a grid mapping."""
    wind = along_axes(case, lat, lon, EAST_M_S, NORTH_M_S)
    fields = {
        "u10": (wind[0], "m s-1", names[0] if names else None),
        "v10": (wind[1], "m s-1", names[1] if names else None),
        "t2m": (np.full(lat.shape, 290.0), "K", "air_temperature"),
        "tcc": (np.full(lat.shape, 0.5), "1", "cloud_area_fraction"),
    }
    data = xr.Dataset(
        {
            name: (
                ("time", "y", "x"),
                np.broadcast_to(values, (TIME.size, *lat.shape)),
                {"units": units} | ({"standard_name": standard} if standard else {}),
            )
            for name, (values, units, standard) in fields.items()
        },
        coords={
            "time": ("time", TIME, {"standard_name": "time"}),
            "latitude": (("y", "x"), lat, {"standard_name": "latitude"}),
            "longitude": (("y", "x"), lon, {"standard_name": "longitude"}),
        },
    )
    if mapping:
        data["crs"] = ((), 0, mapping)
        for name in fields:
            data[name].attrs["grid_mapping"] = "crs"
    return data


LCC_MAPPING = {
    "grid_mapping_name": "lambert_conformal_conic",
    "standard_parallel": [-25.0, -40.0],
    "longitude_of_central_meridian": 160.0,
    "latitude_of_projection_origin": -30.0,
    "earth_radius": RADIUS_M,
}
ALONG, TRUE = ("x_wind", "y_wind"), ("eastward_wind", "northward_wind")


def lambert_nodes() -> tuple[Case, Floats, Floats]:
    case = CASES["Lambert, southern"]
    lat, lon = places(case.grid)
    return case, lat.reshape(31, 41), (lon.reshape(31, 41) + 180.0) % 360.0 - 180.0


@pytest.mark.external(source="PROJ's projections and geodesics, by displacement along x", kind="library")
@pytest.mark.parametrize(
    ("order", "stated"),
    [
        *(
            (order, stated)
            for order in ("as it is", "from the north", "from the east", "x first")
            for stated in (0, 1)
        ),
        ("rounded", 1),  # such points alone tell the axes to half a degree only
    ],
)
def test_netcdf_wind_by_x_and_y_is_turned_by_the_projection_or_by_the_points(
    order: str, stated: int, tmp_path: Path
) -> None:
    pytest.importorskip("cfgrib")
    data = netcdf(*lambert_nodes(), ALONG, **(LCC_MAPPING if stated else {}))
    if order == "from the north":
        data = data.isel(y=slice(None, None, -1))
    if order == "from the east":  # that x falls must then be said
        data = data.assign_coords(x=np.arange(41.0)).isel(x=slice(None, None, -1))
    if order == "x first":
        data = data.transpose("time", "x", "y")
    if order == "rounded":
        data = data.assign_coords(latitude=data["latitude"].round(2), longitude=data["longitude"].round(2))
    forecast = joined(write(data, tmp_path / "f.nc"))
    assert np.nanmax(np.abs(off_deg(forecast, EAST_M_S, NORTH_M_S))) < WITHIN_DEG


def test_a_curvilinear_grid_that_does_not_say_what_its_wind_means_is_refused(tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    path = write(netcdf(*lambert_nodes(), None), tmp_path / "f.nc")
    with pytest.raises(InputError) as caught:
        read_forecast([path], corridor=CORRIDOR, span=SPAN)
    message = str(caught.value)
    assert "nothing says whether u10 and v10 lie along the axes of the projected grid" in message
    assert "standard_name x_wind and y_wind, or eastward_wind and northward_wind" in message


def test_a_curvilinear_grid_whose_rows_run_east_needs_no_statement(tmp_path: Path) -> None:
    case, lat, lon = (
        CASES["Mercator"],
        *np.meshgrid(np.arange(-38.0, -18.0, 0.5), np.arange(170.0, 190.0, 0.5), indexing="ij"),
    )
    path = write(netcdf(case, lat, lon, None), tmp_path / "f.nc")
    forecast = read_forecast([path], corridor=CORRIDOR, span=SPAN)
    assert np.abs(off_deg(forecast, EAST_M_S, NORTH_M_S)).max() < WITHIN_DEG


def test_one_component_along_the_axes_without_the_other_is_refused(tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    path = write(netcdf(*lambert_nodes(), ALONG, **LCC_MAPPING).drop_vars("v10"), tmp_path / "f.nc")
    with pytest.raises(InputError, match="its other component is not there"):
        read_forecast([path], corridor=CORRIDOR, span=SPAN)


def test_names_that_contradict_each_other_are_refused(tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    path = write(netcdf(*lambert_nodes(), ("x_wind", "northward_wind"), **LCC_MAPPING), tmp_path / "f.nc")
    with pytest.raises(InputError, match="one is said to lie along the grid's axes, the other not"):
        read_forecast([path], corridor=CORRIDOR, span=SPAN)


def test_a_current_along_the_axes_is_turned_like_the_wind(tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    data = netcdf(*lambert_nodes(), ALONG, **LCC_MAPPING)
    for wind, current, axis in (("u10", "uo", "x"), ("v10", "vo", "y")):
        standard = f"sea_water_{axis}_velocity"
        data[current] = (data[wind] / 10.0).assign_attrs(data[wind].attrs | {"standard_name": standard})
    forecast = read_forecast([write(data, tmp_path / "f.nc")], corridor=(-32.0, -24.0, 176.0, 184.0), span=SPAN)
    np.testing.assert_allclose(forecast["current_east_m_s"], EAST_M_S / 10.0, atol=1e-3)
    np.testing.assert_allclose(forecast["current_north_m_s"], NORTH_M_S / 10.0, atol=1e-3)
