"""What monitor and resting volts may say of the bank."""

from __future__ import annotations

import numpy as np
import pytest

from planner.domain.errors import InputError
from planner.domain.inputs.power import Bank
from planner.simulation.ledger.bank import bank_params
from planner.studies.replan.observed import observed_bank, soc_interval

AGM = Bank(chemistry="agm", capacity_ah=400.0, reserve_soc=0.5)
LITHIUM = Bank(chemistry="lifepo4", capacity_ah=300.0, reserve_soc=0.3)


def rest_v(bank: Bank, soc: float) -> float:
    curve = bank_params(bank).open_circuit_v
    return float(np.interp(soc, np.linspace(0.0, 1.0, curve.size), curve))


@pytest.mark.parametrize("soc", [0.3, 0.5, 0.8])
@pytest.mark.parametrize("nominal", [12, 24, 48])
def test_lead_at_rest_gives_an_interval_that_holds_the_charge(soc: float, nominal: int) -> None:
    bank = AGM.model_copy(update={"nominal_v": nominal})
    low, high = soc_interval(bank, rest_v(bank, soc))
    assert low < soc < high
    assert high - low < 0.2


@pytest.mark.parametrize("soc", [0.4, 0.55, 0.75])
def test_lithium_in_mid_range_is_refused_with_the_reason(soc: float) -> None:
    with pytest.raises(InputError, match="LiFePO4 rests at nearly one voltage"):
        soc_interval(LITHIUM, rest_v(LITHIUM, soc))


def test_lithium_nearly_empty_speaks() -> None:
    low, high = soc_interval(LITHIUM, rest_v(LITHIUM, 0.03))
    assert low < 0.03 < high < 0.2


@pytest.mark.parametrize(("volts", "state"), [(14.2, "charging"), (9.0, "under load")])
def test_volts_beyond_the_curve_are_not_at_rest(volts: float, state: str) -> None:
    with pytest.raises(InputError, match=state):
        soc_interval(AGM, volts)


def test_the_monitor_alone_has_twice_its_error() -> None:
    bank = observed_bank(LITHIUM, soc=0.6, meter_error=0.03, volts=None)
    assert (bank.low, bank.high) == pytest.approx((0.54, 0.66))


def test_both_together_are_where_they_overlap() -> None:
    volts = rest_v(AGM, 0.6)
    least, _ = soc_interval(AGM, volts)
    bank = observed_bank(AGM, soc=0.57, meter_error=0.05, volts=volts)
    assert bank.low == pytest.approx(max(0.47, least))
    assert bank.low <= bank.state_of_charge <= bank.high


def test_where_they_disagree_the_volts_stand() -> None:
    bank = observed_bank(AGM, soc=0.95, meter_error=0.02, volts=rest_v(AGM, 0.5))
    assert bank.state_of_charge == pytest.approx(0.5, abs=0.05)
    assert bank.source.code == "by_volts_alone"


def test_one_of_both_must_be_given() -> None:
    with pytest.raises(InputError, match="Give --soc"):
        observed_bank(AGM, soc=None, meter_error=0.02, volts=None)
