"""The folder of history: what is written is read back, no day twice, nothing half written."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from reconcile_fixture import DEPARTURE, make_reconciliation

from planner.domain.errors import InputError, OutputError
from planner.domain.glossary import JUDGED_DAYS
from planner.domain.reconcile_results import LEVEL, Reconciliation
from planner.presentation.history_file import write_history
from planner.readers.history import read_history

NOW = datetime(2027, 6, 1, 12, tzinfo=UTC)


def write(
    folder: Path, result: Reconciliation, *, later_h: float = 0.0, start_h: float = 0.0, listed: float = 1.0
) -> Path:
    return write_history(
        folder,
        result,
        departure=DEPARTURE + timedelta(hours=start_h),
        boat_sha256="ab" * 32,
        listed_fraction={"arch": listed},
        written=NOW + timedelta(hours=later_h),
    )


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    result = make_reconciliation()
    path = write(tmp_path / "history", result)
    assert [each.name for each in path.parent.iterdir()] == [path.name] == ["days-20270508T2200Z-4.nc"]
    history = read_history(path.parent)
    assert history.controllers() == ("arch", "bimini", "coachroof")
    (log,) = history.logs
    assert log.logs == result.logs
    assert (log.boat_file, log.boat_sha256, log.written) == ("boat.toml", "ab" * 32, NOW)
    assert log.day_begins == tuple(DEPARTURE + timedelta(days=number) for number in range(4))
    assert (log.aside[0].clipped_h, log.aside[0].full_h, log.aside[0].shaded_h) == (1.5, 8.0, 3.25)
    assert [(day.controller, day.begins) for day in history.days] == [
        ("arch", DEPARTURE),
        ("arch", DEPARTURE + timedelta(days=1)),
        ("arch", DEPARTURE + timedelta(days=3)),
        ("bimini", DEPARTURE),
    ]
    first, finding = history.days[0], result.controllers[0].days[0]
    assert first.ratio == finding.ratio
    assert (first.hours, first.read_wh, first.expected_wh) == (5.0, 900.0, 950.0)
    assert (first.verdict, first.boat_sha256) == ("substring out", "ab" * 32)


def test_the_same_days_are_replaced(tmp_path: Path) -> None:
    write(tmp_path, make_reconciliation(ratio=0.9))
    write(tmp_path, make_reconciliation(ratio=0.8), later_h=1.0)
    assert len(list(tmp_path.iterdir())) == 1
    assert read_history(tmp_path).days[0].ratio.value == pytest.approx(0.81)


@pytest.mark.parametrize("start_h", [0.0, 3.0, -3.0])
def test_of_days_judged_twice_the_last_written_count(tmp_path: Path, start_h: float) -> None:
    write(tmp_path, make_reconciliation(ratio=0.9))
    write(tmp_path, make_reconciliation(days=(1, 2), ratio=0.7, last_h=40.0), later_h=1.0, start_h=start_h)
    history = read_history(tmp_path)
    arch = [round(day.ratio.value, 3) for day in history.days if day.controller == "arch"]
    assert arch == [0.71, 0.72, 0.94]
    assert sum(len(log.day_begins) for log in history.logs) == 4
    write(tmp_path, make_reconciliation(ratio=0.6, last_h=91.0, days=(1, 2, 3, 4)), later_h=2.0)
    assert [log.written for log in read_history(tmp_path).logs] == [NOW + timedelta(hours=2)]


def test_a_ratio_to_a_calibrated_boat_is_brought_to_the_whole_rating(tmp_path: Path) -> None:
    write(tmp_path, make_reconciliation(ratio=1.0), listed=0.8)
    day = read_history(tmp_path).days[0]
    assert day.ratio.value == pytest.approx(0.8 * 1.01)
    assert (day.ratio.low, day.ratio.high) == pytest.approx((0.8 * 0.98, 0.8 * 1.03))


def test_the_file_is_described_by_the_conventions(tmp_path: Path) -> None:
    path = write(tmp_path, make_reconciliation())
    with xr.open_dataset(path) as days:
        assert days.attrs["Conventions"] == "CF-1.11"
        assert days.attrs["confidence_level"] == LEVEL
        assert days["day"].attrs["standard_name"] == "time"
        np.testing.assert_array_equal(days["day_bounds"].values[:, 0], days["day"].values)
        assert days["judged_h"].attrs["cell_methods"] == "day: sum"
        assert days["judged_h"].values[2].tolist() == [0.0] * 4
        assert days["verdict"].attrs["flag_meanings"].split()[int(days["verdict"][0])] == "substring_out"
        for name, quantity in JUDGED_DAYS.items():
            assert days[name].attrs["units"] == quantity.units
            assert days[name].attrs["long_name"] == quantity.long_name


def test_a_failure_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path, make_reconciliation())
    before = path.read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(xr.Dataset, "to_netcdf", fail)
    with pytest.raises(OutputError, match="disk full"):
        write(tmp_path, make_reconciliation(ratio=0.5))
    assert [each.name for each in tmp_path.iterdir()] == [path.name]
    assert path.read_bytes() == before


def test_what_is_no_history_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such folder of history"):
        read_history(tmp_path / "none")
    assert read_history(tmp_path).days == ()
    (tmp_path / "days-x.nc").write_text("nothing")
    xr.Dataset({"a": 1}).to_netcdf(tmp_path / "days-y.nc")
    with pytest.raises(
        InputError, match=r"(?s)days-x\.nc: this is no file of history.*days-y\.nc: .*ratio is missing"
    ):
        read_history(tmp_path)
