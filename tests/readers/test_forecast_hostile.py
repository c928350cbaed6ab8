"""The table of hostile files: how each is made, and the words in which it is refused, or mended and said so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, LAT, LON, MEMBERS, SPAN, START, TIME, change, plain_forecast

from planner.domain.errors import InputError
from planner.readers.forecast import read_forecast
from planner.readers.forecast_flux import sun_above_air

Make = Callable[[Path], list[Path]]
HOUR = np.timedelta64(1, "h")


@dataclass(frozen=True)
class Row:
    """How a hostile file is made, and what comes of it.

    Attributes
    ----------
    make : callable
        Writes the files into a folder and returns them.
    refused : str
        Words of the refusal; empty where the file is read.
    told : str
        Words of the note that reaches a plan's warnings; empty where nothing had to be mended.
    """

    make: Make
    refused: str = ""
    told: str = ""


def spoilt(spoil: Callable[[xr.Dataset], xr.Dataset]) -> Make:
    def make(folder: Path) -> list[Path]:
        spoil(plain_forecast()).to_netcdf(folder / "forecast.nc")
        return [folder / "forecast.nc"]

    return make


def content(what: bytes) -> Make:
    def make(folder: Path) -> list[Path]:
        (folder / "forecast.nc").write_bytes(what)
        return [folder / "forecast.nc"]

    return make


def cut_short(part: float) -> Make:
    def make(folder: Path) -> list[Path]:
        plain_forecast().to_netcdf(folder / "forecast.nc")
        whole = (folder / "forecast.nc").read_bytes()
        (folder / "forecast.nc").write_bytes(whole[: int(len(whole) * part)])
        return [folder / "forecast.nc"]

    return make


def one_file_a_member(pieces: Callable[[int, xr.Dataset], xr.Dataset]) -> Make:
    def make(folder: Path) -> list[Path]:
        paths = []
        for number in range(MEMBERS):
            paths.append(folder / f"ens_{number}.nc")
            pieces(number, plain_forecast().isel(member=number, drop=True)).to_netcdf(paths[-1])
        return paths

    return make


def gaps(forecast: xr.Dataset, *, rows: int, columns: int) -> xr.Dataset:
    """Lose a block of cloud amid the corridor at all times."""
    values = forecast["clt"].to_numpy().copy()
    values[:, :, 8 : 8 + rows, 8 : 8 + columns] = np.nan
    return forecast.assign(clt=forecast["clt"].copy(data=values))


def turned(forecast: xr.Dataset, *dims: str) -> xr.Dataset:
    return forecast.isel({dim: slice(None, None, -1) for dim in dims})


def shuffled(forecast: xr.Dataset, dim: str) -> xr.Dataset:
    order = np.roll(np.arange(forecast.sizes[dim]), 3)
    return forecast.isel({dim: order})


def times_in_two(forecast: xr.Dataset) -> xr.Dataset:
    valid = START + np.arange(6).reshape(2, 3) * 6 * HOUR
    steps = forecast.isel(time=slice(0, 3)).rename(time="step").drop_vars("step")
    return steps.expand_dims(start=2).assign_coords(valid_time=(("start", "step"), valid))


def with_light(forecast: xr.Dataset, spoil: Callable[[np.ndarray], np.ndarray], units: str = "W m-2") -> xr.Dataset:
    """Add light that holds at its times: six tenths of what comes above the air, and what is done to it."""
    light = np.broadcast_to(0.6 * sun_above_air(TIME, LAT, LON), forecast["clt"].shape).copy()
    name = "surface_downwelling_shortwave_flux_in_air"
    attrs = {"units": units, "standard_name": name, "cell_methods": "time: point"}
    return forecast.assign(rsds=(forecast["clt"].dims, spoil(light), attrs))


def twice(forecast: xr.Dataset) -> xr.Dataset:
    return xr.concat([forecast, forecast.isel(time=[2])], dim="time")


def all_missing_lat(forecast: xr.Dataset) -> xr.Dataset:
    lat = LAT.copy()
    lat[4] = np.nan
    return forecast.assign_coords(lat=("lat", lat, dict(forecast["lat"].attrs)))


def filled_but_undeclared(forecast: xr.Dataset) -> xr.Dataset:
    values = forecast["ua"].to_numpy().copy()
    values[:, :, 9, 9] = 9.96921e36  # NetCDF's default fill value, here a plain number
    return forecast.assign(ua=forecast["ua"].copy(data=values))


def unequal(number: int, member: xr.Dataset) -> xr.Dataset:
    return member.isel(time=slice(0, 6)) if number == 1 else member


def unequal_numbered(number: int, member: xr.Dataset) -> xr.Dataset:
    return unequal(number, member).assign_coords(realization=number)


def other_years(number: int, member: xr.Dataset) -> xr.Dataset:
    later = member["time"] + number * np.timedelta64(30, "D")
    return member.assign_coords(time=later, realization=number)


def one_number_for_all(number: int, member: xr.Dataset) -> xr.Dataset:
    return member.assign_coords(realization=0)


def coarser(number: int, member: xr.Dataset) -> xr.Dataset:
    return member.isel(lat=slice(None, None, 2)) if number else member


def numbered_otherwise(folder: Path) -> list[Path]:
    """Write wind of members 0 to 2 and the rest of members 1 to 3."""
    whole = plain_forecast()
    whole[["ua", "va"]].to_netcdf(folder / "wind.nc")
    rest = whole.drop_vars(["ua", "va"])
    rest.assign_coords(member=rest["member"] + 1).to_netcdf(folder / "rest.nc")
    return [folder / "wind.nc", folder / "rest.nc"]


TABLE: dict[str, Row] = {
    "wrong units: kelvin called celsius": Row(
        spoilt(lambda f: change(f, "ta", units="degC")), "2 m air temperature are implausible"
    ),
    "wrong units: percent called a fraction": Row(
        spoilt(lambda f: f.assign(clt=f["clt"] * 100.0)), "0 to 1 is allowed"
    ),
    "unknown units": Row(
        spoilt(lambda f: change(f, "ua", units="furlong/fortnight")), "units 'furlong/fortnight' are not known"
    ),
    "no units, and values that do not tell": Row(
        spoilt(lambda f: f.assign(ua=f["ua"].assign_attrs(units=""))), "do not tell which are meant"
    ),
    "no units, and values that tell": Row(
        spoilt(lambda f: change(f, "clt", factor=100.0, units="")),
        told="clt has no units; its values, up to 89.98, show that they are '%'",
    ),
    "a large block of NaN": Row(
        spoilt(lambda f: gaps(f, rows=6, columns=6)), "% of the total cloud cover within the route's corridor"
    ),
    "a small block of NaN": Row(
        spoilt(lambda f: gaps(f, rows=2, columns=2)), told="missing values are filled from their neighbours"
    ),
    "a fill value that is not declared": Row(
        spoilt(filled_but_undeclared), "missing values are not declared (_FillValue)"
    ),
    "one time": Row(
        spoilt(lambda f: f.isel(time=[2])),
        told="There is a single time, 2027-05-09 00:00 UTC: its weather stands still",
    ),
    "latitudes from the north": Row(spoilt(lambda f: turned(f, "lat"))),
    "times that fall": Row(spoilt(lambda f: turned(f, "time")), told="its times do not rise; they are put in order"),
    "longitudes that fall": Row(
        spoilt(lambda f: turned(f, "lat", "lon")), told="its longitudes run westward; they are turned round"
    ),
    "times out of order": Row(spoilt(lambda f: shuffled(f, "time")), told="its times do not rise"),
    "latitudes out of order": Row(
        spoilt(lambda f: shuffled(f, "lat")), told="its latitudes neither rise nor fall throughout"
    ),
    "a time given twice": Row(spoilt(twice), told="1 times are given twice; the last of each is used"),
    "a latitude that is missing": Row(spoilt(all_missing_lat), "latitude: the axis has missing values"),
    "cloud at 120 %": Row(
        spoilt(lambda f: change(f, "clt", factor=120.0 / 0.9, units="%")), "total cloud cover are implausible"
    ),
    "cloud at 100.5 %": Row(spoilt(lambda f: change(f, "clt", factor=100.5 / 0.9, units="%"))),
    "negative radiation": Row(
        spoilt(lambda f: with_light(f, lambda light: light - 200.0)), told="Left unused: forecast.nc: rsds"
    ),
    "radiation that packing makes a little negative": Row(
        spoilt(lambda f: with_light(f, lambda light: light - 0.5)), told="rsds is read as values at their times"
    ),
    "radiation by night": Row(
        spoilt(lambda f: with_light(f, lambda light: np.roll(light, 2, axis=1))), told="fits the sun"
    ),
    "radiation in units of energy, declared power": Row(
        spoilt(lambda f: with_light(f, lambda light: light * 3600.0)), told="surface downward shortwave radiation"
    ),
    "a text file named .nc": Row(content(b"wind NW 15, clouds 4 oktas\n"), "It looks like text"),
    "a web page named .nc": Row(content(b"<!DOCTYPE html><html>Log in</html>"), "It looks like a web page"),
    "a zipped file": Row(content(b"PK\x03\x04 and the rest"), "It looks compressed; unpack it first"),
    "a truncated file": Row(cut_short(0.5), "It is probably cut short; fetch it again"),
    "a file truncated within its head": Row(cut_short(0.001), "It is probably cut short; fetch it again"),
    "zero bytes": Row(content(b""), "the file is empty (0 bytes)"),
    "a 2-D time": Row(spoilt(times_in_two), "the times run along two dimensions (start, step)"),
    "times without units": Row(
        spoilt(lambda f: f.assign_coords(time=np.arange(TIME.size))), "no axis holds times that can be understood"
    ),
    "missing longitude": Row(spoilt(lambda f: f.rename(lon="x").drop_vars("x")), "it has no longitude axis"),
    "latitudes beyond the pole": Row(
        spoilt(lambda f: f.assign_coords(lat=("lat", LAT * 5.0, dict(f["lat"].attrs)))),
        "latitudes from -190 to -90 are not on Earth",
    ),
    "members of unequal length": Row(
        one_file_a_member(unequal), told="The members are of unequal length: of 7 times the 6 that all have are used"
    ),
    "numbered members of unequal length": Row(
        one_file_a_member(unequal_numbered), told="of 7 times the 6 that all have are used, to 2027-05-09 18:00 UTC"
    ),
    "numbered members of other months": Row(
        one_file_a_member(other_years), "the passage begins at 2027-05-08 19:00 UTC"
    ),
    "members that all call themselves the same": Row(
        one_file_a_member(one_number_for_all), told="several files call themselves member 0 of the same times"
    ),
    "members on two grids": Row(one_file_a_member(coarser), "the grids differ"),
    "quantities of other members": Row(numbered_otherwise, "has the members 1 to 3, the rest 0 to 2"),
}
"""What is made; the words of its refusal, or of what is told of a repair; neither where nothing is wrong."""


@pytest.mark.parametrize("what", TABLE)
def test_a_hostile_file_is_refused_or_mended_and_said_so(what: str, tmp_path: Path) -> None:
    row = TABLE[what]
    paths = row.make(tmp_path)
    if row.refused:
        with pytest.raises(InputError) as caught:
            read_forecast(paths, corridor=CORRIDOR, span=SPAN)
        assert row.refused in str(caught.value)
        assert any(path.name in str(caught.value) for path in paths)
        return
    forecast = read_forecast(paths, corridor=CORRIDOR, span=SPAN)
    assert row.told in forecast.attrs["notes"]
    if not row.told:
        assert forecast.attrs["notes"] == ""
    assert all(np.isfinite(forecast[name]).all() for name in forecast.data_vars)
    assert np.all(np.diff(forecast["time"].to_numpy()) > np.timedelta64(0, "ns"))
    assert np.all(np.diff(forecast["lat"]) > 0.0)
    assert np.all(np.diff(forecast["lon"]) > 0.0)
    assert forecast.sizes["member"] == MEMBERS


MENDED_WITHOUT_LOSS = [
    *("latitudes from the north", "times that fall", "longitudes that fall", "times out of order"),
    *("latitudes out of order", "a time given twice", "members that all call themselves the same"),
]


@pytest.mark.parametrize("what", MENDED_WITHOUT_LOSS)
def test_what_is_put_in_order_is_what_it_was(what: str, tmp_path: Path) -> None:
    plain_forecast().to_netcdf(tmp_path / "plain.nc")
    sound = read_forecast([tmp_path / "plain.nc"], corridor=CORRIDOR, span=SPAN)
    mended = read_forecast(TABLE[what].make(tmp_path), corridor=CORRIDOR, span=SPAN)
    xr.testing.assert_equal(sound, mended)


def test_members_of_unequal_length_keep_their_values(tmp_path: Path) -> None:
    plain_forecast().to_netcdf(tmp_path / "plain.nc")
    sound = read_forecast([tmp_path / "plain.nc"], corridor=CORRIDOR, span=None)
    cut = read_forecast(one_file_a_member(unequal_numbered)(tmp_path), corridor=CORRIDOR, span=None)
    xr.testing.assert_equal(sound.isel(time=slice(0, 6)), cut)


def test_members_take_the_places_of_their_numbers(tmp_path: Path) -> None:
    def backward(number: int, member: xr.Dataset) -> xr.Dataset:
        return member.assign_coords(realization=MEMBERS - number)

    plain_forecast().to_netcdf(tmp_path / "plain.nc")
    sound = read_forecast([tmp_path / "plain.nc"], corridor=CORRIDOR, span=SPAN)
    told = read_forecast(one_file_a_member(backward)(tmp_path), corridor=CORRIDOR, span=SPAN)
    np.testing.assert_array_equal(told["cloud_cover"], sound["cloud_cover"][::-1])


def test_a_file_named_twice_is_one_member(tmp_path: Path) -> None:
    path = tmp_path / "a.nc"
    plain_forecast().isel(member=0, drop=True).assign_coords(realization=4).to_netcdf(path)
    again = tmp_path / "b.nc"
    again.write_bytes(path.read_bytes())
    assert read_forecast([path, again], corridor=CORRIDOR, span=SPAN).sizes["member"] == 1
