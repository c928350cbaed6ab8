"""The ship's clock across zones of longitude, the 180th meridian, and a change of clocks ashore."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import xarray as xr
from sailing_case import boat, passage, route, sail, steady

from planner.domain.ship_clock import ShipClock, ShipOffset
from planner.domain.utc import from_numpy
from planner.presentation.words.notes import all_said
from planner.simulation.clock import changes_of_watch, in_spans
from planner.simulation.ship_time import by_destination, clock_warnings, departure_offset, ship_offset_along

HOUR = timedelta(hours=1)
NAUTICAL = passage(ship_time={"zone": "nautical"})


def track(start: str, *, days: float, lon: tuple[float, float]) -> xr.Dataset:
    """Run at an even rate in longitude, which may pass 180."""
    steps = round(days * 144)
    time = np.datetime64(start, "ns") + np.arange(steps) * np.timedelta64(10, "m")
    lons = (np.linspace(*lon, steps) + 180.0) % 360.0 - 180.0
    return xr.Dataset({"lon": ("time", lons)}, coords={"time": time}, attrs={"step_s": 600.0})


def epochs(found: ShipClock, over: xr.Dataset) -> list[tuple[str, float]]:
    """Start by the ship's clock and length in hours of each watch."""
    first, end, _ = changes_of_watch(over["time"].values, NAUTICAL.watches, found)
    moments = [datetime.fromisoformat(str(t)[:19]).replace(tzinfo=UTC) for t in over["time"].values[first]]
    return [(f"{moment + found:%d %H:%M}", (b - a) / 6) for moment, a, b in zip(moments, first, end, strict=True)]


def test_a_fixed_clock_stays_what_it_was() -> None:
    plain = passage()
    assert departure_offset(plain, 174.0) == 12 * HOUR
    assert ship_offset_along(plain, track("2027-05-08T22:00", days=8, lon=(174.0, 185.0)), 12 * HOUR) == 12 * HOUR


def test_clocks_are_put_back_westward_at_an_afternoon_watch_which_is_an_hour_longer() -> None:
    west = track("2027-05-08T00:00", days=4, lon=(-60.0, -70.0))
    assert departure_offset(NAUTICAL, -60.0) == -4 * HOUR
    clock = ship_offset_along(NAUTICAL, west, -4 * HOUR)
    assert isinstance(clock, ShipClock)
    ((moment, offset),) = clock.changes
    assert offset == -5 * HOUR
    assert f"{moment - 4 * HOUR:%H:%M}" in {"12:00", "16:00"}  # by the old clock
    crossed = west["time"].values[np.argmax(west["lon"].values < -67.5)]
    assert np.datetime64(moment.replace(tzinfo=None)) >= crossed
    lengths = [length for _, length in epochs(clock, west)][1:-1]
    assert sorted(set(lengths)) == [4.0, 5.0]
    assert lengths.count(5.0) == 1
    (line,) = all_said(clock_warnings(clock))
    assert "put back 1 h" in line


def test_clocks_are_put_on_eastward_and_a_watch_is_an_hour_shorter() -> None:
    east = track("2027-05-08T04:00", days=4, lon=(-70.0, -60.0))
    clock = ship_offset_along(NAUTICAL, east, -5 * HOUR)
    assert isinstance(clock, ShipClock)
    lengths = [length for _, length in epochs(clock, east)][1:-1]
    assert sorted(set(lengths)) == [3.0, 4.0]
    assert "put on 1 h" in all_said(clock_warnings(clock))[0]


def test_eastward_across_180_a_date_comes_twice_and_no_watch_is_lost() -> None:
    over = track("2027-05-08T22:00", days=6, lon=(177.0, 183.0))
    clock = ship_offset_along(NAUTICAL, over, 12 * HOUR)
    assert isinstance(clock, ShipClock)
    assert [later for _, later in clock.changes] == [-12 * HOUR]
    starts = [start for start, _ in epochs(clock, over)]
    repeated = {start for start in starts if starts.count(start) == 2}
    assert len(repeated) == 6  # the six watches of one date stand twice
    assert {length for _, length in epochs(clock, over)[1:-1]} == {4.0}
    assert "the date is counted twice" in all_said(clock_warnings(clock))[0]


def dates_of(offset: ShipOffset, over: xr.Dataset) -> list[int]:
    """Days of the month as the bill's watches bring them, each run of one day once."""
    first, _, _ = changes_of_watch(over["time"].values, NAUTICAL.watches, offset)
    days = [(from_numpy(moment) + offset).day for moment in over["time"].values[first]]
    return [day for day, before in zip(days, [0, *days], strict=False) if day != before]


@pytest.mark.parametrize("board_nm", [5.0, 20.0, 60.0])
@pytest.mark.parametrize(("lon", "most"), [(-180.0, 0), (179.95, 0), (-172.5, 1)])
def test_a_beat_along_an_edge_of_zones_keeps_its_clock_and_no_date_comes_back(
    lon: float, most: int, board_nm: float
) -> None:
    """A week and more of boards either side of a meridian: once the clock changed 14 times along 180."""
    north = route((-35.0, lon), (-24.0, lon))
    track = sail(NAUTICAL, boat(board_nm=board_nm), north, steady(12.0, 0.0))
    assert track.sizes["time"] > 7 * 144
    side = np.sign((track["lon"].values - lon + 180.0) % 360.0 - 180.0)
    assert np.count_nonzero(np.diff(side)) > 4
    clock = ship_offset_along(NAUTICAL, track, departure_offset(NAUTICAL, lon))
    # boards of over a day may leave the last of them on the side of which the destination is the edge
    assert len(getattr(clock, "changes", ())) <= most + (board_nm == 60.0)
    dates = dates_of(clock, track)
    assert dates == sorted(set(dates))  # each date once, in order


def test_once_changed_the_date_is_kept_back_across_180_and_the_hours_follow_the_zones() -> None:
    there = np.linspace(177.0, 190.0, 8 * 144)
    lons = np.concatenate([there, there[::-1], np.linspace(177.0, 160.0, 8 * 144)])
    over = track("2027-05-08T22:00", days=24, lon=(0.0, 1.0)).assign(lon=("time", (lons + 180.0) % 360.0 - 180.0))
    clock = ship_offset_along(NAUTICAL, over, 12 * HOUR)
    assert isinstance(clock, ShipClock)
    assert [later // HOUR for _, later in clock.changes] == [-12, -11, -12, -13]
    codes = [note.code for note in clock_warnings(clock)]
    assert codes == ["date_twice", "clock_on", "clock_back", "clock_back"]
    dates = dates_of(clock, over)
    assert (
        max(dates.count(day) for day in dates) == 2
    )  # the one that is counted twice, and no other date a third time


def test_the_destinations_clock_is_taken_on_its_day_at_an_afternoon_watch() -> None:
    """From New Zealand to 175 W: by the nautical zone its date is a day behind; by the country's own it is not."""
    over = track("2027-05-08T22:00", days=8, lon=(174.0, 185.0))
    asked = passage(ship_time={"zone": "destination", "from_day": 4})
    known = by_destination(asked, -175.0)
    assert departure_offset(known, 174.0) == 12 * HOUR
    clock = ship_offset_along(known, over, 12 * HOUR)
    assert isinstance(clock, ShipClock)
    ((moment, later),) = clock.changes
    assert later == -12 * HOUR
    assert moment == datetime(2027, 5, 12, 0, tzinfo=UTC)  # noon of the fourth day by the old clock
    ashore = passage(ship_time={"zone": "Pacific/Tongatapu", "from_day": 4})
    assert ship_offset_along(ashore, over, 12 * HOUR) == ShipClock(12 * HOUR, ((moment, 13 * HOUR),))


def test_the_destinations_clock_alone_serves_from_departure() -> None:
    known = by_destination(passage(ship_time="destination"), -175.0)
    assert departure_offset(known, 174.0) == -12 * HOUR
    assert ship_offset_along(known, track("2027-05-08T22:00", days=2, lon=(174.0, 176.0)), -12 * HOUR) == -12 * HOUR
    assert departure_offset(by_destination(passage(ship_time="destination"), 8.0), -60.0) == HOUR
    assert by_destination(NAUTICAL, 8.0) is NAUTICAL


@pytest.mark.parametrize("zone", [None, "nautical"])
def test_a_day_needs_a_zone_to_take_from_it_on(zone: str | None) -> None:
    with pytest.raises(ValueError, match="a day without a zone"):
        passage(ship_time={"from_day": 3} | ({"zone": zone} if zone else {}))


def test_westward_across_180_a_date_is_left_out() -> None:
    clock = ship_offset_along(NAUTICAL, track("2027-05-08T22:00", days=6, lon=(183.0, 177.0)), -12 * HOUR)
    assert "a date is left out" in all_said(clock_warnings(clock))[0]


def test_quiet_hours_follow_the_clock() -> None:
    west = track("2027-05-08T00:00", days=6, lon=(-60.0, -74.0))
    clock = ship_offset_along(NAUTICAL, west, -4 * HOUR)
    quiet = in_spans(west["time"].values, [("22:00", "06:00")], clock)
    utc_hours = west["time"].values.astype("datetime64[h]").astype(int) % 24
    assert set(utc_hours[:100][quiet[:100]]) == {*range(2, 10)} & set(utc_hours[:100])
    assert min(utc_hours[-144:][quiet[-144:]]) == 3  # an hour later by UTC


@pytest.mark.external(source="IANA time zone database, as in zoneinfo and tzdata", kind="dataset")
def test_a_zone_ashore_changes_when_its_clocks_do() -> None:
    ashore = passage(ship_time={"zone": "Pacific/Auckland"}, departure="2027-04-02T10:00:00+13:00")
    assert departure_offset(ashore, 174.0) == 13 * HOUR
    clock = ship_offset_along(ashore, track("2027-04-01T21:00", days=4, lon=(174.0, 178.0)), 13 * HOUR)
    assert isinstance(clock, ShipClock)
    # Daylight time ends on the first Sunday of April at three in the morning, 14:00 UTC of the day before.
    assert clock.changes == ((datetime(2027, 4, 3, 14, tzinfo=UTC), 12 * HOUR),)
