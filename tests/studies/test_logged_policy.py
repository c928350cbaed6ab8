"""A logged engine is a policy: the ledger under it runs the engine when the log says so, and at no other time."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from calm_passage import bank, engine, harvest, steady_demand, track

from planner.simulation.ledger.simulate import simulate
from planner.studies.reconcile.logged_policy import policy_of_record, ran, track_of_record


def under(record: np.ndarray, sailed: xr.Dataset, *, start_soc: float = 0.6) -> xr.Dataset:
    sun = harvest(sailed)
    return simulate(
        sun,
        steady_demand(sun, 120.0),
        track_of_record(sailed, record),
        bank=bank(),
        engine=engine(),
        policy=policy_of_record(record, sailed),
        start_soc=start_soc,
    )


@pytest.mark.parametrize("start_soc", [0.05, 0.6, 1.0])
def test_the_ledger_runs_the_engine_as_logged(start_soc: float):
    sailed = track(hours=48.0)
    record = np.zeros(288, dtype=bool)
    record[[0, 1, 2, 40, 41, 42, 43, 100, 287]] = True
    ledger = under(record, sailed, start_soc=start_soc)
    assert (ledger["engine_on"].values[0] > 0).tolist() == record.tolist()
    assert len(policy_of_record(record, sailed).first_step) == 4


def test_a_log_without_a_run_has_no_epoch():
    sailed = track(hours=24.0)
    ledger = under(np.zeros(144, dtype=bool), sailed)
    assert ledger["engine_on"].sum() == 0


def test_an_engine_that_the_plan_had_drive_but_the_log_did_not_stays_off():
    planned = np.zeros(144)
    planned[10:30] = 1.0
    sailed = track(hours=24.0, under_engine=planned)
    record = np.zeros(144, dtype=bool)
    record[20:40] = True
    ledger = under(record, sailed)
    assert (ledger["engine_on"].values[0] > 0).tolist() == record.tolist()
    assert np.flatnonzero(track_of_record(sailed, record)["under_engine"].values).tolist() == list(range(20, 30))


def test_what_the_log_does_not_tell_is_as_planned():
    planned = np.zeros(6)
    planned[:3] = 1.0
    sailed = track(hours=1.0, under_engine=planned)
    read = np.array([np.nan, 0.0, 0.4, 0.5, np.nan, 1.0])
    steps = xr.Dataset({"read_engine_on": (("time",), read)}, coords={"time": sailed["time"].values})
    assert ran(steps, sailed).tolist() == [True, False, False, True, False, True]
