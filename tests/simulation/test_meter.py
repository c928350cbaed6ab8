"""The battery monitor counts what passes the shunt, at its settings, and finds its zero at full."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from calm_passage import bank, harvest, track
from shunt_view import shunt_view
from test_ledger import policy_of, run

from planner.domain.inputs.power import Meter


def ledger_of(currents_a, soc) -> xr.Dataset:
    shape = (1, len(currents_a))
    return xr.Dataset(
        {
            "bank_current_a": (("member", "time"), np.reshape(np.asarray(currents_a, dtype=float), shape)),
            "bank_soc": (("member", "time"), np.reshape(np.asarray(soc[:-1], dtype=float), shape)),
            "bank_soc_end": (("member",), np.asarray(soc[-1:], dtype=float)),
        },
        coords={"member": [0], "time": np.arange(len(currents_a))},
        attrs={"step_s": 3600.0},
    )


def test_amp_hours_out_count_in_full_and_amp_hours_in_by_the_setting():
    boat = bank(capacity_ah=100.0, meter=Meter(charge_efficiency=0.9))
    shown = shunt_view(ledger_of([-10.0, 10.0, 0.0], [0.8, 0.7, 0.79, 0.79]), boat, start_soc=0.8)
    assert shown["meter_soc"].values[0] == pytest.approx([0.8, 0.7, 0.79])
    assert shown["meter_ah"].values[0] == pytest.approx([-20.0, -30.0, -21.0])


def test_full_resets_it_whatever_it_showed():
    boat = bank(capacity_ah=100.0)
    shown = shunt_view(ledger_of([5.0, 0.0, -10.0, 0.0], [0.95, 1.0, 1.0, 0.9, 0.9]), boat, start_soc=0.7)
    assert shown["meter_soc"].values[0] == pytest.approx([0.7, 1.0, 1.0, 0.9])


def test_it_never_shows_more_than_full():
    boat = bank(capacity_ah=100.0)
    shown = shunt_view(ledger_of([10.0, 10.0, 10.0], [0.9, 0.92, 0.94, 0.96]), boat, start_soc=0.99)
    assert shown["meter_soc"].values[0, 1:] == pytest.approx([1.0, 1.0])


def test_its_own_capacity_scales_what_it_shows():
    boat = bank(capacity_ah=100.0, meter=Meter(capacity_ah=200.0))
    shown = shunt_view(ledger_of([-10.0, 0.0], [0.8, 0.7, 0.7]), boat, start_soc=0.8)
    assert shown["meter_soc"].values[0, 1] == pytest.approx(0.75)


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel", "lifepo4"])
def test_bill_and_instrument_agree_on_ten_days_in_which_the_bank_fills(chemistry: str):
    sailed = track(hours=240.0)
    sun = harvest(sailed, peak_w=(700.0,))
    house = bank(chemistry=chemistry)
    ledger = run(sailed, sun, policy_of(sailed), boat_bank=house, start_soc=0.7)
    shown = shunt_view(ledger, house, start_soc=0.7)
    # as far as the default meter error of the wishes, 2 %, taken twice
    assert np.abs(shown["meter_soc"].values - ledger["bank_soc"].values).max() < 0.04


def test_without_a_full_charge_it_drifts_by_what_its_setting_misjudges():
    sailed = track(hours=96.0)
    house = bank(meter=Meter(charge_efficiency=0.90))
    ledger = run(sailed, harvest(sailed, peak_w=(340.0,)), policy_of(sailed), boat_bank=house, start_soc=0.6)
    assert ledger["bank_soc"].values.max() < 0.99
    shown = shunt_view(ledger, house, start_soc=0.6)
    taken = np.maximum(ledger["bank_current_a"].values[0, :-1], 0.0).sum() / 6.0 / 300.0
    standing = 0.02 / 720.0 * 96.0  # 2 % in thirty days
    drift = float(ledger["bank_soc"].values[0, -1] - shown["meter_soc"].values[0, -1])
    assert drift == pytest.approx(taken * (0.995 - 0.90) - standing, rel=1e-2)
