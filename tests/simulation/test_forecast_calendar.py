"""What stands in where a forecast ends: drawn days, the same for every quantity, seeded."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import xarray as xr
from sky_case import HOUR, START, forecast_of

from planner.domain.glossary import FORECAST
from planner.domain.schema import check_dataset
from planner.simulation.sky.forecast_calendar import calendar_of, extend, has_one_wind, own_times, wind_of


def laid_out(forecast: xr.Dataset, name: str) -> xr.DataArray:
    """A field over the whole calendar, (outcome, time, lat, lon)."""
    time, nodes = calendar_of(forecast)
    field = forecast[name].to_numpy()
    part = nodes.part[:, :, None, None]
    upper = np.minimum(nodes.lower + 1, field.shape[1] - 1)
    values = (1.0 - part) * field[nodes.member, nodes.lower] + part * field[nodes.member, upper]
    return xr.DataArray(values, dims=("member", "time", "lat", "lon"), coords={"time": time})


def test_added_days_are_whole_days_of_some_member_at_the_same_hour_and_place() -> None:
    forecast = forecast_of(hours=72)
    longer = extend(forecast, START, START + 120 * HOUR, seed=3)
    check_dataset(longer, FORECAST, door="forecast")
    cover = laid_out(longer, "cloud_cover")
    assert cover["time"].to_numpy()[-1] >= START + 120 * HOUR
    assert np.all(np.diff(cover["time"].to_numpy()) == 3 * HOUR)
    field, whole = forecast["cloud_cover"].to_numpy(), cover.to_numpy()
    assert np.array_equal(whole[:, :25], field)
    per_day = 8
    for day in range(2):
        for member in range(3):
            added = whole[member, 25 + per_day * day : 25 + per_day * (day + 1)]
            donors = [field[m, 1 + per_day * d : 1 + per_day * (d + 1)] for m in range(3) for d in range(3)]
            assert sum(np.array_equal(added, donor) for donor in donors) == 1


def test_all_quantities_of_an_added_day_come_from_the_same_donor() -> None:
    forecast = forecast_of(hours=48)
    forecast["air_temp_c"] = (forecast["cloud_cover"] * 10.0).assign_attrs(units="degree_Celsius")
    longer = extend(forecast, START, START + 96 * HOUR, seed=2)
    assert np.allclose(laid_out(longer, "air_temp_c"), laid_out(longer, "cloud_cover") * 10.0)


def test_members_have_one_wind_where_all_fields_that_carry_the_boat_are_alike() -> None:
    forecast = forecast_of(hours=24)
    assert forecast.sizes["member"] == 3
    alike = forecast["cloud_cover"] * 0.0 + 5.0
    still = forecast.assign(wind_east_m_s=alike, wind_north_m_s=alike)
    assert has_one_wind(still)
    assert has_one_wind(still.where(still["time"] > still["time"][0]))  # a gap in all is no difference
    parted = alike.copy()
    parted[2, -1] = 6.0
    assert not has_one_wind(still.assign(wind_north_m_s=parted))
    assert not has_one_wind(still.assign(current_east_m_s=parted))
    assert has_one_wind(still.assign(current_east_m_s=parted).isel(member=[2]))


def test_draws_are_seeded() -> None:
    one, again, other = (
        laid_out(extend(forecast_of(), START, START + 144 * HOUR, seed=s), "cloud_cover") for s in (1, 1, 2)
    )
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)


def test_a_late_forecast_is_extended_back() -> None:
    longer = extend(forecast_of(), START - 10 * HOUR, START + 24 * HOUR, seed=1)
    assert calendar_of(longer)[0][0] == START - 24 * HOUR
    assert np.all(np.diff(calendar_of(longer)[0]) > np.timedelta64(0, "ns"))
    assert own_times(longer)[0] == START


def test_without_an_end_as_much_is_added_as_is_covered() -> None:
    longer = extend(forecast_of(hours=48), START, seed=1)
    assert calendar_of(longer)[0][-1] == START + 96 * HOUR


def test_a_covered_span_changes_no_value() -> None:
    forecast = forecast_of()
    same = extend(forecast, START, START + 60 * HOUR, seed=1)
    assert np.array_equal(laid_out(same, "cloud_cover"), forecast["cloud_cover"])
    assert np.array_equal(own_times(same), calendar_of(same)[0])


def test_departure_may_carry_any_offset() -> None:
    zoned = datetime(2027, 5, 9, 12, tzinfo=timezone(timedelta(hours=12)))
    zulu = datetime(2027, 5, 9, 0, tzinfo=UTC)
    assert extend(forecast_of(), zoned, seed=1).equals(extend(forecast_of(), zulu, seed=1))


def test_members_spread_wider_past_the_end_than_a_quiet_last_day() -> None:
    forecast = forecast_of(hours=72, members=12)
    calm = forecast["cloud_cover"].to_numpy().copy()
    calm[:, -8:] = 0.5  # on the last day all members agree; earlier days differ
    forecast["cloud_cover"] = forecast["cloud_cover"].copy(data=calm)
    longer = extend(forecast, START, START + 96 * HOUR, seed=4)
    spread = laid_out(longer, "cloud_cover").std("member").mean(("lat", "lon")).to_numpy()
    assert spread[-8:].mean() > 0.1 > spread[17:25].mean()


def test_where_the_files_step_changes_an_added_day_lies_on_a_line_between_its_times() -> None:
    forecast = forecast_of(hours=72)
    hours = [*range(0, 25, 6), *range(27, 73, 3)]  # six-hourly on the first day, then three-hourly
    uneven = forecast.sel(time=START + np.array(hours) * HOUR)
    climb = np.arange(uneven.sizes["time"])[None, :, None, None] * 0.0 + np.array(hours)[None, :, None, None]
    uneven["air_temp_c"] = uneven["air_temp_c"].copy(data=np.broadcast_to(climb, uneven["air_temp_c"].shape))
    longer = extend(uneven, START, START + 192 * HOUR, seed=1)
    added = laid_out(longer, "air_temp_c").to_numpy()[:, len(hours) :, 0, 0]
    of_day = np.tile(np.arange(51, 73, 3), 5)
    assert np.allclose((of_day - added) % 24.0, 0.0)
    assert (added < 24.0).any()


def test_the_wind_sailed_in_is_that_of_one_outcome_over_the_whole_calendar() -> None:
    longer = extend(forecast_of(hours=48), START - 5 * HOUR, START + 96 * HOUR, seed=2)
    wind = wind_of(longer, member=1)
    assert np.array_equal(wind["time"], calendar_of(longer)[0])
    assert np.allclose(wind["wind_east_m_s"][0], laid_out(longer, "wind_east_m_s")[1])
    assert set(wind.data_vars) == {"wind_east_m_s", "wind_north_m_s"}


def test_the_fields_are_not_copied() -> None:
    forecast = forecast_of()
    longer = extend(forecast, START, START + 144 * HOUR, seed=1)
    assert np.shares_memory(longer["cloud_cover"].to_numpy(), forecast["cloud_cover"].to_numpy())
