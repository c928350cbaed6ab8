"""A corridor read from the library's own server on the loopback: what is asked for, what comes, cuts and refusals."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from network_case import DapServed, Served, dap_server, plain_server, world

from planner.domain.addresses import address_of
from planner.domain.errors import InputError
from planner.readers.forecast.reader import read_forecast
from planner.readers.network import opendap, transport
from planner.readers.network.keeping import Kept
from planner.readers.network.opendap import fetch_corridor, speaks_opendap

TONGA = (-36.75, -19.7, 172.6, 186.3)
GREENWICH = (48.0, 52.0, -6.0, 3.0)
SPAN = (np.datetime64("2027-05-08T22:00", "ns"), np.datetime64("2027-05-09T16:00", "ns"))


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("served") / "world.nc"
    world(path)
    return path


@pytest.fixture
def served(source: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[DapServed]:
    monkeypatch.setattr(transport, "PAUSE_S", 0.0)
    with dap_server(source) as each:
        yield each


def fetched(
    address: str,
    folder: Path,
    corridor: tuple[float, float, float, float] = TONGA,
    *,
    most: int = 10_000_000,
    told: list[int | None] | None = None,
) -> Kept:
    on_size = [].append if told is None else told.append
    where = address_of(address, where="--fetch")
    return fetch_corridor(where, folder, corridor=corridor, span=SPAN, most_bytes=most, on_size=on_size)


@pytest.mark.external(source="pydap, its own server", kind="library")
@pytest.mark.parametrize("corridor", [TONGA, GREENWICH])
def test_a_plan_reads_of_what_came_just_what_it_reads_of_the_whole(
    served: DapServed, source: Path, tmp_path: Path, corridor: tuple[float, float, float, float]
) -> None:
    told: list[int | None] = []
    kept = fetched(served.address, tmp_path, corridor, told=told)
    cut = read_forecast([kept.path], corridor=corridor, span=SPAN)
    whole = read_forecast([source], corridor=corridor, span=SPAN)
    xr.testing.assert_equal(cut, whole)
    assert kept.path.name == "world.nc"
    assert kept.size_bytes < source.stat().st_size / 20
    assert len(told) == 1
    assert told[0] is not None
    headings, axes = 200 * len(served.of_values), 8 * (2 + 10 + 181 + 360)
    assert told[0] < served.bytes_given < told[0] + headings + axes
    assert sorted(path.name for path in tmp_path.iterdir()) == ["world.nc", "world.nc.sha256"]


def test_the_corridor_alone_is_asked_for_and_no_variable_that_is_not_used(served: DapServed, tmp_path: Path) -> None:
    fetched(served.address, tmp_path)
    # rows from the north, a step beyond the corridor: 90 - 108 = 18 S to 90 - 128 = 38 S; columns 171 to 188 E
    asked = [each for each in served.of_values if "u10" in each]
    assert len(asked) == 1
    assert "u10[0:1:1][0:1:6][108:1:128][171:1:188]" in asked[0]
    assert not any("msl" in each for each in served.of_values)


def test_across_greenwich_both_sides_are_asked_for(served: DapServed, tmp_path: Path) -> None:
    kept = fetched(served.address, tmp_path, GREENWICH)
    assert len([each for each in served.of_values if "u10" in each]) == 2
    with xr.open_dataset(kept.path) as file:
        assert file["lon"].to_numpy().tolist() == [*range(353, 360), *range(5)]


def test_cuts_in_the_middle_lose_no_more_than_a_block(
    served: DapServed, source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opendap, "BLOCK", 2_000)
    whole = fetched(served.address, tmp_path)
    asked = len(served.of_values)
    (tmp_path / "again").mkdir()
    served.asked.clear()
    served.cut = lambda number: number % 3 == 0
    assert fetched(served.address, tmp_path / "again").sha256 == whole.sha256
    assert asked < len(served.of_values) < 1.7 * asked


def test_what_a_dead_connection_leaves_is_gone_on_with_by_the_next_call(
    served: DapServed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opendap, "BLOCK", 2_000)
    (tmp_path / "again").mkdir()
    whole = fetched(served.address, tmp_path)
    asked, given = len(served.of_values), served.bytes_given
    served.asked.clear()
    served.cut = lambda number: number > asked // 2
    with pytest.raises(InputError, match=r"the connection was cut\. \d+ kB of it have come, and are kept\. Give the"):
        fetched(served.address, tmp_path / "again")
    served.asked.clear()
    served.cut, served.bytes_given = lambda _number: False, 0
    kept = fetched(served.address, tmp_path / "again")
    assert kept.sha256 == whole.sha256
    assert kept.resumed_bytes > 0
    assert served.bytes_given < 0.7 * given
    assert sorted(path.name for path in (tmp_path / "again").iterdir()) == ["world.nc", "world.nc.sha256"]


def test_what_was_left_of_another_cycle_is_not_gone_on_with(
    served: DapServed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opendap, "BLOCK", 2_000)
    served.cut = lambda number: number > 15
    with pytest.raises(InputError, match="are kept"):
        fetched(served.address, tmp_path)
    later = tmp_path / "later" / "world.nc"
    later.parent.mkdir()
    world(later, start="2027-05-08T18:00")
    with dap_server(later) as other:
        assert fetched(other.address, tmp_path).resumed_bytes == 0
    assert not [path for path in tmp_path.iterdir() if path.name.endswith(".part")]


def test_too_large_a_corridor_is_refused_before_a_value_is_read(served: DapServed, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=re.escape("no more than 0.001 MB are fetched. Look for a coarser grid")):
        fetched(served.address, tmp_path, most=1_000)
    assert not any("u10" in each for each in served.of_values)
    assert list(tmp_path.iterdir()) == []


def test_other_waters_and_days_are_refused(served: DapServed, source: Path, tmp_path: Path) -> None:
    region = tmp_path / "region.nc"
    with xr.open_dataset(source) as whole:
        whole.sel(lat=slice(60.0, 40.0), lon=slice(0.0, 20.0)).to_netcdf(region)
    with dap_server(region) as other, pytest.raises(InputError, match="the forecast covers"):
        fetched(other.address, tmp_path)
    where, days = (
        address_of(served.address, where=""),
        tuple(np.array(["2027-06-01", "2027-06-09"], "datetime64[ns]")),
    )
    with pytest.raises(InputError, match="the forecast runs from"):
        fetch_corridor(where, tmp_path, corridor=TONGA, span=(days[0], days[1]), most_bytes=10**7, on_size=print)


def test_nothing_of_use_is_said_with_what_there_is(source: Path, tmp_path: Path) -> None:
    with xr.open_dataset(source) as whole:
        whole[["msl"]].to_netcdf(tmp_path / "pressure.nc")
    with (
        dap_server(tmp_path / "pressure.nc") as other,
        pytest.raises(InputError, match="It holds msl"),
    ):
        fetched(other.address, tmp_path)


def test_a_plain_server_does_not_speak_it_and_rubbish_is_told_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(transport, "PAUSE_S", 0.0)
    with plain_server(Served(b"Dataset { nonsense")) as served:
        assert not speaks_opendap(address_of(f"{served.address}/f.nc", where=""))
        # a server that gives a description of that kind for anything
        monkeypatch.setattr(opendap, "answer", lambda _address, **_: transport.answer(_address))
        assert speaks_opendap(address_of(f"{served.address}/f.nc", where=""))
        with pytest.raises(InputError, match="what the server answers cannot be understood"):
            fetched(f"{served.address}/f.nc", tmp_path)


def test_without_the_library_the_remedy_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opendap, "find_spec", lambda _name: None)
    with pytest.raises(InputError, match=re.escape("pip install 'passage-energy[opendap]'")):
        fetched("http://127.0.0.1:1/x", tmp_path)


def test_of_a_projected_grid_the_rows_and_columns_round_the_route_come(tmp_path: Path) -> None:
    x, y = np.meshgrid(np.arange(60.0), np.arange(50.0))
    lat, lon = -45.0 + 0.6 * y + 0.05 * x, 160.0 + 0.6 * x - 0.05 * y
    times = np.datetime64("2027-05-08T12:00", "ns") + np.arange(0, 48, 6) * np.timedelta64(3600, "s")
    cover = 0.5 + 0.4 * np.sin(np.radians(3.0 * lon))[None] + np.linspace(0.0, 0.1, times.size)[:, None, None]
    given = xr.Dataset(
        {
            "tcc": (("time", "y", "x"), cover.astype(np.float32), {"units": "1"}),
            "t2m": (("time", "y", "x"), np.full(cover.shape, 290.0, np.float32), {"units": "K"}),
        },
        coords={
            "time": times,
            "latitude": (("y", "x"), lat, {"standard_name": "latitude", "units": "degrees_north"}),
            "longitude": (("y", "x"), lon, {"standard_name": "longitude", "units": "degrees_east"}),
            "begun": ((), times[0], {"standard_name": "forecast_reference_time"}),
        },
    )
    whole = tmp_path / "plane.nc"
    given.to_netcdf(whole)
    (tmp_path / "kept").mkdir()
    box = (-30.0, -26.0, 175.0, 181.0)
    with dap_server(whole) as served:
        kept = fetched(served.address, tmp_path / "kept", box)
    air = frozenset({"wind_east_m_s", "wind_north_m_s"})
    cut, all_of_it = (read_forecast([path], corridor=box, span=SPAN, free_to_lack=air) for path in (kept.path, whole))
    xr.testing.assert_allclose(cut, all_of_it)
    assert cut.attrs["issued"] == "2027-05-08T12:00:00Z"
    with xr.open_dataset(kept.path) as file:
        assert file["tcc"].sizes["x"] < 25
        assert file["tcc"].sizes["y"] < 20
        assert file["tcc"].sizes["time"] == 7
