"""One forecast in many dialects is read to the same values."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, LAT, LON, SPAN, START, TIME, change, plain_forecast, write

from planner.domain.glossary import FORECAST, FORECAST_OPTIONAL
from planner.domain.schema import check_dataset
from planner.readers.forecast.reader import read_forecast

KNOT = 1852.0 / 3600.0
LAYERS = {name: quantity for name, quantity in FORECAST_OPTIONAL.items() if name.startswith("cloud_")}
SHORT_NAMES = {"clt": "tcc", "cll": "lcc", "clm": "mcc", "clh": "hcc", "ua": "u10", "va": "v10", "ta": "t2m"}
COVERS = ("clt", "cll", "clm", "clh")


def read(path: Path) -> xr.Dataset:
    return read_forecast([path], corridor=CORRIDOR, span=SPAN)


def nameless(forecast: xr.Dataset) -> xr.Dataset:
    for name in forecast.data_vars:
        del forecast[name].attrs["standard_name"]
    return forecast.rename(SHORT_NAMES)


def covers(forecast: xr.Dataset, factor: float, units: str) -> xr.Dataset:
    for name in COVERS:
        forecast = change(forecast, name, factor=factor, units=units)
    return forecast


def lead_times(forecast: xr.Dataset) -> xr.Dataset:
    steps = (TIME - START).astype("timedelta64[ns]")
    forecast = forecast.rename(time="step").assign_coords(step=steps)
    return forecast.assign_coords(time=((), START, {"standard_name": "forecast_reference_time"}))


def polar_wind(forecast: xr.Dataset) -> xr.Dataset:
    east, north = forecast["ua"], forecast["va"]
    speed = np.hypot(east, north) / KNOT
    source = np.degrees(np.arctan2(-east, -north)) % 360.0
    speed.attrs, source.attrs = {"units": "kn"}, {"units": "degree"}
    return forecast.drop_vars(["ua", "va"]).assign(wspd=speed, wdir=source)


def west_and_east(forecast: xr.Dataset) -> xr.Dataset:
    forecast["lon"] = (forecast["lon"] + 180.0) % 360.0 - 180.0
    return forecast.sortby("lon")


def upper_air(forecast: xr.Dataset) -> xr.Dataset:
    forecast["u100"] = (forecast["ua"] * 2.0).assign_attrs(
        units="m s-1", standard_name="eastward_wind", level="100 m above ground"
    )
    return forecast


DIALECTS: dict[str, Callable[[xr.Dataset], xr.Dataset]] = {
    "as it is": lambda f: f,
    "short names without standard names": nameless,
    "percent": lambda f: covers(f, 100.0, "%"),
    "oktas": lambda f: covers(f, 8.0, "okta"),
    "fraction as GRIB words it": lambda f: covers(f, 1.0, "(0 - 1)"),
    "percent without units": lambda f: covers(f, 100.0, ""),
    "Celsius": lambda f: change(f, "ta", offset=-273.15, units="degC"),
    "Fahrenheit": lambda f: change(f, "ta", factor=1.8, offset=-459.67, units="degF"),
    "knots": lambda f: change(change(f, "ua", factor=1 / KNOT, units="kn"), "va", factor=1 / KNOT, units="knots"),
    "kilometres an hour": lambda f: change(
        change(f, "ua", factor=3.6, units="km/h"), "va", factor=3.6, units="km h-1"
    ),
    "speed and direction": polar_wind,
    "latitudes falling": lambda f: f.isel(lat=slice(None, None, -1)),
    "longitudes -180 to 180": west_and_east,
    "longitudes below -180": lambda f: f.assign_coords(lon=f["lon"] - 360.0),
    "other order of axes": lambda f: f.transpose("lat", "time", "lon", "member"),
    "axes named otherwise": lambda f: f.rename(lat="latitude", lon="longitude", time="valid_time", member="number"),
    "lead times after one start": lead_times,
    "times out of order": lambda f: f.isel(time=[3, 0, 8, 1, 2, 7, 4, 6, 5]),
    "a time given twice": lambda f: f.isel(time=[0, 1, 2, 2, 3, 4, 5, 6, 7, 8]),
    "members out of order": lambda f: f.isel(member=[2, 0, 1]),
    "a height axis of one": lambda f: f.assign(ta=f["ta"].expand_dims(height=[2.0], axis=2)),
    "wind at 100 m besides": upper_air,
    "single precision": lambda f: f.astype("float32").map(lambda v: v.assign_attrs(f[v.name].attrs)),
}


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_reads_to_the_same_forecast(dialect: str, tmp_path: Path) -> None:
    given = plain_forecast()
    file = DIALECTS[dialect](plain_forecast())
    file.to_netcdf(tmp_path / "forecast.nc")
    forecast = read(tmp_path / "forecast.nc")
    check_dataset(forecast, {**FORECAST, **LAYERS}, door="forecast")
    want = given.sel(lat=slice(-35.0, -21.0), lon=slice(173.0, 187.0), time=slice(TIME[0], TIME[6]))
    assert np.allclose(forecast["lon"] % 360.0, want["lon"])
    assert np.all(np.diff(forecast["lon"]) > 0.0)
    assert np.allclose(forecast["lat"], want["lat"])
    assert np.array_equal(forecast["time"], want["time"])
    tolerance = 2e-5  # single precision at 290 K
    for name, source in (("cloud_cover", "clt"), ("cloud_low", "cll"), ("wind_east_m_s", "ua")):
        assert np.allclose(forecast[name], want[source], atol=tolerance), name
    assert np.allclose(forecast["wind_north_m_s"], want["va"], atol=tolerance)
    assert np.allclose(forecast["air_temp_c"], want["ta"] - 273.15, atol=tolerance)


def test_the_corridor_is_cut_with_a_cell_to_spare(tmp_path: Path) -> None:
    forecast = read(write(plain_forecast(), tmp_path / "forecast.nc"))
    assert forecast["lat"].to_numpy()[[0, -1]].tolist() == [-35.0, -21.0]
    assert forecast["lon"].to_numpy()[[0, -1]].tolist() == [173.0, 187.0]
    assert forecast["time"].to_numpy()[0] <= SPAN[0] - np.timedelta64(6, "h")


def test_without_corridor_and_span_all_is_read(tmp_path: Path) -> None:
    forecast = read_forecast([write(plain_forecast(), tmp_path / "forecast.nc")], corridor=None, span=None)
    assert forecast.sizes == {"member": 3, "time": TIME.size, "lat": LAT.size, "lon": LON.size}


def world(step_deg: float, first: float) -> xr.Dataset:
    """A global forecast whose temperature tells the longitude."""
    lon = first + np.arange(0.0, 360.0, step_deg)
    lat = np.arange(-90.0, 90.1, 10.0)
    shape = (2, lat.size, lon.size)
    dims = ("time", "lat", "lon")
    lon_of = (np.broadcast_to(lon, shape) + 180.0) % 360.0 - 180.0
    return xr.Dataset(
        {
            "tcc": (dims, np.full(shape, 0.5), {"units": "1"}),
            "u10": (dims, np.zeros(shape), {"units": "m/s"}),
            "v10": (dims, np.zeros(shape), {"units": "m/s"}),
            "t2m": (dims, lon_of / 10.0, {"units": "degC"}),
        },
        coords={"time": START + np.array([0, 48]) * np.timedelta64(1, "h"), "lat": lat, "lon": lon},
    )


@pytest.mark.parametrize("first", [0.0, -180.0, 348.0])
@pytest.mark.parametrize(("west", "east"), [(-10.0, 12.0), (170.0, 195.0), (-190.0, -165.0), (100.0, 120.0)])
def test_a_global_grid_is_cut_across_any_meridian(first: float, west: float, east: float, tmp_path: Path) -> None:
    path = write(world(2.5, first), tmp_path / "world.nc")
    forecast = read_forecast([path], corridor=(-40.0, -20.0, west, east), span=None)
    lon = forecast["lon"].to_numpy()
    assert np.allclose(np.diff(lon), 2.5)
    assert lon[0] <= west - 2.5 + 1e-9
    assert lon[-1] >= east + 2.5 - 1e-9
    assert lon.size < 20
    told = forecast["air_temp_c"].to_numpy()[0, 0, 0] * 10.0
    assert np.allclose((told - lon + 180.0) % 360.0, 180.0, atol=1e-6)


def test_one_file_a_member_makes_an_ensemble_with_the_control_first(tmp_path: Path) -> None:
    whole = plain_forecast()
    names = ["run_p01.nc", "run_p02.nc", "run_c00.nc"]
    paths = [
        write(whole.isel(member=m, drop=True), tmp_path / name) for m, name in zip((1, 2, 0), names, strict=True)
    ]
    forecast = read_forecast(paths, corridor=None, span=None)
    assert np.allclose(forecast["cloud_cover"], whole["clt"])
    assert forecast["member"].to_numpy().tolist() == [0, 1, 2]


def test_files_of_different_quantities_are_merged(tmp_path: Path) -> None:
    whole = plain_forecast()
    wind = write(whole[["ua", "va"]], tmp_path / "wind.nc")
    rest = write(whole.drop_vars(["ua", "va"]), tmp_path / "rest.nc")
    forecast = read_forecast([wind, rest], corridor=None, span=None)
    assert np.allclose(forecast["wind_east_m_s"], whole["ua"])
    assert forecast.attrs["source"] == "wind.nc, rest.nc"


def test_wind_on_a_coarser_grid_is_brought_to_that_of_the_cloud(tmp_path: Path) -> None:
    whole = plain_forecast()
    east = (whole["lat"] * 0.1 + whole["lon"] * 0.01 + whole["clt"] * 0.0).transpose(*whole["ua"].dims)
    whole["ua"] = east.assign_attrs(whole["ua"].attrs)
    wind = write(whole[["ua", "va"]].isel(lat=slice(None, None, 2), lon=slice(None, None, 2)), tmp_path / "wind.nc")
    rest = write(whole.drop_vars(["ua", "va"]), tmp_path / "rest.nc")
    forecast = read_forecast([wind, rest], corridor=None, span=None)
    assert np.allclose(forecast["wind_east_m_s"], whole["ua"], atol=1e-5)
    assert "ua is brought to the grid and times of the rest." in forecast.attrs["notes"]


def test_hourly_wind_beside_six_hourly_cloud_keeps_its_hours(tmp_path: Path) -> None:
    whole = plain_forecast()
    hourly = TIME[0] + np.arange(0, 49) * np.timedelta64(1, "h")
    wind = whole[["ua", "va"]].interp(time=hourly)
    wind["ua"], wind["va"] = (wind[name].assign_attrs(whole[name].attrs) for name in ("ua", "va"))
    paths = [write(wind, tmp_path / "wind.nc"), write(whole.drop_vars(["ua", "va"]), tmp_path / "rest.nc")]
    forecast = read_forecast(paths, corridor=None, span=None)
    assert np.array_equal(forecast["time"], hourly)
    assert np.allclose(forecast["cloud_cover"].sel(time=TIME), whole["clt"])
    assert np.allclose(forecast["wind_east_m_s"], wind["ua"])


def test_of_two_cycles_the_later_one_wins_whatever_the_order_of_the_files(tmp_path: Path) -> None:
    whole = plain_forecast()

    def begun(forecast: xr.Dataset, hours: int) -> xr.Dataset:
        start = ((), START + np.timedelta64(hours, "h"), {"standard_name": "forecast_reference_time"})
        return forecast.assign_coords(forecast_reference_time=start)

    newer = whole.isel(time=slice(2, None)).copy()
    newer["clt"] = (newer["clt"] * 0.5).assign_attrs(whole["clt"].attrs)
    new = write(begun(newer, 12), tmp_path / "new.nc")
    old = write(begun(whole, 0), tmp_path / "old.nc")
    forecast = read_forecast([new, old], corridor=None, span=None)
    assert forecast.attrs["issued"] == "2027-05-09T00:00:00Z"
    assert np.allclose(forecast["cloud_cover"][:, :2], whole["clt"][:, :2])
    assert np.allclose(forecast["cloud_cover"][:, 2:], 0.5 * whole["clt"][:, 2:])


def projected(forecast: xr.Dataset, turn_deg: float) -> xr.Dataset:
    """A grid whose rows and columns are turned, with the wind along its own axes; values linear in place."""
    turn = np.radians(turn_deg)
    x, y = np.meshgrid(np.arange(-15.0, 15.1, 0.5), np.arange(-15.0, 15.1, 0.5))
    middle = np.cos(np.radians(-28.0))
    lon = 180.0 + (x * np.cos(turn) - y * np.sin(turn)) / middle
    lat = -28.0 + x * np.sin(turn) + y * np.cos(turn)
    east, north = 6.0, 2.0
    along, across = east * np.cos(turn) + north * np.sin(turn), -east * np.sin(turn) + north * np.cos(turn)
    fields = {
        "tcc": (0.5 + 0.01 * (lat + 28.0) + 0.005 * (lon - 180.0), "1", "cloud_area_fraction"),
        "u": (np.full(lat.shape, along), "m s-1", "x_wind"),
        "v": (np.full(lat.shape, across), "m s-1", "y_wind"),
        "t": (293.15 - 0.5 * (lat + 28.0), "K", "air_temperature"),
    }
    shape = (TIME.size, *lat.shape)
    return xr.Dataset(
        {
            name: (("time", "y", "x"), np.broadcast_to(values, shape), {"units": units, "standard_name": standard})
            for name, (values, units, standard) in fields.items()
        },
        coords={
            "time": ("time", TIME, {"standard_name": "time"}),
            "latitude": (("y", "x"), lat, {"standard_name": "latitude"}),
            "longitude": (("y", "x"), (lon + 180.0) % 360.0 - 180.0, {"standard_name": "longitude"}),
        },
    )


@pytest.mark.parametrize("turn_deg", [0.0, 25.0, -70.0])
def test_a_projected_grid_is_brought_to_a_regular_one_and_its_wind_to_true_north(
    turn_deg: float, tmp_path: Path
) -> None:
    path = write(projected(plain_forecast(), turn_deg), tmp_path / "plane.nc")
    forecast = read_forecast([path], corridor=CORRIDOR, span=SPAN)
    lat, lon = np.meshgrid(forecast["lat"], forecast["lon"], indexing="ij")
    assert np.all(np.diff(forecast["lon"]) > 0.0)
    assert lat.min() < CORRIDOR[0] < CORRIDOR[1] < lat.max()
    assert np.allclose(forecast["cloud_cover"][0, 0], 0.5 + 0.01 * (lat + 28.0) + 0.005 * (lon - 180.0), atol=1e-5)
    # the slope of the grid's rows is that of a plane map of the earth here, a degree off at the corners
    assert np.allclose(forecast["wind_east_m_s"], 6.0, atol=0.3)
    assert np.allclose(forecast["wind_north_m_s"], 2.0, atol=0.6)


def test_files_of_different_times_follow_each_other_and_the_later_named_wins(tmp_path: Path) -> None:
    whole = plain_forecast()
    old = write(whole.isel(time=slice(0, 6)), tmp_path / "old.nc")
    newer = whole.isel(time=slice(4, 9)).copy()
    newer["clt"] = (newer["clt"] * 0.5).assign_attrs(whole["clt"].attrs)
    new = write(newer, tmp_path / "new.nc")
    cover = read_forecast([old, new], corridor=None, span=None)["cloud_cover"].to_numpy()
    assert cover.shape[1] == TIME.size
    assert np.allclose(cover[:, :4], whole["clt"][:, :4])
    assert np.allclose(cover[:, 4:], 0.5 * whole["clt"][:, 4:])


def test_total_cover_is_made_of_layers_where_it_is_missing(tmp_path: Path) -> None:
    forecast = read_forecast([write(plain_forecast().drop_vars("clt"), tmp_path / "f.nc")], corridor=None, span=None)
    given = plain_forecast()
    assert np.allclose(forecast["cloud_cover"], 1.0 - (1 - given["cll"]) * (1 - given["clm"]) * (1 - given["clh"]))
    assert "overlapping at random" in forecast.attrs["notes"]


def test_layers_are_only_kept_when_all_three_are_there(tmp_path: Path) -> None:
    forecast = read(write(plain_forecast().drop_vars("clm"), tmp_path / "f.nc"))
    assert set(forecast.data_vars) == {*FORECAST, "cloud_cover"}


def test_single_gaps_are_filled_from_their_neighbours_in_time_and_told(tmp_path: Path) -> None:
    gappy = plain_forecast()
    gappy["clt"][1, 2, 5, 6] = np.nan
    forecast = read_forecast([write(gappy, tmp_path / "f.nc")], corridor=None, span=None)
    around = plain_forecast()["clt"].to_numpy()[1, [1, 3], 5, 6]
    assert float(forecast["cloud_cover"][1, 2, 5, 6]) == pytest.approx(around.mean())
    assert "clt: 1 missing values are filled" in forecast.attrs["notes"]


def test_a_node_that_is_always_missing_takes_its_nearest_neighbour(tmp_path: Path) -> None:
    gappy = plain_forecast()
    gappy["clt"][:, :, 5, 6] = np.nan
    cover = read_forecast([write(gappy, tmp_path / "f.nc")], corridor=None, span=None)["cloud_cover"].to_numpy()
    neighbours = [cover[0, 2, y, x] for y, x in ((4, 6), (6, 6), (5, 5), (5, 7))]
    assert any(cover[0, 2, 5, 6] == pytest.approx(value) for value in neighbours)


def test_reading_a_corridor_takes_little_memory(tmp_path: Path) -> None:
    lat, lon = np.arange(-90.0, 90.1, 0.5), np.arange(0.0, 360.0, 0.5)
    shape = (5, 4, lat.size, lon.size)
    dims = ("member", "time", "lat", "lon")
    field = np.full(shape, 0.5, dtype="float32")
    big = xr.Dataset(
        {
            name: (dims, field, {"units": units})
            for name, units in zip(("tcc", "u10", "v10"), ("1", "m/s", "m/s"), strict=True)
        }
        | {"t2m": (dims, field + 290.0, {"units": "K"})},
        coords={"time": TIME[:4], "lat": lat, "lon": lon, "member": np.arange(5)},
    )
    write(big, tmp_path / "big.nc")
    tracemalloc.start()
    forecast = read_forecast([tmp_path / "big.nc"], corridor=(-35.0, -20.0, 174.0, 186.0), span=None)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert forecast.nbytes < 1e6
    assert peak < 20e6 < 4 * field.nbytes
