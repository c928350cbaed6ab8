"""Forecast files of several weather centres, read and set beside a direct look-up, or refused for a stated reason."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from planner.domain.errors import InputError
from planner.readers.forecast.field import Field
from planner.readers.forecast.fields import read_fields
from planner.readers.forecast.file import open_parts
from planner.readers.forecast.reader import read_forecast
from planner.readers.forecast.survey import survey


def fields_of(path: Path) -> dict[str, Field]:
    parts = open_parts(path)
    try:
        read = read_fields(parts, path.name, corridor=None, span=None)
        return {field.quantity: field for field in read.fields}
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
            assert value(fields["air_temp_c"], time, lat, lon) == pytest.approx(float(here["t2m"]) - 273.15, abs=1e-4)
            assert value(fields["wind_speed"], time, lat, lon) == pytest.approx(float(here["si10"]))
    assert next(iter(fields.values())).issued == np.datetime64("2019-05-15T00:00")


@pytest.mark.external(source="NOAA GFS and GEFS 2019-05-15, from SolarArbiter's files", kind="dataset")
@pytest.mark.parametrize("name", NETCDF)
def test_light_that_restarts_every_six_hours_is_parted_into_its_steps(name: str, open_data: Path) -> None:
    light = fields_of(open_data / "weather" / name)["ghi_w_m2"]
    assert light.notes == ("dswrf is read as means since the last whole 6 hours.",)
    assert light.start is not None
    with xr.open_dataset(open_data / "weather" / name) as data:
        given = data["dswrf"].isel(latitude=0, longitude=0)
        hours = ((given["time"] - given["time"][0]) / np.timedelta64(1, "h")).to_numpy()
        for step in (2, 4, 20, 40, -1):
            since = (hours[step] - 1e-6) // 6 * 6
            total, before = float(given[step]) * (hours[step] - since), 0.0
            if hours[step - 1] > since:
                before = float(given[step - 1]) * (hours[step - 1] - since)
            mean = max((total - before) / (hours[step] - max(hours[step - 1], since)), 0.0)
            place = (float(given["latitude"]), float(given["longitude"]))
            assert value(light, given["time"].to_numpy()[step], *place) == pytest.approx(mean, abs=1e-2)


@pytest.mark.external(source="NOAA HRRR, NAM and RAP 2019-05-15 on projected grids", kind="dataset")
@pytest.mark.parametrize("name", ["hrrr_hourly_20190515.nc", "nam_12km_20190515.nc", "rap_20190515.nc"])
def test_projected_grids_keep_their_values_at_their_own_points(name: str, open_data: Path) -> None:
    fields = fields_of(open_data / "weather" / name)
    with xr.open_dataset(open_data / "weather" / name) as data:
        for step, row, column in ((3, 1, 1), (10, 2, 2), (20, 1, 2)):
            here = data.isel(time=step, y=row, x=column)
            place = {"lat": float(here["latitude"]), "lon": float(here["longitude"])}
            for quantity, own in (("air_temp_c", float(here["t2m"]) - 273.15), ("wind_speed", float(here["si10"]))):
                field = fields[quantity]
                axes = {"lat": field.lat, "lon": field.lon % 360.0}
                ours = xr.DataArray(field.values[0, step], dims=("lat", "lon"), coords=axes)
                place["lon"] %= 360.0
                around = data[{"air_temp_c": "t2m", "wind_speed": "si10"}[quantity]].isel(time=step)
                # between the nodes of either grid the field bends: a quarter of its range over the file's few points
                bend = 0.25 * float(around.max() - around.min())
                assert float(ours.interp(place)) == pytest.approx(own, abs=bend)


@pytest.mark.external(source="ERA5 Berlin 2017, Copernicus, from feedinlib's files", kind="dataset")
def test_a_reanalysis_file_gives_hourly_sums_of_light_and_keeps_10_m_wind_apart_from_100_m(open_data: Path) -> None:
    path = open_data / "weather" / "ERA5_Berlin_2017_ssrd_fdir.nc"
    fields = fields_of(path)
    assert set(fields) == {"wind_east_m_s", "wind_north_m_s", "air_temp_c", "ghi_w_m2", "direct_w_m2"}
    with xr.open_dataset(path) as data:
        for step, row, column in ((11, 0, 0), (400, 1, 2), (-1, 1, 0)):
            here = data.isel(time=step, latitude=row, longitude=column)
            place = (here["time"].to_numpy()[()], float(here["latitude"]), float(here["longitude"]))
            assert value(fields["wind_east_m_s"], *place) == pytest.approx(float(here["u10"]))
            assert value(fields["air_temp_c"], *place) == pytest.approx(float(here["t2m"]) - 273.15, abs=1e-4)
            assert value(fields["ghi_w_m2"], *place) == pytest.approx(float(here["ssrd"]) / 3600.0)
            assert value(fields["direct_w_m2"], *place) == pytest.approx(float(here["fdir"]) / 3600.0)


@pytest.mark.external(source="NCEP GFS 2011-10-08 in GRIB 2, from pygrib's files", kind="dataset")
@pytest.mark.filterwarnings("ignore")
def test_a_global_grib_file_reads_with_its_layers(open_data: Path) -> None:
    pytest.importorskip("cfgrib")
    path = open_data / "weather" / "NCEP_gfs.grb"
    forecast = read_forecast([path], corridor=(-40.0, -15.0, 170.0, 190.0), span=None)
    assert forecast["lon"].to_numpy()[[0, -1]].tolist() == [167.5, 192.5]
    assert forecast.attrs["issued"] == "2011-10-08T00:00:00Z"
    assert (forecast["interval_end"] - forecast["interval"]).to_numpy()[0] == np.timedelta64(6, "h")
    for quantity, level in (("cloud_low", "lowCloudLayer"), ("cloud_high", "highCloudLayer")):
        keys = {"shortName": "tcc", "typeOfLevel": level, "stepType": "avg"}
        options = {"indexpath": "", "filter_by_keys": keys}
        with xr.open_dataset(path, engine="cfgrib", backend_kwargs=options) as data:
            for lat, lon in ((-40.0, 170.0), (-27.5, 180.0), (-15.0, 190.0)):
                direct = float(data["tcc"].sel(latitude=lat, longitude=lon)) / 100.0
                assert float(forecast[quantity].sel(lat=lat, lon=lon).squeeze()) == pytest.approx(direct)
    keys = {"shortName": "sdswrf", "typeOfLevel": "surface", "stepType": "avg"}
    with xr.open_dataset(path, engine="cfgrib", backend_kwargs={"indexpath": "", "filter_by_keys": keys}) as data:
        direct = float(data["sdswrf"].sel(latitude=-27.5, longitude=180.0))
        assert float(forecast["ghi_w_m2"].sel(lat=-27.5, lon=180.0).squeeze()) == pytest.approx(direct)


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


@pytest.mark.external(source="Meteo-France AROME 2026-04-13, total cloud across Greenwich in GRIB 2", kind="dataset")
@pytest.mark.filterwarnings("ignore")
def test_a_field_without_a_name_is_known_by_its_wmo_code(open_data: Path) -> None:
    pytest.importorskip("cfgrib")
    path = open_data / "weather" / "MeteoFrance_arome_TCDC_20260413T21.grib2"
    parts = open_parts(path)
    corridor = (44.0, 48.0, -4.0, 4.0)
    cover = read_fields(parts, path.name, corridor=corridor, span=None).fields[0]
    assert cover.quantity == "cloud_cover"
    assert cover.lon[0] < -4.0 < 4.0 < cover.lon[-1]
    with xr.open_dataset(path, engine="cfgrib", backend_kwargs={"indexpath": ""}) as data:
        raw = data["unknown"]
        for lat, lon in ((45.0, -3.0), (46.5, 0.0), (47.0, 3.5)):
            column = int(np.argmin(np.abs((raw["longitude"].to_numpy() - lon + 180.0) % 360.0 - 180.0)))
            direct = float(raw.sel(latitude=lat, method="nearest")[column]) / 100.0
            assert value(cover, cover.time[0], lat, lon) == pytest.approx(min(direct, 1.0), abs=1e-4)


PERTURBED = [f"p{number:02d}" for number in range(1, 21)]


@pytest.mark.external(source="NOAA GEFS 2019-05-15, every member's file, mean and spread", kind="dataset")
@pytest.mark.parametrize("which", ["c00", *PERTURBED, "avg", "spr"])
def test_each_file_of_an_ensemble_reads_as_a_direct_look_up_reads_it(which: str, open_data: Path) -> None:
    path = open_data / "weather" / "gefs_20190515" / f"gefs_20190515_{which}.nc"
    fields = fields_of(path)
    with xr.open_dataset(path) as data:
        for step, row, column in ((0, 1, 0), (50, 0, 1), (96, 1, 1)):
            here = data.isel(time=step, latitude=row, longitude=column)
            place = (data["time"].to_numpy()[step], float(here["latitude"]), float(here["longitude"]))
            assert value(fields["wind_speed"], *place) == pytest.approx(float(here["si10"]))
            if which != "spr":
                assert value(fields["air_temp_c"], *place) == pytest.approx(float(here["t2m"]) - 273.15, abs=1e-4)
            if np.isfinite(here["tcdc"]):
                assert value(fields["cloud_cover"], *place) == pytest.approx(float(here["tcdc"]) / 100.0)


@pytest.mark.external(source="NOAA GEFS 2019-05-15, a file a member", kind="dataset")
def test_members_in_files_of_their_own_stand_side_by_side_in_order(open_data: Path) -> None:
    folder = open_data / "weather" / "gefs_20190515"
    account = survey(sorted(folder.glob("*_[cp][0-9][0-9].nc")), corridor=None, span=None, departure=None)
    assert account.all_faults == ()
    assert {(one.members, one.times) for one in account.held} == {(21, 97), (21, 96)}
    assert account.joined is not None
    for member, which in enumerate(["c00", *PERTURBED]):
        with xr.open_dataset(folder / f"gefs_20190515_{which}.nc") as data:
            direct = data["t2m"].isel(time=40).sortby("latitude") - 273.15
            ours = account.joined["air_temp_c"].isel(member=member, time=40)
            np.testing.assert_allclose(ours, direct.transpose("latitude", "longitude"), atol=1e-4)


HELD = {
    "NCEP_gfs.grb": {"sunlight", "wind", "air temperature", "rain that rinses the panels"},
    "ECMWF_ifs_oper_surface_20260310T00.grib2": {"sunlight"},
    "MeteoFrance_arome_TCDC_20260413T21.grib2": {"sunlight"},
    "ERA5_Berlin_2017_ssrd_fdir.nc": {"sunlight", "wind", "air temperature"},
    "gfs_0p25_20190515.nc": {"sunlight", "air temperature"},
    "hrrr_hourly_20190515.nc": {"sunlight", "air temperature"},
    "nam_12km_20190515.nc": {"sunlight", "air temperature"},
    "rap_20190515.nc": {"sunlight", "air temperature"},
}


@pytest.mark.external(source="NOAA, Copernicus, ECMWF and Meteo-France files", kind="dataset")
def test_every_single_file_there_is_has_been_looked_at(open_data: Path) -> None:
    assert {path.name for path in (open_data / "weather").iterdir() if path.is_file()} == set(HELD)


@pytest.mark.external(source="NOAA, Copernicus, ECMWF and Meteo-France files", kind="dataset")
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", HELD)
def test_what_each_file_is_good_for_is_told(name: str, open_data: Path) -> None:
    if name.endswith(("grb", "grib2")):
        pytest.importorskip("cfgrib")
    account = survey([open_data / "weather" / name], corridor=None, span=None, departure=None)
    assert account.all_faults == ()
    assert {use.need for use in account.uses if use.state == "held"} == HELD[name]
    assert all(one.low <= one.high for one in account.held)


@pytest.mark.external(source="NOAA, Copernicus, ECMWF and Meteo-France files, whole", kind="dataset")
@pytest.mark.filterwarnings("ignore")
def test_whole_files_tell_what_their_extracts_tell(whole_data: Path) -> None:
    pytest.importorskip("cfgrib")
    cut = ("NCEP_gfs.grb", "ECMWF_ifs_oper_surface_20260310T00.grib2", "ERA5_Berlin_2017_ssrd_fdir.nc")
    for name in cut:
        account = survey([whole_data / "weather" / name], corridor=None, span=None, departure=None)
        assert {use.need for use in account.uses if use.state == "held"} == HELD[name]


SPEED_ALONE = "the wind's speed but not its direction"
REFUSED = {
    "hrrr_hourly_20190515.nc": SPEED_ALONE,
    "nam_12km_20190515.nc": SPEED_ALONE,
    "rap_20190515.nc": SPEED_ALONE,
    "gfs_0p25_20190515.nc": SPEED_ALONE,
    "gefs_20190515/gefs_20190515_p01.nc": SPEED_ALONE,
    "ECMWF_ifs_oper_surface_20260310T00.grib2": "it holds no 10 m wind toward east",
    "MeteoFrance_arome_TCDC_20260413T21.grib2": "17% of the total cloud cover within the route's corridor is missing",
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


GRIB_THEN_PROJECT = """
import sys
import subprocess
import sys
from pathlib import Path
from planner.readers.forecast.file import open_parts
from planner.readers.forecast.survey import survey
for part in open_parts(Path(sys.argv[1])):
    part.close()
from pyproj import Transformer
x, _ = Transformer.from_crs(4326, 3857).transform(10, 10)
print(round(x))
"""


@pytest.mark.external(source="pyproj and cfgrib, each with a PROJ library of its own", kind="library")
def test_a_map_can_be_projected_after_a_grib_file_was_read(open_data: Path) -> None:
    # the other way round, cfgrib first, the process ends in a double free
    pytest.importorskip("cfgrib")
    path = open_data / "weather" / "ECMWF_ifs_oper_surface_20260310T00.grib2"
    command = [sys.executable, "-c", GRIB_THEN_PROJECT, str(path)]
    done = subprocess.run(command, cwd=Path(__file__).parents[2], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "1113195"  # m, 10 degrees on the equator of the WGS84 sphere
