"""Full charges: what counts as full, and when the next is due."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Bools, Ints
from planner.domain.inputs.passage import Wishes
from planner.domain.inputs.power import Bank
from planner.physics.bank import BankParams, MeterDrift, bank_step, meter_drift
from planner.simulation.ledger.bank import bank_params

AGES: Final = 3  # charged in this half of the wanted interval, in the one before, overdue
DAY_S: Final = 86400.0  # s, exact
OVERDUE_MIN: Final = 300.0  # min of engine worth while against it: bulk and absorption of lead (common practice)
NEARLY: Final = 0.98  # 1, what a meter's error leaves of a full bank
PLENTY_W: Final = 1e5  # W, more than any bank takes
LEAST_ERROR: Final = 1e-6  # 1, a meter that errs by nothing at departure
TRIED_S: Final = 60.0  # s, a step short enough to read the current at a SOC


@dataclass(frozen=True, eq=False)
class FullCharges:
    """When the bank is to be full.

    Attributes
    ----------
    soc : float
        From which it counts as full [0..1].
    ticks : bool array (epoch,)
        Whether half of the wanted interval will once more have passed before the next epoch ends: what is to be full
        by then must be as this one ends. Empty where none is wanted.
    """

    soc: float
    ticks: Bools

    @property
    def asked(self) -> bool:
        """Whether full charges are wanted."""
        return bool(self.ticks.size)


NEVER_ASKED: Final = FullCharges(soc=1.0, ticks=np.zeros(0, dtype=np.bool_))


def full_charges(end_step: Ints, *, step_s: float, every_days: float | None, params: BankParams) -> FullCharges:
    """Return when the bank is to be full; departure counts as a full charge.

    Parameters
    ----------
    end_step : int array (epoch,)
        Ends of the epochs.
    step_s : float
        Length of a step [s].
    every_days : float or None
        Wanted interval [d]; None where none is wanted.
    params : BankParams
        The bank.
    """
    if every_days is None:
        return NEVER_ASKED
    passed = np.ceil(end_step * step_s / (every_days * DAY_S / 2.0))
    return FullCharges(soc=full_soc(params), ticks=np.diff(passed, append=passed[-1]) > 0.0)


def drift_of(bank: Bank, wishes: Wishes) -> MeterDrift:
    """Return how the battery monitor drifts, and from which SOC the bank sets it right.

    Parameters
    ----------
    bank : Bank
        From the boat file.
    wishes : Wishes
        For what it errs by at departure.
    """
    params = bank_params(bank)
    at_start = max(wishes.meter_error, LEAST_ERROR)
    return meter_drift(bank.chemistry, params.capacity_ah, at_start=at_start, full_soc=full_soc(params))


def full_soc(params: BankParams) -> float:
    """Return from which SOC a bank counts as full.

    It is the lowest whole percent at which it takes no more than its tail current, however much is offered, but no
    more than ``NEARLY``: a bank whose resistance is small takes more than that to the very end.

    Parameters
    ----------
    params : BankParams
        The bank.
    """
    for soc in np.arange(0.0, NEARLY, 0.01).tolist():
        if bank_step(soc, PLENTY_W, 0.0, 0.0, 0.0, TRIED_S, params, np.inf, 0.0).current_a <= params.tail_current_a:
            return float(soc)
    return NEARLY
