"""The shunt's view: what a battery monitor shows, counted from the current alone."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import xarray as xr
from numba import njit

from planner.domain.inputs.power import Bank
from planner.domain.units import SECONDS_PER_HOUR
from planner.physics.chemistry import chemistry
from planner.simulation.ledger.bank import bank_params

Floats = npt.NDArray[np.float64]


def shunt_view(ledger: xr.Dataset, bank: Bank, *, start_soc: float) -> xr.Dataset:
    """Return what the battery monitor shows along a ledger.

    It counts amp-hours out in full and amp-hours in at its set efficiency, knows nothing of what the bank loses
    standing, stops at full, and sets itself to 100 % when the charging current has fallen to the bank's tail current
    under absorption: that is where the bank's state of charge is 1.

    Parameters
    ----------
    ledger : xarray.Dataset
        With its step in the attribute ``step_s``.
    bank : Bank
        From the boat file, with the monitor's settings.
    start_soc : float
        What it shows at departure [0..1].

    Returns
    -------
    xarray.Dataset
        ``meter_soc`` [0..1] and ``meter_ah`` [A h], negative from full, at the start of each step.
    """
    capacity_ah = bank.meter.capacity_ah if bank.meter.capacity_ah is not None else bank_params(bank).capacity_ah
    kept = bank.meter.charge_efficiency
    soc = np.concatenate([ledger["bank_soc"].values, ledger["bank_soc_end"].values[:, None]], axis=1)
    shown = _count(
        ledger["bank_current_a"].values * ledger.attrs["step_s"] / SECONDS_PER_HOUR / capacity_ah,
        soc,
        start_soc,
        chemistry(bank.chemistry).meter_keeps if kept is None else kept,
    )
    dims = ("member", "time")
    return xr.Dataset({"meter_soc": (dims, shown), "meter_ah": (dims, (shown - 1.0) * capacity_ah)})


FULL_SLACK = 1e-9  # 1; rounding must not keep a full bank's monitor from its reset


@njit(cache=True)
def _count(moved: Floats, soc: Floats, start_soc: float, kept: float) -> Floats:
    """Return the state of charge shown at the start of each step, from parts of the capacity moved in each."""
    members, steps = moved.shape
    shown = np.empty((members, steps))
    for member in range(members):
        here = start_soc
        for step in range(steps):
            if soc[member, step] >= 1.0 - FULL_SLACK:
                here = 1.0
            shown[member, step] = here
            part = moved[member, step]
            here = min(here + (part * kept if part > 0.0 else part), 1.0)
    return shown
