"""What is told of forecast files without planning: the same understanding as a plan's, and thinly for large ones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, MEMBERS, SPAN, change, plain_forecast, write
from grib_case import AIR, COVER, REGULAR, SOUTHERN_LAMBERT, U10, V10, Message, write_grib

from planner.domain.results.forecast import ForecastAccount
from planner.readers.forecast import survey as forecast_survey
from planner.readers.forecast.grids import plane
from planner.readers.forecast.reader import read_forecast
from planner.readers.forecast.survey import survey


def look(*paths: Path) -> ForecastAccount:
    return survey(paths, corridor=None, span=None, departure=None)


def test_every_variable_is_told_with_its_range_units_times_and_grid(tmp_path: Path) -> None:
    given = plain_forecast()
    account = look(write(change(given, "clt", factor=100.0, units="%"), tmp_path / "forecast.nc"))
    told = {one.quantity: one for one in account.held}
    cover, temperature = told["cloud_cover"], told["air_temp_c"]
    assert (cover.name, cover.units_found, cover.units) == ("clt", "%", "1")
    assert cover.low == pytest.approx(float(given["clt"].min()))
    assert cover.high == pytest.approx(float(given["clt"].max()))
    assert temperature.low == pytest.approx(float(given["ta"].min()) - 273.15, abs=1e-4)
    assert (cover.times, cover.steps_h, cover.members, cover.numbered) == (9, (6.0,), MEMBERS, True)
    assert (cover.first.isoformat(), cover.last.isoformat()) == (
        "2027-05-08T12:00:00+00:00",
        "2027-05-10T12:00:00+00:00",
    )
    grid = cover.grid
    assert (grid.south, grid.north, grid.west, grid.east) == (-38.0, -18.0, 170.0, 190.0)
    assert (grid.rows, grid.columns, grid.step_lat_deg, grid.step_lon_deg) == (21, 21, 1.0, 1.0)
    assert not grid.from_north
    assert account.can_plan


def test_what_is_joined_is_what_a_plan_reads(tmp_path: Path) -> None:
    path = write(plain_forecast(), tmp_path / "forecast.nc")
    account = survey([path], corridor=CORRIDOR, span=SPAN, departure=None)
    assert account.joined is not None
    xr.testing.assert_equal(account.joined, read_forecast([path], corridor=CORRIDOR, span=SPAN))


def test_what_a_plan_needs_and_is_not_there_is_said(tmp_path: Path) -> None:
    account = look(write(plain_forecast()[["clt"]], tmp_path / "cloud.nc"))
    states = {use.need: use.state for use in account.uses}
    assert (states["sunlight"], states["wind"], states["air temperature"]) == ("held", "missing", "missing")
    assert "needs typed wind" in next(use.otherwise for use in account.uses if use.need == "wind")
    assert not account.can_plan
    assert account.all_faults == ()


@pytest.mark.parametrize("name", ["si10", "wdir10"])
def test_half_of_the_wind_is_told_as_half(name: str, tmp_path: Path) -> None:
    half = plain_forecast()[["clt"]].rename(clt=name)
    half[name].attrs = {"units": "m s-1" if name == "si10" else "degree"}
    account = look(write(half, tmp_path / "half.nc"))
    assert account.all_faults == ()
    assert account.joined is None
    wind = next(use for use in account.uses if use.need == "wind")
    assert wind.state == "missing"
    assert ("speed but not its direction" in wind.otherwise) == (name == "si10")
    assert ("direction but not its speed" in wind.otherwise) == (name == "wdir10")


def test_layers_come_before_total_cloud(tmp_path: Path) -> None:
    whole = plain_forecast()
    with_layers = look(write(whole, tmp_path / "a.nc")).uses[0]
    without = look(write(whole.drop_vars("clh"), tmp_path / "b.nc")).uses[0]
    assert with_layers.taken == "low, middle and high cloud (cll, clm, clh)"
    assert without.taken == "total cloud (clt)"


def test_one_bad_variable_leaves_the_others_told(tmp_path: Path) -> None:
    account = look(write(change(plain_forecast(), "ua", units="parsec"), tmp_path / "forecast.nc"))
    assert [one.name for one in account.refused] == ["ua"]
    assert account.refused[0].needed
    assert "'parsec' are not known" in str(account.refused[0].faults[0])
    assert len(account.held) == 6
    assert not account.can_plan


def test_one_bad_file_leaves_the_others_told(tmp_path: Path) -> None:
    (tmp_path / "bad.nc").write_bytes(b"")
    account = look(write(plain_forecast(), tmp_path / "good.nc"), tmp_path / "bad.nc", tmp_path / "none.nc")
    assert [bool(file.faults) for file in account.files] == [False, True, True]
    assert len(account.held) == 7
    assert len(account.all_faults) == 2


def test_what_is_not_used_is_listed(tmp_path: Path) -> None:
    given = plain_forecast()
    given["psl"] = (given["clt"].dims, given["clt"].to_numpy(), {"units": "Pa", "long_name": "pressure"})
    assert look(write(given, tmp_path / "forecast.nc")).files[0].unused == ("psl (pressure, Pa)",)


def test_members_in_files_of_their_own_are_told_once(tmp_path: Path) -> None:
    paths = []
    for number in range(MEMBERS):
        member = plain_forecast().isel(member=number, drop=True).assign_coords(realization=number)
        paths.append(write(member, tmp_path / f"m{number}.nc"))
    held = look(*paths).held
    assert len(held) == 7
    assert {one.members for one in held} == {MEMBERS}
    assert all(one.numbered and len(one.files) == MEMBERS for one in held)


def test_gaps_far_from_any_route_are_told_and_not_refused(tmp_path: Path) -> None:
    given = plain_forecast()
    given["clt"] = given["clt"].where(given["lat"] < -25.0)
    account = look(write(given, tmp_path / "forecast.nc"))
    assert account.can_plan
    assert any("clt: 38.1% of its values are missing" in note for note in account.notes)


def test_a_large_grid_is_looked_at_thinly_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given = plain_forecast()
    path = write(given, tmp_path / "forecast.nc")
    whole = look(path)
    monkeypatch.setattr(forecast_survey, "MOST_VALUES", sum(given[name].size for name in given.data_vars) / 3.9)
    thin = look(path)
    assert (whole.stride, thin.stride) == (1, 2)
    assert thin.held[0].grid == whole.held[0].grid
    assert thin.held[0].low == pytest.approx(float(given["clt"][:, :, ::2, ::2].min()))
    assert thin.joined is not None
    assert thin.joined.sizes["lat"] == 11
    np.testing.assert_allclose(
        thin.joined["cloud_cover"], given["clt"].isel(lat=slice(None, None, 2), lon=slice(None, None, 2)), atol=1e-6
    )


def test_a_large_projected_grid_is_looked_at_thinly_however_few_its_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    messages = [Message(what, value) for what, value in ((U10, 5.0), (V10, 5.0), (COVER, 0.5), (AIR, 290.0))]
    path = write_grib(tmp_path / "forecast.grb", SOUTHERN_LAMBERT, messages)
    monkeypatch.setattr(forecast_survey, "MOST_POINTS", 41 * 31 // 4)
    meshes: list[object] = []
    made = plane._plane
    monkeypatch.setattr(plane, "_plane", lambda *given: meshes.append(given) or made(*given))
    account = look(path)
    assert account.stride > 1
    assert {one.quantity for one in account.held} == {"cloud_cover", "wind_east_m_s", "wind_north_m_s", "air_temp_c"}
    assert len(meshes) == 1  # of one grid, whatever the number of its fields


def test_a_large_file_is_read_a_few_times_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(plain_forecast(), tmp_path / "forecast.nc")
    at_once = read_forecast([path], corridor=CORRIDOR, span=None)
    monkeypatch.setattr("planner.readers.forecast.values._MOST_AT_ONCE", 500)
    xr.testing.assert_equal(at_once, read_forecast([path], corridor=CORRIDOR, span=None))


@pytest.mark.external(source="ecCodes", kind="library")
def test_the_notes_and_the_table_tell_moments_and_spans_alike(tmp_path: Path) -> None:
    pytest.importorskip("cfgrib")
    sun = [Message({"shortName": "avg_sdswrf"}, 120.0 + 10.0 * n, f"{3 * n}-{3 * n + 3}") for n in range(4)]
    air = [Message({"shortName": "2t"}, 290.0 + n, f"{3 * n}-{3 * n + 3}", {"stepType": "avg"}) for n in range(4)]
    wind = [Message(what, 5.0, str(3 * n)) for n in range(5) for what in (U10, V10)]
    account = look(write_grib(tmp_path / "f.grib2", REGULAR, [*sun, *air, *wind]))
    told = {one.quantity: one for one in account.held}
    drawn = "means over spans, drawn straight from middle to middle"
    assert (told["air_temp_c"].reading, told["air_temp_c"].spans_h) == (drawn, (0.0,))
    assert (told["wind_east_m_s"].reading, told["wind_east_m_s"].spans_h) == ("", ())
    for one in account.held:
        said = [note for note in account.notes if note.startswith(f"{one.name} is read as ")]
        assert said == ([f"{one.name} is read as {one.reading}."] if one.reading else [])
    # values at the middles are those of the file; ends of spans lie half way to the next middle
    assert told["air_temp_c"].low == pytest.approx(290.5 - 273.15, abs=1e-3)
    assert told["air_temp_c"].high == pytest.approx(293.0 - 273.15, abs=1e-3)


def test_files_that_give_one_variable_in_two_ways_have_a_row_for_each(tmp_path: Path) -> None:
    ways = {"moments": "time: point", "means": "time: mean"}
    for name, method in ways.items():
        given = plain_forecast()
        light = given["clt"] * 0.0 + 1e-3
        light.attrs = {"units": "W m-2", "cell_methods": method}
        write(given.assign(dswrf=light)[["dswrf"]], tmp_path / f"{name}.nc")
    account = look(*(tmp_path / f"{name}.nc" for name in ways))
    assert sorted(one.reading.split()[0] for one in account.held) == ["means", "values"]


@pytest.mark.external(source="NCEP GFS 2011-10-08 00Z +72 h, 6-hour means", kind="dataset")
def test_good_light_of_the_whole_world_is_not_refused_for_the_ice_on_its_heights(open_data: Path) -> None:
    pytest.importorskip("cfgrib")
    account = look(open_data / "weather" / "NCEP_gfs.grb")
    (light,) = [one for one in account.held if one.quantity == "ghi_w_m2"]
    assert light.reading == "means over the spans that the file states"
    assert light.spans_h == (6.0,)
    assert light.high == pytest.approx(957.0, abs=1.0)  # the field's most, by ecCodes
    assert not account.refused
