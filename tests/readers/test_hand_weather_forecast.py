"""Weather typed by hand as a forecast: alone, with a file without cloud, before and beyond a file, instead of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, LAT, LON, MEMBERS, TIME, plain_forecast, write

from planner.domain.errors import InputError
from planner.domain.glossary import BY_HAND, FORECAST
from planner.domain.inputs.hand_weather import WeatherRow
from planner.domain.schema import check_dataset
from planner.readers.forecast.reader import read_forecast
from planner.readers.hand_weather import DISPENSABLE, carried_by_hand, forecast_by_hand

CLOUD = ["clt", "cll", "clm", "clh"]
KN = 1852.0 / 3600.0


def typed(begins: str, until: str | None = None, **said: Any) -> WeatherRow:
    said = {"sky": "broken"} | said
    return WeatherRow.model_validate(
        {"from": f"2027-05-{begins}:00Z", "until": until and f"2027-05-{until}:00Z"} | said
    )


def filed(tmp_path: Path, forecast: xr.Dataset) -> xr.Dataset:
    path = write(forecast, tmp_path / "weather.nc")
    return read_forecast([path], corridor=CORRIDOR, span=None, free_to_lack=DISPENSABLE)


def wind_only(tmp_path: Path) -> xr.Dataset:
    return filed(tmp_path, plain_forecast().drop_vars([*CLOUD, "ta"]))


def at(forecast: xr.Dataset, name: str, moment: str) -> np.ndarray:
    """A quantity between its times, as stages read it: linear."""
    when = np.datetime64(f"2027-05-{moment}", "ns")
    return forecast[name].interp(time=when).to_numpy()


EASTERLY = {"wind_from": "E", "wind_kn": 20.0}


def test_alone_it_is_a_forecast_of_one_member_round_the_globe() -> None:
    rows = [typed("09T00:00", sky="overcast", air_temp_c=21.0, **EASTERLY), typed("10T00:00", "11T00:00", **EASTERLY)]
    forecast = forecast_by_hand(rows, where="passage.toml")
    check_dataset(forecast, FORECAST | BY_HAND, door="test")
    assert forecast.sizes["member"] == 1
    assert forecast["time"].to_numpy()[[0, -1]].tolist() == [
        np.datetime64(f"2027-05-{day}T00:00", "ns").astype(int) for day in ("09", "11")
    ]
    assert np.diff(forecast["time"].to_numpy()).max() <= np.timedelta64(3, "h")
    assert forecast["wind_east_m_s"].to_numpy() == pytest.approx(-20.0 * KN)  # an easterly blows toward west
    assert forecast["wind_north_m_s"].to_numpy() == pytest.approx(0.0, abs=1e-12)
    assert set(forecast["air_temp_c"].to_numpy().ravel()) == {21.0}  # held by the row that gives none
    assert "cloud_cover" not in forecast
    assert "rain_mm_h" not in forecast
    assert forecast.attrs["notes"] == ""


def test_a_row_holds_to_the_last_second_before_the_next() -> None:
    rows = [
        typed("09T00:00", sky="clear", **EASTERLY),
        typed("09T11:20", "10T00:00", sky="overcast", wind_from="W", wind_kn=5.0),
    ]
    forecast = forecast_by_hand(rows, where="passage.toml")
    for moment, cover, east_kn in (("09T11:19:59", 0.0, -20.0), ("09T11:20:00", 1.0, 5.0), ("09T06:10", 0.0, -20.0)):
        assert at(forecast, "seen_cover", moment) == pytest.approx(cover)
        assert at(forecast, "wind_east_m_s", moment)[0] == pytest.approx(east_kn * KN)


def test_rain_is_that_of_the_rows_that_give_some() -> None:
    rows = [typed("09T00:00", rain_mm_h=3.0, **EASTERLY), typed("10T00:00", "11T00:00", **EASTERLY)]
    forecast = forecast_by_hand(rows, where="passage.toml")
    assert at(forecast, "rain_mm_h", "09T12:00").max() == 3.0
    assert at(forecast, "rain_mm_h", "10T12:00").max() == 0.0


def test_without_any_air_temperature_twenty_degrees_are_taken_and_told() -> None:
    forecast = forecast_by_hand([typed("09T00:00", "10T00:00", **EASTERLY)], where="passage.toml")
    assert set(forecast["air_temp_c"].to_numpy().ravel()) == {20.0}
    assert forecast.attrs["notes"] == "No air temperature is given: 20 C is taken."


def test_alone_every_row_needs_a_wind() -> None:
    rows = [typed("09T00:00", **EASTERLY), typed("10T00:00", "11T00:00")]
    with pytest.raises(InputError) as caught:
        forecast_by_hand(rows, where="passage.toml")
    assert [str(fault) for fault in caught.value.faults] == [
        "passage.toml: weather.1.wind_kn: the row has no wind, and no forecast file is named. "
        'Add for example wind_from = "SE" and wind_kn = 15, as the bulletin says.'
    ]


def test_a_wind_only_file_is_refused_alone_and_read_beside_rows(tmp_path: Path) -> None:
    path = write(plain_forecast().drop_vars([*CLOUD, "ta"]), tmp_path / "wind.nc")
    with pytest.raises(InputError, match="it holds no total cloud cover") as caught:
        read_forecast([path], corridor=CORRIDOR, span=None)
    assert len(caught.value.faults) == 2  # nor air temperature
    assert "cloud_cover" not in read_forecast([path], corridor=CORRIDOR, span=None, free_to_lack=DISPENSABLE)


def test_a_file_without_wind_takes_it_from_the_rows_and_keeps_its_cloud(tmp_path: Path) -> None:
    path = write(plain_forecast().drop_vars(["ua", "va"]), tmp_path / "cloud.nc")
    with pytest.raises(InputError, match="it holds no 10 m wind toward east"):
        read_forecast([path], corridor=CORRIDOR, span=None)
    cloud = read_forecast([path], corridor=CORRIDOR, span=None, free_to_lack=DISPENSABLE)
    rows = [typed("08T12:00", **EASTERLY), typed("09T13:00", "10T00:00", wind_from="S", wind_kn=20.0)]
    joined = carried_by_hand(cloud, rows, where="passage.toml")
    check_dataset(joined, FORECAST | BY_HAND, door="test")
    assert joined["wind_by_hand"].all()
    assert not joined["cloud_by_hand"].any()
    assert at(joined, "wind_north_m_s", "09T14:00:00") == pytest.approx(20.0 * 1852.0 / 3600.0, abs=1e-5)
    assert joined["time"].to_numpy()[-1] == np.datetime64("2027-05-10T00:00")
    assert "has no wind, and the rows typed by hand reach from" in joined.attrs["notes"]
    assert np.array_equal(joined["cloud_cover"].sel(time=TIME[:4]), cloud["cloud_cover"].sel(time=TIME[:4]))
    with pytest.raises(InputError, match=r"weather\.1\.wind_kn: the row has no wind, nor has the forecast file"):
        carried_by_hand(cloud, [rows[0], typed("09T13:00", "10T00:00")], where="passage.toml")


def test_a_wind_only_file_keeps_its_wind_and_takes_cloud_and_air_from_the_rows(tmp_path: Path) -> None:
    wind = wind_only(tmp_path)
    rows = [typed("08T12:00", sky="few", air_temp_c=19.0), typed("09T13:00", "10T12:00", oktas=7, sky=None)]
    joined = carried_by_hand(wind, rows, where="passage.toml")
    check_dataset(joined, FORECAST | BY_HAND, door="test")
    assert joined.sizes["member"] == MEMBERS
    own = joined.sel(time=TIME)
    assert np.array_equal(own["wind_east_m_s"].to_numpy(), wind["wind_east_m_s"].to_numpy())
    assert not joined["wind_by_hand"].any()
    assert joined["cloud_by_hand"].all()
    assert at(joined, "seen_cover", "09T12:59:59") == pytest.approx(1.5 / 8.0)
    assert at(joined, "seen_cover", "09T13:00:00") == pytest.approx(7.0 / 8.0)
    assert set(joined["air_temp_c"].to_numpy().ravel()) == {19.0}
    # both sides of the change lie between the file's times; its wind there is its own
    expected = at(wind, "wind_north_m_s", "09T13:00:00")
    assert at(joined, "wind_north_m_s", "09T13:00:00") == pytest.approx(expected, abs=1e-4)


def test_a_file_without_cloud_covers_the_times_of_the_rows_alone(tmp_path: Path) -> None:
    joined = carried_by_hand(
        wind_only(tmp_path), [typed("08T18:00", "09T16:00", air_temp_c=20.0)], where="passage.toml"
    )
    assert joined["time"].to_numpy()[0] == np.datetime64("2027-05-08T18:00")
    assert joined["time"].to_numpy()[-1] == np.datetime64("2027-05-09T16:00")
    assert "reach from 2027-05-08T18:00Z to 2027-05-09T16:00Z: its wind before and after" in joined.attrs["notes"]


def test_rows_carry_on_where_a_whole_file_ends(tmp_path: Path) -> None:
    whole = filed(tmp_path, plain_forecast())
    rows = [
        typed("10T00:00", sky="overcast", **EASTERLY),
        typed("11T00:00", "12T00:00", sky="clear", air_temp_c=25.0, **EASTERLY),
    ]
    joined = carried_by_hand(whole, rows, where="passage.toml")
    own = joined.sel(time=TIME)
    for name in whole:
        assert np.array_equal(own[name].to_numpy(), whole[name].to_numpy()), name  # the file wins where it reaches
    assert not own["cloud_by_hand"].any()
    after = joined.sel(time=slice(TIME[-1] + np.timedelta64(1, "s"), None))
    assert after["cloud_by_hand"].all()
    assert after["wind_by_hand"].all()
    assert after["wind_east_m_s"].to_numpy() == pytest.approx(-20.0 * KN, rel=1e-6)
    assert set(after["air_temp_c"].to_numpy().ravel()) == {25.0}
    assert at(joined, "seen_cover", "10T12:00:01") == 1.0
    assert joined["time"].to_numpy()[-1] == np.datetime64("2027-05-12T00:00")


def test_beyond_a_file_its_last_air_holds_where_no_row_gives_one(tmp_path: Path) -> None:
    whole = filed(tmp_path, plain_forecast())
    joined = carried_by_hand(whole, [typed("10T00:00", "12T00:00", **EASTERLY)], where="passage.toml")
    assert np.array_equal(joined["air_temp_c"].to_numpy()[:, -1], whole["air_temp_c"].to_numpy()[:, -1])
    assert "No row gives an air temperature: the file's last one is held." in joined.attrs["notes"]


def test_rows_stand_before_a_file_that_begins_late(tmp_path: Path) -> None:
    joined = carried_by_hand(
        filed(tmp_path, plain_forecast()), [typed("08T00:00", "09T00:00", **EASTERLY)], where="p.toml"
    )
    before = joined.sel(time=slice(None, TIME[0] - np.timedelta64(1, "s")))
    assert joined["time"].to_numpy()[0] == np.datetime64("2027-05-08T00:00")
    assert before["cloud_by_hand"].all()
    assert not joined.sel(time=slice(TIME[0], None))["cloud_by_hand"].any()


def test_a_row_may_stand_instead_of_a_file_with_what_it_gives(tmp_path: Path) -> None:
    whole = filed(tmp_path, plain_forecast())
    rows = [
        typed("08T18:00", sky="few", **EASTERLY),
        typed("09T00:00", sky="overcast", instead=True),
        typed("09T05:00", "09T16:00", sky="few", instead=True, **EASTERLY),
    ]
    joined = carried_by_hand(whole, rows, where="passage.toml")
    flags = {
        moment: (float(at(joined, "cloud_by_hand", moment)), float(at(joined, "wind_by_hand", moment)))
        for moment in ("08T20:00", "09T02:00", "09T12:00", "09T16:00:00", "09T16:00:01", "10T00:00")
    }
    assert list(flags.values()) == [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (1.0, 1.0), (0.0, 0.0), (0.0, 0.0)]
    assert at(joined, "wind_east_m_s", "09T12:00") == pytest.approx(-20.0 * KN, rel=1e-6)
    for moment in ("09T02:00", "09T18:00"):
        assert at(joined, "wind_east_m_s", moment) == pytest.approx(at(whole, "wind_east_m_s", moment), abs=1e-4)
    assert at(joined, "air_temp_c", "09T12:00") == pytest.approx(at(whole, "air_temp_c", "09T12:00"), abs=1e-4)


def test_rows_that_a_file_leaves_no_room_for_are_told(tmp_path: Path) -> None:
    joined = carried_by_hand(filed(tmp_path, plain_forecast()), [typed("08T18:00", "09T16:00")], where="passage.toml")
    assert "No row typed by hand is used" in joined.attrs["notes"]


def test_the_file_read_before_is_left_as_it_was(tmp_path: Path) -> None:
    whole = filed(tmp_path, plain_forecast())
    before = whole.copy(deep=True)
    carried_by_hand(
        whole, [typed("08T12:00", "12T00:00", instead=True, rain_mm_h=1.0, **EASTERLY)], where="passage.toml"
    )
    assert whole.identical(before)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (
            [typed("10T13:00", "12T00:00", **EASTERLY)],
            "passage.toml: weather: the rows reach from 2027-05-10T13:00Z to 2027-05-12T00:00Z, and the forecast "
            "file from 2027-05-08T12:00Z to 2027-05-10T12:00Z: between them lies a gap. Let them meet or overlap; "
            "there the file wins.",
        ),
        (
            [typed("09T00:00", **EASTERLY), typed("10T00:00", "12T00:00")],
            "passage.toml: weather.1.wind_kn: the row has no wind, and reaches beyond the forecast file, "
            '2027-05-08T12:00Z to 2027-05-10T12:00Z. Add for example wind_from = "SE" and wind_kn = 15, as the '
            "bulletin says. Or end it where the file ends.",
        ),
    ],
)
def test_what_file_and_rows_cannot_make_together(tmp_path: Path, rows: list[WeatherRow], message: str) -> None:
    with pytest.raises(InputError) as caught:
        carried_by_hand(filed(tmp_path, plain_forecast()), rows, where="passage.toml")
    assert [str(fault) for fault in caught.value.faults] == [message]


def test_the_grid_of_the_file_stays(tmp_path: Path) -> None:
    joined = carried_by_hand(wind_only(tmp_path), [typed("08T12:00", "12T00:00", **EASTERLY)], where="passage.toml")
    assert set(joined["lat"].to_numpy()) <= set(LAT)
    assert set(joined["lon"].to_numpy()) <= set(LON)
    assert joined.attrs["source"] == "weather.nc"
