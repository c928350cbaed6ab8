"""The made logs: what is wrong in them is wrong by as much as they say, and nothing else is."""

from __future__ import annotations

import math
from datetime import UTC, timedelta

import numpy as np
import pytest
from made_log import Aboard, Display, Faults
from made_passage import BOATS, write_passage

from planner.app.inputs import read_inputs


@pytest.fixture(scope="module")
def aboard(tmp_path_factory):
    inputs = read_inputs(write_passage(tmp_path_factory.mktemp("made"), BOATS[1]))
    return Aboard(BOATS[1], inputs.boat, inputs.passage.watches, inputs.passage.start.state_of_charge)


def column(log, name: str) -> np.ndarray:
    return np.array(log.columns[name])


def test_a_weak_panel_loses_what_it_should_and_no_other_changes(aboard):
    sound, weak = aboard.log(3), aboard.log(3, Faults("bimini port", light_fraction=0.8, since_days=1.0))
    assert weak.truth.ratio == pytest.approx(0.79, abs=0.02)
    began = aboard.yields.rows[0]["time"].replace(tzinfo=UTC) + timedelta(days=1.0)
    ill = np.array([moment >= began for moment in weak.time])
    before, after = (column(log, "bimini port W") for log in (sound, weak))
    assert np.nansum(after[ill]) / np.nansum(before[ill]) == pytest.approx(weak.truth.ratio, abs=0.02)
    assert np.array_equal(after[~ill], before[~ill], equal_nan=True)


def test_a_substring_out_takes_about_a_third(aboard):
    out = aboard.log(4, Faults("bimini port", substring_out=True))
    assert 0.58 < out.truth.ratio < 0.7


def test_readings_are_whole_watts_with_gaps_and_a_true_balance(aboard):
    log = aboard.log(5, Faults(unlisted_w=25.0), Display(means=True))
    watts = column(log, "arch port W")
    assert np.all((watts % 1.0 == 0.0) | np.isnan(watts))
    assert 0.002 < np.isnan(watts).mean() < 0.03
    steps = [(b - a).total_seconds() / 60.0 for a, b in zip(log.time[:-1], log.time[1:], strict=True)]
    assert max(steps) > 60.0
    assert np.median(steps) == pytest.approx(5.0, abs=0.5)
    off = column(log, "engine") == 0.0
    solar = sum(column(log, name) for name in log.columns if name.endswith(" W"))
    drawn = solar - column(log, "bank A") * column(log, "bank V")
    quiet = aboard.log(5, display=Display(means=True))
    before = sum(column(quiet, name) for name in quiet.columns if name.endswith(" W"))
    before = before - column(quiet, "bank A") * column(quiet, "bank V")
    both = off & (column(quiet, "engine") == 0.0)
    assert float(np.nanmedian((drawn - before)[both])) == pytest.approx(25.0, abs=2.0)
    assert log.truth.unexplained_w() - quiet.truth.unexplained_w() == pytest.approx(25.0, abs=1.5)


def test_a_small_bank_and_a_fast_clock(aboard):
    log = aboard.log(6, Faults(capacity_fraction=0.8, clock_fast_min=60.0))
    assert log.truth.capacity_ah == pytest.approx(0.8 * 285.0)
    true = aboard.log(6)
    assert (log.time[0] - true.time[0]).total_seconds() == 3600.0
    assert not any(math.isnan(x) for x in (log.truth.ratio, log.truth.unexplained_w()))
