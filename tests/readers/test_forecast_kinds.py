"""Which kind a file's sunlight is: found by the sky, asked once where it is open, and settled by the passage file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from forecast_case import LAT, LON, START, plain_forecast, write

from planner.domain.errors import InputError
from planner.domain.inputs.passage import Passage
from planner.readers.forecast.reader import read_forecast
from planner.readers.forecast.sunlight.flux import GIVEN, MEANS, MOMENTS, SUMS, Reading, starts
from planner.readers.forecast.sunlight.kinds import Given, clear_light, same_by_day, settle

QUARTER = np.timedelta64(15, "m")
HOUR = np.timedelta64(1, "h")
WORDLESS = (MOMENTS, *MEANS)


def under_cloud(seed: int, *, days: int = 3, members: int = 1, west: float = 176.0) -> tuple[np.ndarray, Given]:
    """Light each quarter of an hour under cloud that drifts, and nine places and a start for it."""
    rng = np.random.default_rng(seed)
    lat, lon = np.array([-34.0, -30.0, -26.0]), west + np.array([0.0, 2.0, 4.0])
    shape = (members, days * 96, 3, 3)
    cloud = rng.standard_normal(shape) + rng.standard_normal((1, shape[1], 1, 1))
    for i in range(1, shape[1]):
        cloud[:, i] = 0.94 * cloud[:, i - 1] + 0.34 * cloud[:, i]
    middle = START + np.arange(shape[1]) * QUARTER + QUARTER // 2
    light = clear_light(middle, lat, lon)[None] / (1.0 + np.exp(-1.0 - cloud))
    return light, Given(np.zeros((0, 0, 3, 3), dtype=np.float32), middle[:0], lat, lon, START)


def written(light: np.ndarray, place: Given, reading: Reading, step_h: int) -> Given:
    """The same as a file would have it, of one kind and step."""
    per = 4 * step_h
    ends = np.arange(per, light.shape[1] + 1, per)
    time = START + ends * QUARTER
    if reading.restart_h is None:
        values = light[:, np.minimum(ends, light.shape[1] - 1)]
    else:
        sums = np.concatenate([np.zeros_like(light[:, :1]), np.cumsum(light, axis=1)], axis=1)
        begins = ((starts(reading, time, START) - START) / QUARTER).round().astype(int)
        over = np.full(ends.shape, 1.0 / 900.0) if reading.summed else (ends - begins).astype(float)
        values = (sums[:, ends] - sums[:, begins]) / over[:, None, None]
    return Given(values.astype(np.float32), time, place.lat, place.lon, START)


@pytest.mark.parametrize("step_h", [1, 3])
@pytest.mark.parametrize("kind", [*WORDLESS, *SUMS], ids=lambda kind: kind.words)
def test_no_kind_is_taken_for_one_of_another_energy(kind: Reading, step_h: int) -> None:
    found = 0
    for seed in range(6):
        given = written(*under_cloud(seed, west=-170.0 + 60.0 * seed), kind, step_h)
        left = settle(SUMS if kind.summed else WORDLESS, [given])
        assert any(reading == kind or same_by_day(kind, reading, given) for reading in left)
        found += len(left) == 1
    assert found >= 4


def test_light_that_no_kind_brings_under_the_sun_is_none() -> None:
    light, place = under_cloud(1)
    backwards = written(light[:, ::-1], place, MOMENTS, 1)
    night = Given(backwards.values + 200.0, backwards.time, place.lat, place.lon, START)
    assert settle(WORDLESS, [night]) == []


def as_file(light: np.ndarray, time: np.ndarray) -> xr.Dataset:
    sky = plain_forecast().isel(member=[0]).interp(time=time, kwargs={"fill_value": "extrapolate"})
    given = xr.DataArray(light, dims=("time", "lat", "lon"), coords={"time": time, "lat": LAT, "lon": LON})
    given.attrs = {"units": "W m-2", "standard_name": "surface_downwelling_shortwave_flux_in_air"}
    reference = ((), START, {"standard_name": "forecast_reference_time"})
    return sky[["ua", "va", "ta"]].assign(rsds=given).assign_coords(forecast_reference_time=reference)


def two_values_in_the_morning() -> xr.Dataset:
    """Too little to tell: the mean of two lit spans, or since the start, under a sky that clears."""
    time = START + np.array([9, 12]) * HOUR
    part = clear_light(time, LAT, LON)
    return as_file(0.3 * part, time)


def test_what_stays_open_is_asked_once_in_plain_words_and_settled_by_the_passage_file(tmp_path: Path) -> None:
    paths = [write(two_values_in_the_morning(), tmp_path / f"member_{n}.nc") for n in range(3)]
    with pytest.raises(InputError) as refused:
        read_forecast(paths, corridor=None, span=None)
    asked = [fault for fault in refused.value.faults if "sunlight" in fault.problem]
    assert len(asked) == 1
    assert asked[0].where == "member_0.nc and 2 more"
    assert "nothing says what each value of its sunlight is" in asked[0].problem
    assert "sunlight_given = " in asked[0].remedy
    settled = read_forecast(paths, corridor=None, span=None, sunlight="at its time")
    assert "ghi_w_m2" in settled
    assert "rsds is read as values at their times" in settled.attrs["notes"]


def test_the_passage_file_knows_every_kind() -> None:
    allowed = Passage.model_json_schema()["properties"]["sunlight_given"]["anyOf"][0]["enum"]
    assert list(allowed) == list(GIVEN)
    assert {reading.given for reading in (*WORDLESS, *SUMS)} == set(GIVEN)
