"""Rain beside a forecast: rates alone, from the second time on, and never a reason to lose a time of the rest."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import CORRIDOR, plain_forecast, write

from planner.readers.forecast.reader import read_forecast


def with_rain(units: str, value: float) -> xr.Dataset:
    forecast = plain_forecast()
    rain = xr.full_like(forecast["clt"], value).assign_attrs(units=units, standard_name="precipitation_flux")
    return forecast.assign(pr=rain)


@pytest.mark.parametrize(
    ("units", "value"),
    [("kg m-2 s-1", 2.0 / 3600.0), ("mm h-1", 2.0), ("mm s-1", 2.0 / 3600.0), ("m s-1", 2.0 / 3.6e6)],
)
def test_two_millimetres_an_hour_in_every_unit(tmp_path: Path, units: str, value: float) -> None:
    path = write(with_rain(units, value), tmp_path / "rain.nc")
    rain = read_forecast([path], corridor=CORRIDOR, span=None)["rain_mm_h"]
    assert rain.dims == ("member", "time", "lat", "lon")
    np.testing.assert_allclose(rain.to_numpy(), 2.0, rtol=1e-5)


def test_rain_that_begins_later_leaves_the_rest_its_times(tmp_path: Path) -> None:
    dry = write(plain_forecast(), tmp_path / "sky.nc")
    later = with_rain("mm h-1", 1.0)[["pr"]].isel(time=slice(2, None))
    wet = write(later, tmp_path / "rain.nc")
    alone = read_forecast([dry], corridor=CORRIDOR, span=None)
    both = read_forecast([dry, wet], corridor=CORRIDOR, span=None)
    np.testing.assert_array_equal(both["time"].to_numpy(), alone["time"].to_numpy())
    assert float(both["rain_mm_h"].min()) == 1.0


def test_sums_since_the_start_are_made_rates(tmp_path: Path) -> None:
    summed = with_rain("kg m-2", 0.0)
    fallen = 12.0 * np.arange(summed.sizes["time"])[None, :, None, None]  # 12 mm in each six hours
    summed["pr"] = summed["pr"] + fallen
    summed["pr"].attrs = {"units": "kg m-2", "standard_name": "precipitation_amount"}
    rain = read_forecast([write(summed, tmp_path / "sum.nc")], corridor=CORRIDOR, span=None)["rain_mm_h"]
    np.testing.assert_allclose(rain.to_numpy()[:, 1:], 2.0, rtol=1e-5)


def test_rain_in_strange_units_is_set_aside_and_told(tmp_path: Path) -> None:
    path = write(with_rain("furlong", 2.0), tmp_path / "rain.nc")
    forecast = read_forecast([path], corridor=CORRIDOR, span=None)
    assert "rain_mm_h" not in forecast
    assert "Left unused: rain.nc: pr: units 'furlong' are not known" in forecast.attrs["notes"]
