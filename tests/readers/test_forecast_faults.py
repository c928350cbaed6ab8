"""Hostile and unsuitable forecast files: each is refused with its file, what is wrong and what to do."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, SPAN, START, TIME, change, plain_forecast, write

from planner.domain.errors import InputError
from planner.readers.forecast.reader import read_forecast


def refusal(paths: list[Path]) -> str:
    with pytest.raises(InputError) as caught:
        read_forecast(paths, corridor=CORRIDOR, span=SPAN)
    return str(caught.value)


BYTES = {
    "a text file": (b"wind NW 15, clouds 4 oktas\n", "looks like text"),
    "an empty file": (b"", "empty (0 bytes)"),
    "a web page": (b"<!DOCTYPE html><html><body>Please log in</body>", "looks like a web page"),
    "a packed file": (b"\x1f\x8b\x08\x00 rest of it", "looks compressed"),
    "noise": (bytes(range(128, 255)), "neither NetCDF nor GRIB"),
    "a damaged NetCDF": (b"\x89HDF\r\n\x1a\n" + b"\0" * 200, "probably cut short or damaged"),
    "a damaged classic NetCDF": (b"CDF\x01" + b"\xff" * 60, "probably cut short or damaged"),
}


@pytest.mark.parametrize("what", BYTES)
def test_a_file_that_is_no_forecast_is_named_for_what_it_looks_like(what: str, tmp_path: Path) -> None:
    content, words = BYTES[what]
    (tmp_path / "forecast.nc").write_bytes(content)
    message = refusal([tmp_path / "forecast.nc"])
    assert message.startswith("forecast.nc: ")
    assert words in message


def test_a_file_cut_short_is_told(tmp_path: Path) -> None:
    whole = write(plain_forecast(), tmp_path / "whole.nc").read_bytes()
    (tmp_path / "forecast.nc").write_bytes(whole[: len(whole) // 2])
    assert "cut short" in refusal([tmp_path / "forecast.nc"])


def test_a_missing_file_and_a_folder_are_told_together(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    message = refusal([tmp_path / "nowhere.nc", tmp_path / "folder"])
    assert "nowhere.nc: there is no such file." in message
    assert "folder: it is a folder" in message


def damage(forecast: xr.Dataset, name: str, part: float) -> xr.Dataset:
    holes = np.random.default_rng(1).random(forecast[name].shape) < part
    return forecast.assign({name: forecast[name].where(~holes)})


def named_twice(forecast: xr.Dataset) -> xr.Dataset:
    return forecast.assign(other=forecast["ua"])


def without_units(forecast: xr.Dataset, name: str) -> xr.Dataset:
    del forecast[name].attrs["units"]
    return forecast


def two_starts(forecast: xr.Dataset) -> xr.Dataset:
    valid = START + np.arange(6).reshape(2, 3) * np.timedelta64(6, "h")
    forecast = forecast.isel(time=slice(0, 3)).rename(time="step").drop_vars("step")
    return forecast.expand_dims(start=2).assign_coords(valid_time=(("start", "step"), valid))


def levels(forecast: xr.Dataset) -> xr.Dataset:
    return forecast.assign(clt=forecast["clt"].expand_dims(pressure=[1000.0, 850.0], axis=2))


def numbered_times(forecast: xr.Dataset) -> xr.Dataset:
    return forecast.assign_coords(time=np.arange(TIME.size))


UNSUITABLE: dict[str, tuple[Callable[[xr.Dataset], xr.Dataset], str]] = {
    "cloud at 120 %": (
        lambda f: change(f, "clt", factor=120.0 / 0.9, units="%"),
        "total cloud cover are implausible",
    ),
    "percent called a fraction": (lambda f: change(f, "clt", factor=100.0, units="1"), "0 to 1 is allowed"),
    "temperature in K called C": (lambda f: change(f, "ta", units="degC"), "2 m air temperature are implausible"),
    "units unheard of": (
        lambda f: change(f, "ua", units="furlong/fortnight"),
        "units 'furlong/fortnight' are not known",
    ),
    "wind without units": (lambda f: without_units(f, "ua"), "ua: it has no units"),
    "fractions without units": (lambda f: without_units(f, "clt"), "clt: it has no units"),
    "a block of gaps": (lambda f: damage(f, "clt", 0.3), "30% of the total cloud cover within the route's corridor"),
    "nothing but gaps": (lambda f: damage(f, "va", 2.0), "100% of the 10 m wind toward north"),
    "no cloud": (lambda f: f.drop_vars(["clt", "cll", "clm", "clh"]), "it holds no total cloud cover."),
    "no wind": (lambda f: f.drop_vars(["ua", "va"]), "it holds no 10 m wind toward east."),
    "nothing of use": (
        lambda f: f[["clt"]].rename(clt="sst").map(lambda v: v.assign_attrs(standard_name="sst")),
        "sst",
    ),
    "two that could be it": (named_twice, "several variables could be the 10 m wind toward east: ua"),
    "no longitude": (lambda f: f.rename(lon="x").drop_vars("x"), "it has no longitude axis"),
    "two forecasts in one": (two_starts, "the times run along two dimensions (start, step)"),
    "pressure levels": (levels, "it runs along pressure besides"),
    "times that are bare numbers": (numbered_times, "no axis holds times that can be understood"),
    "other waters": (lambda f: f.assign_coords(lat=f["lat"] + 60.0), "the route needs -34.00 to -22.00 N"),
    "other days": (
        lambda f: f.assign_coords(time=f["time"] - np.timedelta64(30, "D")),
        "the passage begins at 2027-05-08",
    ),
}


@pytest.mark.parametrize("what", UNSUITABLE)
def test_an_unsuitable_forecast_is_refused_with_its_reason(what: str, tmp_path: Path) -> None:
    spoil, words = UNSUITABLE[what]
    spoil(plain_forecast()).to_netcdf(tmp_path / "forecast.nc")
    message = refusal([tmp_path / "forecast.nc"])
    assert message.startswith("forecast.nc: ")
    assert words in message
    assert "Traceback" not in message


def test_a_gap_is_filled_in_time_on_a_line_and_a_node_without_values_from_the_one_beside_it(tmp_path: Path) -> None:
    gapped = plain_forecast()
    whole = gapped["ua"].to_numpy().copy()
    gapped["ua"][1, 2, 10, 10] = np.nan
    gapped["ua"][0, :, 12, 8] = np.nan
    write(gapped, tmp_path / "forecast.nc")
    filled = read_forecast([tmp_path / "forecast.nc"], corridor=None, span=None)["wind_east_m_s"].to_numpy()
    assert filled[1, 2, 10, 10] == pytest.approx((whole[1, 1, 10, 10] + whole[1, 3, 10, 10]) / 2.0, rel=1e-5)
    beside = [whole[0, :, 11, 8], whole[0, :, 13, 8], whole[0, :, 12, 7], whole[0, :, 12, 9]]
    assert any(np.allclose(filled[0, :, 12, 8], one, rtol=1e-5) for one in beside)


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    spoilt = change(damage(plain_forecast(), "clt", 0.5), "ua", units="parsec")
    spoilt.to_netcdf(tmp_path / "forecast.nc")
    message = refusal([tmp_path / "forecast.nc"])
    assert "50% of the total cloud cover" in message
    assert "'parsec' are not known" in message


def test_swapped_latitude_and_longitude_are_suspected(tmp_path: Path) -> None:
    near = plain_forecast().assign_coords(lon=np.arange(20.0, 41.0), lat=np.arange(50.0, 71.0))
    near.to_netcdf(tmp_path / "forecast.nc")
    with pytest.raises(InputError, match="Swapped latitude and longitude in the route would explain it"):
        read_forecast([tmp_path / "forecast.nc"], corridor=(25.0, 35.0, 55.0, 65.0), span=None)


def test_speed_without_direction_is_told_for_what_it_lacks(tmp_path: Path) -> None:
    given = plain_forecast().rename(ua="si10").drop_vars("va")
    given["si10"] = np.abs(given["si10"])
    given["si10"].attrs = {"units": "m s-1"}
    given.to_netcdf(tmp_path / "forecast.nc")
    assert "the wind's speed but not its direction" in refusal([tmp_path / "forecast.nc"])


def test_a_mean_over_the_members_is_no_member(tmp_path: Path) -> None:
    whole = plain_forecast()
    one = write(whole.isel(member=0, drop=True), tmp_path / "run_p01.nc")
    mean = write(whole.isel(member=1, drop=True), tmp_path / "run_avg.nc")
    assert "run_avg.nc: by its name it holds a mean" in refusal([one, mean])


def test_one_quantity_on_two_grids_is_refused(tmp_path: Path) -> None:
    whole = plain_forecast()
    coarse = write(whole.isel(lat=slice(None, None, 2), time=slice(0, 3)), tmp_path / "coarse.nc")
    fine = write(whole.isel(time=slice(3, None)), tmp_path / "fine.nc")
    assert "the grids differ" in refusal([coarse, fine])


def test_quantities_of_different_waters_are_refused(tmp_path: Path) -> None:
    whole = plain_forecast()
    wind = write(whole[["ua", "va"]].isel(lat=slice(0, 6)), tmp_path / "wind.nc")
    rest = write(whole.drop_vars(["ua", "va"]).isel(lat=slice(12, None)), tmp_path / "rest.nc")
    assert "of other waters than the rest" in refusal([wind, rest])


def test_grib_without_its_reader_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "forecast.grb").write_bytes(b"GRIB" + b"\0" * 60)
    monkeypatch.setitem(sys.modules, "cfgrib", None)
    monkeypatch.setattr("planner.readers.forecast.file.find_spec", lambda name: None)
    assert "pip install 'passage-energy[grib]'" in refusal([tmp_path / "forecast.grb"])


def test_a_single_time_is_read_as_it_is(tmp_path: Path) -> None:
    plain_forecast().isel(time=[2]).to_netcdf(tmp_path / "forecast.nc")
    assert read_forecast([tmp_path / "forecast.nc"], corridor=CORRIDOR, span=SPAN).sizes["time"] == 1


def test_damage_within_the_values_is_told(tmp_path: Path) -> None:
    packed = {name: {"zlib": True, "shuffle": False} for name in plain_forecast().data_vars}
    plain_forecast().to_netcdf(tmp_path / "forecast.nc", encoding=packed)
    content = bytearray((tmp_path / "forecast.nc").read_bytes())
    middle = len(content) // 2
    content[middle - 20_000 : middle + 20_000] = b"\x55" * 40_000
    (tmp_path / "forecast.nc").write_bytes(content)
    message = refusal([tmp_path / "forecast.nc"])
    assert "its values cannot be read" in message
    assert "cut short or damaged" in message
