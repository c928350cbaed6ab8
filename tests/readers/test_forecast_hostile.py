"""The table of hostile files: how each is made, and the words in which it is refused, or mended and said so."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, LAT, LON, MEMBERS, SPAN, START, TIME, change, plain_forecast
from grib_case import AIR, COVER, LIGHT, REGULAR, U10, V10, Message, write_grib

from planner.domain.errors import InputError
from planner.faces.cli import main
from planner.readers.forecast.reader import read_forecast
from planner.readers.forecast.sunlight.kinds import clear_light

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
    members : int
        That a file which is read has.
    """

    make: Make
    refused: str = ""
    told: str = ""
    members: int = MEMBERS


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
    light = np.broadcast_to(0.6 * clear_light(TIME, LAT, LON), forecast["clt"].shape).copy()
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


def alone(name: str, values: np.ndarray, **attrs: str) -> Make:
    """Make a file of one quantity on the plain forecast's axes."""
    return spoilt(lambda f: f[["clt"]].rename(clt=name).assign({name: (f["clt"].dims, values, attrs)}))


def stations(forecast: xr.Dataset) -> xr.Dataset:
    """Take the diagonal of the grid as a list of places."""
    some = xr.DataArray(np.arange(0, 21, 4), dims="station")
    return forecast.isel(lat=some, lon=some)


def along_axes_unsaid(forecast: xr.Dataset) -> xr.Dataset:
    """Turn the grid by a fifth of a right angle, and drop what says how the wind is meant."""
    turn = np.radians(18.0)
    y, x = np.meshgrid(LAT - LAT.mean(), LON - LON.mean(), indexing="ij")
    places = {
        "latitude": (("lat", "lon"), LAT.mean() + 1.4 * (y * np.cos(turn) + x * np.sin(turn))),
        "longitude": (("lat", "lon"), LON.mean() + 1.4 * (x * np.cos(turn) - y * np.sin(turn))),
    }
    bare = {name: forecast[name].assign_attrs(standard_name="") for name in ("ua", "va")}
    turned = forecast.assign(bare).rename(ua="u10", va="v10").drop_vars(["lat", "lon"])
    return turned.rename_dims(lat="y", lon="x").assign_coords({k: (("y", "x"), v[1]) for k, v in places.items()})


def summed_over_no_time(forecast: xr.Dataset) -> xr.Dataset:
    """Add rain whose spans end where they begin."""
    attrs = {"units": "mm", "standard_name": "precipitation_amount"}
    forecast["time"].attrs["bounds"] = "time_bounds"
    return forecast.assign(
        pr=(forecast["clt"].dims, np.zeros(forecast["clt"].shape), attrs),
        time_bounds=(("time", "edge"), np.stack([TIME, TIME], axis=1)),
    )


def grib(
    grid: dict[str, Any], *, edition: int = 2, more: Sequence[Message] = (), keys: dict[str, Any] | None = None
) -> Make:
    """Make a GRIB file of all that a plan needs at nine times, and what is added."""
    needed = ((U10, 5.0), (V10, 2.0), (AIR, 290.0), (COVER, 0.5))

    def make(folder: Path) -> list[Path]:
        pytest.importorskip("cfgrib")
        messages = [Message(what, value, str(6 * step), keys) for what, value in needed for step in range(9)]
        return [write_grib(folder / "forecast.grb", grid, [*messages, *more], edition=edition)]

    return make


def two_grids(folder: Path) -> list[Path]:
    (path,) = grib(REGULAR)(folder)
    fine = path.read_bytes()
    (path,) = grib(REGULAR | {"Ni": 11, "longitudeOfLastGridPointInDegrees": 180.0})(folder)
    path.write_bytes(fine + path.read_bytes())
    return [path]


def damaged_grib(folder: Path) -> list[Path]:
    """Spoil the head of the first and only message."""
    pytest.importorskip("cfgrib")
    path = write_grib(folder / "forecast.grb", REGULAR, [Message(COVER, 0.5)])
    content = bytearray(path.read_bytes())
    content[40:120] = b"\x55" * 80
    path.write_bytes(content)
    return [path]


def reduced_gaussian() -> dict[str, Any]:
    """A global grid of 64 rows whose points grow fewer toward the poles (the octahedral rule)."""
    half = 20 + 4 * np.arange(32)
    rows = np.concatenate([half, half[::-1]])
    return {
        "gridType": "reduced_gg",
        "N": 32,
        "Nj": 64,
        "interpretationOfNumberOfPoints": 1,
        "numberOfDataPoints": int(rows.sum()),
        "numberOfValues": int(rows.sum()),
        "pl": rows,
        "latitudeOfFirstGridPointInDegrees": 87.863799,
        "longitudeOfFirstGridPointInDegrees": 0.0,
        "latitudeOfLastGridPointInDegrees": -87.863799,
        "longitudeOfLastGridPointInDegrees": 357.5,
    }


SHAPE = (MEMBERS, TIME.size, LAT.size, LON.size)
TABLE: dict[str, Row] = {
    "a list of stations": Row(spoilt(stations), "its 6 places run along one dimension, station: a list of stations"),
    "a turned grid that does not say how its wind is meant": Row(
        spoilt(along_axes_unsaid), "nothing says whether u10 and v10 lie along the axes of the projected grid"
    ),
    "wind speed without direction": Row(
        alone("si10", np.full(SHAPE, 5.0), units="m s-1"), "It holds the wind's speed but not its direction"
    ),
    "rain alone": Row(alone("pr", np.ones(SHAPE), units="mm h-1"), "Understood so far: pr (precipitation)"),
    "direct light alone": Row(
        alone("fdir", np.zeros(SHAPE), units="W m-2", cell_methods="time: point"),
        "Understood so far: fdir (direct radiation on the level)",
    ),
    "rain summed over no time": Row(
        spoilt(summed_over_no_time), told="Left unused: forecast.nc: pr: its precipitation is summed over no time"
    ),
    "light summed over no time in GRIB": Row(
        grib(REGULAR, more=[Message(LIGHT, 0.0, "24-24")]),
        told="Left unused: forecast.grb: ssrd: its surface downward shortwave radiation is summed over no time",
        members=1,
    ),
    "light in GRIB that ends before the passage": Row(
        grib(REGULAR, more=[Message(LIGHT, 0.0, "0-3")]),
        told="Left unused: forecast.grb: time: the forecast runs from 2027-05-08 15:00 to 2027-05-08 15:00 UTC",
        members=1,
    ),
    "GRIB 1 of a centre that does not tell control from perturbed": Row(
        grib(REGULAR, edition=1, keys={"centre": 7}), members=1
    ),
    "a reduced Gaussian grid": Row(grib(reduced_gaussian()), members=1),
    "two grids in one GRIB file": Row(two_grids, "several fields could be the total cloud cover"),
    "a GRIB file with a damaged head": Row(damaged_grib, "It is probably cut short or damaged; fetch it again"),
    "wrong units: kelvin called celsius": Row(
        spoilt(lambda f: change(f, "ta", units="degC")), "2 m air temperature are implausible"
    ),
    "wrong units: percent called a fraction": Row(
        spoilt(lambda f: change(f, "clt", factor=100.0, units="1")), "0 to 1 is allowed"
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
    "a truncated file": Row(cut_short(0.5), "It is probably cut short or damaged; fetch it again"),
    "a file truncated within its head": Row(cut_short(0.001), "It is probably cut short or damaged; fetch it again"),
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


@pytest.mark.filterwarnings("ignore")  # of the GRIB reader about its libraries
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
    assert forecast.sizes["member"] == row.members


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("what", [what for what, row in TABLE.items() if row.refused])
def test_a_refusal_reaches_the_command_line_as_status_2(
    what: str, demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paths = TABLE[what].make(tmp_path)
    named = ", ".join(f'"{path.as_posix()}"' for path in paths)
    assert main(["check", str(demo), "--set", f"forecast=[{named}]"]) == 2
    told = capsys.readouterr().err
    assert any(path.name in told for path in paths)
    assert "Traceback" not in told
    assert "0 fault" not in told


NOTHING_BY_ITSELF = {
    "direct light": alone("fdir", np.zeros(SHAPE), units="W m-2", cell_methods="time: point"),
    "wind speed": alone("si10", np.full(SHAPE, 5.0), units="m s-1"),
    "low cloud": alone("lcc", np.full(SHAPE, 0.5), units="1"),
}


@pytest.mark.parametrize("what", NOTHING_BY_ITSELF)
def test_a_file_of_no_use_by_itself_is_refused_beside_typed_weather(what: str, tmp_path: Path) -> None:
    paths = NOTHING_BY_ITSELF[what](tmp_path)
    typed = ("wind_east_m_s", "wind_north_m_s", "air_temp_c", "cloud_cover")
    with pytest.raises(InputError, match="nothing of it is of use by itself"):
        read_forecast(paths, corridor=CORRIDOR, span=SPAN, free_to_lack=typed)


def test_a_look_at_light_that_cannot_be_understood_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    light = np.broadcast_to(clear_light(TIME, LAT, LON), SHAPE) - 300.0
    (path,) = alone("fdir", light, units="W m-2")(tmp_path)
    assert main(["weather", str(path), "--quiet"]) == 2
    assert "no usual reading of its direct radiation on the level" in capsys.readouterr().err


@pytest.mark.parametrize("library", ["xarray.open_dataset", "cfgrib.messages.FileStream.items"])
def test_whatever_a_file_library_raises_becomes_one_sentence(
    library: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class SomethingElseError(Exception):
        pass

    def fail(*args: object, **options: object) -> None:
        raise SomethingElseError("the library is at its wits' end\nand says more")

    (path,) = grib(REGULAR)(tmp_path) if "cfgrib" in library else spoilt(lambda f: f)(tmp_path)
    monkeypatch.setattr(library, fail)
    with pytest.raises(InputError) as caught:
        read_forecast([path], corridor=CORRIDOR, span=SPAN)
    assert str(caught.value).startswith(f"{path.name}: it begins as ")
    assert "(the library is at its wits' end)" in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.filterwarnings("ignore")
def test_a_reduced_grid_keeps_its_values(tmp_path: Path) -> None:
    (path,) = grib(reduced_gaussian())(tmp_path)
    forecast = read_forecast([path], corridor=CORRIDOR, span=SPAN)
    np.testing.assert_allclose(forecast["wind_east_m_s"], 5.0, atol=1e-4)
    assert forecast["lat"][0] < CORRIDOR[0] < CORRIDOR[1] < forecast["lat"][-1]
    assert forecast["lon"][0] < CORRIDOR[2] < CORRIDOR[3] < forecast["lon"][-1]


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


def test_a_quantity_of_more_than_memory_should_hold_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "whole.nc"
    plain_forecast().to_netcdf(path)
    read_forecast([path], corridor=CORRIDOR, span=SPAN)
    monkeypatch.setattr("planner.readers.forecast.file.MOST_BYTES", 64)
    with pytest.raises(InputError, match="GB of memory") as caught:
        read_forecast([path], corridor=CORRIDOR, span=SPAN)
    assert all(fault.where == "whole.nc" for fault in caught.value.faults)
