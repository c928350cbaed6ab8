"""The set of output files: whole or absent, named by digest, readable by others."""

from __future__ import annotations

import csv
import dataclasses
import hashlib
import json
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from plan_fixture import make_plan

from planner import __version__
from planner.domain.errors import OutputError
from planner.domain.file_format import FORMAT
from planner.domain.glossary import DEMAND, HARVEST, LEDGER, TRACK
from planner.domain.results.plan import Plan
from planner.presentation import outputs
from planner.presentation.files.dataset_file import to_hourly


def contents(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan()


@pytest.fixture(scope="module")
def folder(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("set")
    outputs.write(plan, folder)
    return folder


def test_the_set_is_complete_and_nothing_else_is_left(folder: Path) -> None:
    names = {path.name for path in folder.iterdir()}
    assert names == {
        "plan.nc",
        "hourly.csv",
        "report.html",
        "watch-bill.csv",
        "watch-bill.ics",
        "track.geojson",
        "plan.json",
        ".sets",
    }


def test_the_manifest_holds_the_digest_of_every_other_file(folder: Path) -> None:
    manifest = json.loads((folder / "plan.json").read_text())
    for place in (folder / manifest["set"], folder):
        assert manifest["files"] == {
            path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in place.iterdir()
            if path.name not in {"plan.json", ".sets"}
        }


def test_every_file_for_programs_says_its_format_and_the_version(folder: Path) -> None:
    said = {"format": FORMAT, "planner_version": __version__}
    manifest = json.loads((folder / "plan.json").read_text())
    assert dict(list(manifest.items())[:2]) == said
    assert json.loads((folder / "track.geojson").read_text()).items() >= said.items()
    with xr.open_dataset(folder / "plan.nc") as data:
        assert {name: data.attrs[name] for name in said} == said


def test_a_failure_leaves_the_earlier_set_untouched(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outputs.write(plan, tmp_path)
    before = contents(tmp_path)

    def fail(plan: Plan, path: Path) -> None:
        raise OSError("no space left")

    monkeypatch.setitem(outputs.WRITERS, "track.geojson", fail)
    with pytest.raises(OutputError, match="no space left"):
        outputs.write(plan, tmp_path)
    assert contents(tmp_path) == before


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sets no limit on a file's size")
@pytest.mark.parametrize("most", [20_000, 200_000])
def test_a_disk_that_takes_no_more_is_one_sentence_and_the_earlier_set_stays(
    plan: Plan, tmp_path: Path, most: int
) -> None:
    import resource

    outputs.write(plan, tmp_path)
    before = contents(tmp_path)
    usual = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, usual[1]))  # the system then refuses, as on a full disk
    try:
        with pytest.raises(OutputError, match="could not be written"):
            outputs.write(plan, tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    assert contents(tmp_path) == before


def test_the_netcdf_holds_every_quantity_with_its_units(folder: Path) -> None:
    with xr.open_dataset(folder / "plan.nc") as data:
        for name, quantity in {**TRACK, **HARVEST, **DEMAND, **LEDGER}.items():
            assert data[name].dims == quantity.dims, name
            assert data[name].attrs["units"] == quantity.units, name
            if "time" in quantity.dims and name not in {"lat", "lon"}:
                assert data[name].attrs["cell_methods"] == f"time: {quantity.over_step}", name
        assert data.attrs["Conventions"] == "CF-1.11"
        assert data.attrs["featureType"] == "trajectory"
        assert data["trajectory"].attrs["cf_role"] == "trajectory_id"


def test_the_netcdf_bounds_span_each_step(plan: Plan, folder: Path) -> None:
    with xr.open_dataset(folder / "plan.nc") as data:
        bounds = data["time_bounds"].to_numpy()
        assert (bounds[:, 0] == data["time"].to_numpy()).all()
        widths = np.diff(bounds, axis=1) / np.timedelta64(1, "s")
        assert (widths == plan.track.attrs["step_s"]).all()


def test_the_netcdf_keeps_values(plan: Plan, folder: Path) -> None:
    with xr.open_dataset(folder / "plan.nc") as data:
        for name in ("bank_soc", "load_power_w"):
            np.testing.assert_array_equal(data[name].to_numpy(), plan.ledger[name].to_numpy())
            np.testing.assert_array_equal(data[f"planned_{name}"].to_numpy(), plan.planned[name].to_numpy()[0])


def test_hourly_rows_carry_the_hours_energy(plan: Plan, folder: Path) -> None:
    with (folder / "hourly.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    step_h = plan.track.attrs["step_s"] / 3600
    steps = plan.planned.sizes["time"]
    lengths = np.minimum(1.0, steps * step_h - np.arange(len(rows)))
    energy = sum(float(row["planned_load_power_w"]) * length for row, length in zip(rows, lengths, strict=True))
    assert energy == pytest.approx(float(plan.planned["load_power_w"].sum()) * step_h, rel=1e-6)
    assert rows[0]["time"].endswith("Z")


def test_the_last_part_of_an_hour_is_a_mean_over_itself(plan: Plan) -> None:
    kept = slice(0, 6 * 5 + 2)  # ten-minute steps
    names = ("track", "harvest", "ledger", "planned")
    cut = {name: getattr(plan.voyage, name).isel(time=kept).assign_attrs(step_s=600.0) for name in names}
    hourly = to_hourly(dataclasses.replace(plan, voyage=dataclasses.replace(plan.voyage, **cut)))
    watts = cut["planned"]["load_power_w"].values[0]
    assert len(hourly) == 6
    assert hourly["planned_load_power_w"].iloc[-1] == pytest.approx(watts[-2:].mean())
    assert hourly["planned_load_power_w"].iloc[0] == pytest.approx(watts[:6].mean())


def test_the_json_is_plain_and_its_ladders_leave_no_reading_out(plan: Plan, folder: Path) -> None:
    content = json.loads((folder / "plan.json").read_text())
    assert len(content["policy"]) == len(plan.watches)
    for watch in content["policy"]:
        covered = [
            percent for band in watch["ladder"] for percent in range(band["from_percent"], band["to_percent"] + 1)
        ]
        assert sorted(covered) == list(range(101))
    assert content["engine_hours"].keys() == {"planned", "p10", "p50", "p90"}
    assert content["reserve_kept"]["members"] == plan.reserve_kept.members
    assert content["min_soc"] == dataclasses.asdict(plan.min_soc)  # fractions, as in the plan
