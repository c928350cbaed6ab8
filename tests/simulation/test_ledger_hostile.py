"""The compiled ledger and march given figures that no boat has: they stay inside their tables.

``tests/house/test_kernels_in_bounds.py`` runs this file with the indices checked.
"""

from __future__ import annotations

import numpy as np
import pytest
from calm_passage import bank, engine, harvest, track
from shunt_view import shunt_view
from test_ledger import policy_of, run

from planner.domain.policy import METER_READINGS
from planner.simulation.ledger.simulate import meter_percent

EXTREMES = (np.nan, np.inf, -np.inf, 1e308, -1e308, 1e19, -1.0, 2.0)


@pytest.mark.parametrize("soc", EXTREMES)
@pytest.mark.parametrize("offset", EXTREMES)
def test_a_meter_always_shows_one_of_its_readings(soc: float, offset: float) -> None:
    assert 0 <= meter_percent(soc, offset) < METER_READINGS


@pytest.mark.parametrize("start_soc", EXTREMES)
@pytest.mark.parametrize("watts", [np.nan, 1e308])
def test_a_ledger_from_no_state_of_charge_marches_to_its_end(start_soc: float, watts: float) -> None:
    sailed = track(hours=24.0)
    sun = harvest(sailed, peak_w=(0.0, 250.0))
    with np.errstate(all="ignore"):
        ledger = run(sailed, sun, policy_of(sailed, 60), watts=watts, start_soc=start_soc)
        shunt_view(ledger, bank(), start_soc=start_soc)
    assert ledger.sizes["time"] == sailed.sizes["time"]


@pytest.mark.parametrize("capacity_ah", [1e-308, 1e-12, 1e300])
def test_a_ledger_of_no_capacity_marches_to_its_end(capacity_ah: float) -> None:
    sailed = track(hours=24.0)
    sun = harvest(sailed, peak_w=(0.0, 250.0))
    absurd = bank().model_copy(update={"capacity_ah": capacity_ah})
    with np.errstate(all="ignore"):
        ledger = run(sailed, sun, policy_of(sailed, 60), boat_bank=absurd, boat_engine=engine())
    soc = ledger["bank_soc"].values
    assert (np.isnan(soc) | ((soc >= 0.0) & (soc <= 1.0))).all()
