"""Sunlight as files give it, means and sums that restart or not, is read to the same means over each step."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import LAT, LON, START, plain_forecast, write

from planner.domain.errors import InputError
from planner.readers.forecast.reader import read_forecast
from planner.readers.forecast.sunlight.kinds import clear_light

HOUR = np.timedelta64(1, "h")
EVERY = np.timedelta64(3, "h")
END = START + np.arange(1, 25) * EVERY  # three days of three-hour steps
SECONDS = 3.0 * 3600.0


def means() -> np.ndarray:
    """Mean light over each step, under a cloud that changes with place and time, (time, lat, lon) [W/m2]."""
    moments = END[:, None] - EVERY + (np.arange(18) * 600 + 300).astype("timedelta64[s]")
    cloud = 0.55 + 0.2 * np.sin(np.arange(END.size))[:, None, None] + 0.002 * LAT[:, None]
    return 0.8 * cloud * clear_light(moments, LAT, LON).mean(axis=1)


def with_light(values: np.ndarray, units: str, attributes: dict[str, str], time: np.ndarray = END) -> xr.Dataset:
    light = xr.DataArray(values, dims=("time", "lat", "lon"), coords={"time": time, "lat": LAT, "lon": LON})
    sky = plain_forecast().isel(member=[0]).reindex(time=time, method="nearest")
    light.attrs = {"units": units, "standard_name": "surface_downwelling_shortwave_flux_in_air", **attributes}
    kept = sky[["clt", "ua", "va", "ta"]]
    reference = ((), START, {"standard_name": "forecast_reference_time"})
    return kept.assign(ssrd=light).assign_coords(forecast_reference_time=reference)


def since_whole(hours: int) -> tuple[np.ndarray, np.ndarray]:
    """Sums since the last whole so many hours from the start, and the seconds that they run over."""
    each = means() * SECONDS
    per = hours // 3
    sums = np.concatenate([np.cumsum(each[k : k + per], axis=0) for k in range(0, END.size, per)])
    over = np.tile(SECONDS * np.arange(1, per + 1), END.size // per)[:, None, None]
    return sums, over


def bounded(dataset: xr.Dataset) -> xr.Dataset:
    dataset["time"].attrs["bounds"] = "time_bnds"
    return dataset.assign(time_bnds=(("time", "nv"), np.stack([END - EVERY, END], axis=1)))


GIVEN: dict[str, Callable[[], xr.Dataset]] = {
    "means over the step": lambda: with_light(means(), "W m-2", {"cell_methods": "time: mean"}),
    "means over the step, bounds given": lambda: bounded(
        with_light(means(), "W m-2", {"cell_methods": "time: mean"})
    ),
    "sums over the step": lambda: with_light(means() * SECONDS, "J m-2", {}),
    "sums since the start": lambda: with_light(np.cumsum(means() * SECONDS, axis=0), "J m-2", {}),
    "sums since six hours": lambda: with_light(since_whole(6)[0], "J m-2", {}),
    "means since six hours": lambda: with_light(np.divide(*since_whole(6)), "W m-2", {"cell_methods": "time: mean"}),
    "means since six hours, no word of it": lambda: with_light(np.divide(*since_whole(6)), "W/m^2", {}),
    "sums since twelve hours": lambda: with_light(since_whole(12)[0], "J m**-2", {}),
    "kilojoules": lambda: with_light(means() * SECONDS / 1e3, "kJ m-2", {}),
}


@pytest.mark.filterwarnings("ignore::xarray.SerializationWarning")
@pytest.mark.parametrize("how", GIVEN)
def test_every_way_of_giving_sunlight_reads_to_the_same_means(how: str, tmp_path: Path) -> None:
    forecast = read_forecast([write(GIVEN[how](), tmp_path / "light.nc")], corridor=None, span=None)
    assert np.array_equal(forecast["interval_end"], END)
    assert np.array_equal(forecast["interval"], END - EVERY)
    assert np.allclose(forecast["ghi_w_m2"][0], means(), atol=0.05)  # W/m2: single precision of sums over three days


def test_moments_stay_moments(tmp_path: Path) -> None:
    now = 0.6 * clear_light(END, LAT, LON)
    path = write(with_light(now, "W m-2", {"cell_methods": "time: point"}), tmp_path / "light.nc")
    forecast = read_forecast([path], corridor=None, span=None)
    assert np.array_equal(forecast["interval"], forecast["interval_end"])
    assert np.allclose(forecast["ghi_w_m2"][0], now, atol=1e-3)


def test_light_by_night_is_left_unused_where_there_is_cloud(tmp_path: Path) -> None:
    path = write(with_light(np.full(means().shape, 250.0), "W m-2", {}), tmp_path / "light.nc")
    forecast = read_forecast([path], corridor=None, span=None)
    assert "ghi_w_m2" not in forecast
    assert "Left unused: light.nc: ssrd: no usual reading" in forecast.attrs["notes"]


def test_light_that_cannot_be_read_is_refused_where_there_is_no_cloud(tmp_path: Path) -> None:
    spoilt = with_light(np.full(means().shape, 250.0), "W m-2", {}).drop_vars("clt")
    with pytest.raises(InputError, match=r"no total cloud cover(?s:.*)no usual reading"):
        read_forecast([write(spoilt, tmp_path / "light.nc")], corridor=None, span=None)


def test_negative_light_is_refused_or_set_aside(tmp_path: Path) -> None:
    spoilt = with_light(-means(), "W m-2", {"cell_methods": "time: mean"})
    forecast = read_forecast([write(spoilt, tmp_path / "light.nc")], corridor=None, span=None)
    assert "ghi_w_m2" not in forecast


def test_negative_light_over_stated_spans_is_set_aside_too(tmp_path: Path) -> None:
    spoilt = bounded(with_light(-means(), "W m-2", {"cell_methods": "time: mean"}))
    forecast = read_forecast([write(spoilt, tmp_path / "light.nc")], corridor=None, span=None)
    assert "ghi_w_m2" not in forecast


def test_light_alone_needs_no_cloud(tmp_path: Path) -> None:
    bright = with_light(means() * SECONDS, "J m-2", {}).drop_vars("clt")
    forecast = read_forecast([write(bright, tmp_path / "light.nc")], corridor=None, span=None)
    assert "cloud_cover" not in forecast
    assert "ssrd is read as sums over the step" in forecast.attrs["notes"]


def test_the_direct_part_comes_along_on_the_same_spans(tmp_path: Path) -> None:
    both = with_light(means() * SECONDS, "J m-2", {})
    both["fdir"] = both["ssrd"] * 0.6
    both["fdir"].attrs = {"units": "J m-2"}
    forecast = read_forecast([write(both, tmp_path / "light.nc")], corridor=None, span=None)
    assert np.allclose(forecast["direct_w_m2"], 0.6 * forecast["ghi_w_m2"], atol=0.05)


def test_a_step_longer_than_the_restart_is_one_span(tmp_path: Path) -> None:
    # means that restart every six hours, as long as steps are of three; later ones are over a step of twelve hours
    each = means()
    late = np.arange(11, 24, 4)  # ends of the half days of the second and third day
    shown = np.concatenate([np.arange(8), late])
    whole = np.stack([each[i - 3 : i + 1].mean(axis=0) for i in late])
    early = np.divide(*since_whole(6))[:8]
    given = with_light(np.concatenate([early, whole]), "W m-2", {"cell_methods": "time: mean"}, END[shown])
    forecast = read_forecast([write(given, tmp_path / "light.nc")], corridor=None, span=None)
    assert np.array_equal(forecast["interval"][8:], END[late] - 12 * HOUR)
    assert np.allclose(forecast["ghi_w_m2"][0], np.concatenate([each[:8], whole]), atol=0.05)


def test_cloud_that_begins_after_the_analysis_is_held_back_to_it_where_light_covers(tmp_path: Path) -> None:
    given = with_light(means() * SECONDS, "J m-2", {})
    states = given[["ua", "va", "ta"]].isel(time=[0]).assign_coords(time=[START])
    whole = xr.concat([states, given], dim="time")
    forecast = read_forecast([write(whole, tmp_path / "light.nc")], corridor=None, span=None)
    assert forecast["time"].to_numpy()[0] == START
    cover = forecast["cloud_cover"].to_numpy()
    assert np.allclose(cover[:, 0], cover[:, 1])
    without_light = whole.drop_vars("ssrd")
    later = read_forecast([write(without_light, tmp_path / "cloud.nc")], corridor=None, span=None)
    assert later["time"].to_numpy()[0] in {START, END[0]}
