"""The capacity of a measured cell, told from a part of its discharge and volts alone."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from planner.domain.glossary import READINGS
from planner.domain.inputs.power import Bank
from planner.domain.schema import attributes
from planner.presentation.words.notes import said
from planner.studies.reconcile.bank.found import judge_bank

CELLS = 4
SIDE_BY_SIDE = 100  # cells in parallel: a house bank's ampere-hours
STEP_S = 600
FULL_STEPS = 4


def log_of(run: Mapping[str, np.ndarray], until_h: float) -> xr.Dataset:
    """The run as ten-minute readings of a bank of such cells, after it was shown full at absorption."""
    steps = int(until_h * 3600.0 / STEP_S)
    amps, volts = (run[name][: steps * STEP_S].reshape(-1, STEP_S).mean(axis=1) for name in ("current", "voltage"))
    amps = np.concatenate([np.full(FULL_STEPS, 0.5), amps * SIDE_BY_SIDE])
    volts = np.concatenate([np.full(FULL_STEPS, 14.2), volts * CELLS])
    unread = np.full(amps.size, np.nan)
    values = {
        "read_controller_power_w": unread[:, None],
        "read_bank_voltage_v": np.round(volts, 2),
        "read_bank_current_a": np.round(amps, 1),
        **dict.fromkeys(("read_meter_soc", "read_meter_ah", "read_engine_on"), unread),
    }
    time = np.datetime64("2027-05-09", "ns") + np.arange(amps.size) * np.timedelta64(STEP_S, "s")
    return xr.Dataset(
        {name: (READINGS[name].dims, value, attributes(READINGS[name])) for name, value in values.items()},
        coords={"time": time, "controller": ["none"]},
        attrs={"step_s": float(STEP_S)},
    )


@pytest.mark.external(source="PyBatteryID LFP validation run (BSD-3)", kind="dataset")
@pytest.mark.parametrize("listed", [0.8, 1.0, 1.25])
def test_a_measured_cell_gives_its_capacity_whatever_is_listed(open_data: Path, listed: float):
    run = np.load(open_data / "battery" / "drive.npz")
    true_ah = run["battery_capacity"] / 3600.0 * SIDE_BY_SIDE
    bank = Bank(chemistry="lifepo4", capacity_ah=round(true_ah * listed), reserve_soc=0.2)
    finding = judge_bank(log_of(run, 9.2), bank)
    assert finding.capacity_ah is not None
    # It starts at 98.5 %, not full: 2 % more charge than was there, beside the interval's 90 %.
    assert finding.capacity_ah.low * 0.98 <= true_ah <= finding.capacity_ah.high * 1.02
    assert finding.capacity_ah.high - finding.capacity_ah.low < 0.25 * true_ah
    assert finding.tired == (listed == 1.25)


@pytest.mark.external(source="PyBatteryID LFP validation run (BSD-3)", kind="dataset")
def test_the_flat_part_of_a_measured_cell_tells_little(open_data: Path):
    run = np.load(open_data / "battery" / "drive.npz")
    true_ah = run["battery_capacity"] / 3600.0 * SIDE_BY_SIDE
    bank = Bank(chemistry="lifepo4", capacity_ah=round(true_ah), reserve_soc=0.2)
    upper, whole = judge_bank(log_of(run, 2.6), bank), judge_bank(log_of(run, 9.2), bank)
    assert upper.capacity_ah is None
    assert "20 %" in said(upper.evidence)
    assert whole.capacity_ah is not None
