"""Forecast files of several weather centres, read and set beside a direct look-up, or refused for a stated reason."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from planner.domain.errors import InputError
from planner.readers.forecast import read_forecast
from planner.readers.forecast_fields import Field, read_fields
from planner.readers.forecast_file import open_parts


def fields_of(path: Path) -> dict[str, Field]:
    parts = open_parts(path)
    try:
        return {field.quantity: field for field in read_fields(parts, path.name, corridor=None, span=None)}
    finally:
        for part in parts:
            part.close()


def value(field: Field, time: np.datetime64, lat: float, lon: float) -> float:
    row, column = int(np.argmin(np.abs(field.lat - lat))), int(np.argmin(np.abs((field.lon - lon + 180) % 360 - 180)))
    assert field.lat[row] == pytest.approx(lat, abs=1e-4)
    return float(field.values[0, list(field.time).index(time), row, column])


NETCDF = ["gfs_0p25_20190515.nc", "gefs_20190515/gefs_20190515_p01.nc", "gefs_20190515/gefs_20190515_c00.nc"]


@pytest.mark.external(source="NOAA GFS and GEFS 2019-05-15, from SolarArbiter's files", kind="dataset")
@pytest.mark.parametrize("name", NETCDF)
def test_us_model_files_read_as_a_direct_look_up_reads_them(name: str, open_data: Path) -> None:
    fields = fields_of(open_data / "weather" / name)
    with xr.open_dataset(open_data / "weather" / name) as data:
        for step, row, column in ((3, 0, 0), (40, 1, 1), (-1, 0, 1)):
            time = data["time"].to_numpy()[step]
            lat, lon = float(data["latitude"][row]), float(data["longitude"][column])
            here = data.isel(time=step, latitude=row, longitude=column)
            assert value(fields["cloud_cover"], time, lat, lon) == pytest.approx(float(here["tcdc"]) / 100.0)
            assert value(fields["air_temp_c"], time, lat, lon) == pytest.approx(float(here["t2m"]) - 273.15)
            assert value(fields["wind_speed"], time, lat, lon) == pytest.approx(float(here["si10"]))
    assert next(iter(fields.values())).issued == np.datetime64("2019-05-15T00:00")


@pytest.mark.external(source="ERA5 Berlin 2017, Copernicus, from feedinlib's files", kind="dataset")
def test_a_reanalysis_file_keeps_10_m_wind_apart_from_100_m(open_data: Path) -> None:
    path = open_data / "weather" / "ERA5_Berlin_2017_ssrd_fdir.nc"
    fields = fields_of(path)
    assert set(fields) == {"wind_east_m_s", "wind_north_m_s", "air_temp_c"}
    with xr.open_dataset(path) as data:
        for step, row, column in ((0, 0, 0), (4000, 1, 2), (8759, 1, 0)):
            here = data.isel(time=step, latitude=row, longitude=column)
            place = (here["time"].to_numpy()[()], float(here["latitude"]), float(here["longitude"]))
            assert value(fields["wind_east_m_s"], *place) == pytest.approx(float(here["u10"]))
            assert value(fields["air_temp_c"], *place) == pytest.approx(float(here["t2m"]) - 273.15)


@pytest.mark.external(source="NCEP GFS 2011-10-08 in GRIB 2, from pygrib's files", kind="dataset")
@pytest.mark.filterwarnings("ignore")
def test_a_global_grib_file_reads_with_its_layers(open_data: Path) -> None:
    pytest.importorskip("cfgrib")
    path = open_data / "weather" / "NCEP_gfs.grb"
    forecast = read_forecast([path], corridor=(-40.0, -15.0, 170.0, 190.0), span=None)
    assert forecast["lon"].to_numpy()[[0, -1]].tolist() == [167.5, 192.5]
    assert forecast.attrs["issued"] == "2011-10-08T00:00:00Z"
    for quantity, level in (("cloud_low", "lowCloudLayer"), ("cloud_high", "highCloudLayer")):
        keys = {"shortName": "tcc", "typeOfLevel": level, "stepType": "avg"}
        options = {"indexpath": "", "filter_by_keys": keys}
        with xr.open_dataset(path, engine="cfgrib", backend_kwargs=options) as data:
            for lat, lon in ((-40.0, 170.0), (-27.5, 180.0), (-15.0, 190.0)):
                direct = float(data["tcc"].sel(latitude=lat, longitude=lon)) / 100.0
                assert float(forecast[quantity].sel(lat=lat, lon=lon).squeeze()) == pytest.approx(direct)


@pytest.mark.external(source="ECMWF open data 2026-03-10 00Z in GRIB 2", kind="dataset")
@pytest.mark.filterwarnings("ignore")
def test_a_quarter_degree_grib_file_gives_its_cloud_as_a_fraction(open_data: Path) -> None:
    pytest.importorskip("cfgrib")
    path = open_data / "weather" / "ECMWF_ifs_oper_surface_20260310T00.grib2"
    cover = fields_of(path)["cloud_cover"]
    options = {"indexpath": "", "filter_by_keys": {"shortName": "tcc"}}
    with xr.open_dataset(path, engine="cfgrib", backend_kwargs=options) as data:
        for lat, lon in ((-35.25, 174.0), (-21.0, -175.25), (0.0, 179.75)):
            direct = float(data["tcc"].sel(latitude=lat, longitude=lon))
            assert value(cover, cover.time[0], lat, lon) == pytest.approx(min(direct, 1.0), abs=1e-6)


REFUSED = {
    "hrrr_hourly_20190515.nc": "the grid is a projected one (5 x 5 points",
    "nam_12km_20190515.nc": "the grid is a projected one (3 x 4 points",
    "rap_20190515.nc": "the grid is a projected one (4 x 4 points",
    "gfs_0p25_20190515.nc": "the wind's speed but not its direction",
    "ERA5_Berlin_2017_ssrd_fdir.nc": "it holds no total cloud cover",
    "ECMWF_ifs_oper_surface_20260310T00.grib2": "it holds no 10 m wind toward east",
    "MeteoFrance_arome_TCDC_20260413T21.grib2": "no field is one that is used. It holds unknown",
}


@pytest.mark.external(source="NOAA, Copernicus, ECMWF and Meteo-France files", kind="dataset")
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", REFUSED)
def test_files_that_lack_what_a_passage_needs_are_refused_for_it(name: str, open_data: Path) -> None:
    if name.endswith("grib2"):
        pytest.importorskip("cfgrib")
    with pytest.raises(InputError) as caught:
        read_forecast([open_data / "weather" / name], corridor=None, span=None)
    assert REFUSED[name] in str(caught.value)


@pytest.mark.external(source="NOAA GEFS 2019-05-15, mean and spread files", kind="dataset")
def test_the_mean_and_spread_of_an_ensemble_are_not_taken_for_members(open_data: Path) -> None:
    folder = open_data / "weather" / "gefs_20190515"
    with pytest.raises(InputError, match=r"gefs_20190515_spr\.nc: by its name it holds a mean or a spread"):
        read_forecast(sorted(folder.glob("*.nc")), corridor=None, span=None)
