"""A calibrated boat file lies beside the old one, which stays as it was, and reads back as what was found."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from planner.app.inputs import read_inputs
from planner.app.verbs.calibrate import calibrate
from planner.domain.errors import InputError, OutputError
from planner.domain.inputs.power import Load
from planner.domain.results.note import NOTHING
from planner.domain.results.reconcile.courses import Courses
from planner.domain.results.reconcile.findings import (
    BankFinding,
    ClockFinding,
    ControllerFinding,
    Interval,
    LoadFinding,
    Reconciliation,
    SkyFinding,
)
from planner.presentation.outputs import text_of, write
from planner.readers.config import parse_override, read_boat

DEMO = Path(__file__).parents[2] / "data" / "demo"
WATTS = Interval(24.4, 20.0, 29.0)
COURSES = Courses(np.empty(0, dtype="datetime64[ns]"), 600.0, (), *(np.empty(0) for _ in range(6)))


def found(capacity: Interval | None) -> Reconciliation:
    moment = datetime(2027, 5, 14, 20, 0, tzinfo=UTC)
    even = Interval(1.0, 0.97, 1.03)
    weak = ControllerFinding(
        "bimini",
        ("bimini port",),
        1.0,
        "weak",
        None,
        Interval(0.8, 0.76, 0.84),
        None,
        20.0,
        0.0,
        0.0,
        0.0,
        (),
        (),
        (),
        "",
    )
    return Reconciliation(
        boat_file="boat.toml",
        logs=("log.csv",),
        first=moment,
        last=moment,
        clock=ClockFinding(Interval(0.0, -1.0, 1.0), corrected=False, evidence=NOTHING),
        sky=SkyFinding((), even, ""),
        controllers=(weak,) if capacity else (),
        loads=LoadFinding(WATTS, capacity is not None, (), 48.0, "", while_on_w=WATTS if capacity else None),
        bank=BankFinding(capacity, 285.0, tired=capacity is not None, evidence=NOTHING),
        warnings=(),
        ship_offset=timedelta(hours=12),
        courses=COURSES,
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("boat.toml", "passage.toml", "route.gpx", "forecast.nc"):
        shutil.copy(DEMO / name, tmp_path / name)
    return tmp_path


def test_the_new_file_passes_the_check_and_holds_the_changed_values_only(folder: Path):
    old = folder / "boat.toml"
    before, text = read_boat(old), old.read_text(encoding="utf-8")
    written = calibrate(found(Interval(241.0, 228.0, 254.0)), read_inputs(folder / "passage.toml"))
    assert write(written, folder) == (folder / "boat-2027-05-14.toml",) == (written.new,)
    assert old.read_text(encoding="utf-8") == text
    after = read_boat(written.new)
    panels = tuple(
        panel.model_copy(update={"measured_fraction": 0.8}) if panel.name == "bimini port" else panel
        for panel in before.panel
    )
    meter = before.bank.meter.model_copy(update={"capacity_ah": 285.0})
    bank = before.bank.model_copy(update={"health": 0.8, "meter": meter})
    loads = (*before.load, Load(name="not on the list", watts=25.0))
    assert after == before.model_copy(update={"panel": panels, "bank": bank, "load": loads})
    assert written.passage_line == 'boat = "boat-2027-05-14.toml"'
    inputs = read_inputs(folder / "passage.toml", [parse_override('boat="boat-2027-05-14.toml"')])
    assert "240 Ah" in text_of(inputs)
    assert "boat-2027-05-14.toml" in inputs.files


def test_no_file_is_written_over(folder: Path):
    (folder / "ships").mkdir()
    (folder / "boat.toml").rename(folder / "ships" / "boat.toml")
    inputs = read_inputs(folder / "passage.toml", [parse_override("boat=ships/boat.toml")])
    names = []
    for _ in range(3):
        written = calibrate(found(Interval(241.0, 228.0, 254.0)), inputs)
        names += [path.name for path in write(written, written.old.parent)]
    assert names == ["boat-2027-05-14.toml", "boat-2027-05-14-2.toml", "boat-2027-05-14-3.toml"]
    assert written.passage_line == 'boat = "ships/boat-2027-05-14-3.toml"'
    with pytest.raises(OutputError, match="exists"):
        write(written, written.old.parent)


def test_nothing_found_writes_nothing(folder: Path):
    written = calibrate(found(None), read_inputs(folder / "passage.toml"))
    assert write(written, folder) == ()
    assert text_of(written) == "The readings call for no change of the boat file.\n"
    assert not list(folder.glob("boat-*.toml"))


def test_a_file_that_would_not_read_is_not_made(folder: Path):
    old = folder / "boat.toml"
    inputs = read_inputs(folder / "passage.toml")
    old.write_text(old.read_text(encoding="utf-8").replace("beam_m", "beem_m"), encoding="utf-8")
    with pytest.raises(InputError, match="beem_m"):
        calibrate(found(Interval(241.0, 228.0, 254.0)), inputs)
    assert not list(folder.glob("boat-*.toml"))
