"""The bank by its readings: what it holds, what it keeps of a charge, and how its monitor drifts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.inputs.power import Bank
from planner.domain.results.note import Note, together
from planner.domain.results.reconcile.findings import LEVEL, BankFinding, Interval
from planner.physics.bank import BankParams
from planner.physics.bank.meter import FULL_SOC, SHUNT_ZERO_A
from planner.simulation.ledger.simulate import bank_params
from planner.studies.reconcile.bank.fit import fit_capacity
from planner.studies.reconcile.bank.stretches import Log, Stretch, count, log_of, stretches_of

LEAST_CHARGED: Final = 0.2  # 1, of capacity put in from full to full, under which its efficiency is not given
LEAST_DAYS: Final = 0.5  # d, of a stretch from which drift is given
SHOWN_SOC: Final = 0.003  # 1, rounding to a whole percent
UNKNOWN_CAPACITY: Final = 0.2  # 1, standard deviation over the listed where readings do not show it
HOURS_A_DAY: Final = 24.0


def judge_bank(steps: xr.Dataset, bank: Bank) -> BankFinding:
    """Return what the readings show of the bank.

    Capacity: the charge counted from a full bank is compared with terminal volts under load, see ``bank_fit``; it is
    given only as far as the log comes down to where volts show the state of charge. Charge efficiency: ampere-hours
    out over in, from full to full. Drift: what the monitor shows less the counted state of charge.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on even steps; NaN where not read.
    bank : Bank
        From the boat file.
    """
    params = bank_params(bank)
    log = log_of(steps, bank)
    stretches = stretches_of(log)
    capacity = fit_capacity(log, stretches, bank)
    held_ah = capacity.value if capacity else params.capacity_ah
    full_soc = FULL_SOC[bank.chemistry]
    efficiency, modelled = _efficiency(log, stretches, params, held_ah, full_soc)
    drift = _drift(log, stretches, params, held_ah, full_soc=full_soc, spread=_spread(capacity))
    tired = capacity is not None and capacity.high < params.capacity_ah
    return BankFinding(
        capacity_ah=capacity,
        listed_ah=params.capacity_ah,
        charge_efficiency=efficiency,
        listed_efficiency=modelled,
        meter_drift_per_day=drift,
        tired=tired,
        evidence=_evidence(log, stretches, bank, (capacity, efficiency, drift), modelled),
    )


def _reach() -> float:
    from scipy.stats import norm

    return float(norm.ppf(0.5 + LEVEL / 2.0))


def _spread(capacity: Interval | None) -> float:
    """Return the standard deviation of the capacity over it [1]."""
    if capacity is None:
        return UNKNOWN_CAPACITY
    return (capacity.high - capacity.low) / capacity.value / (2.0 * _reach())


def _efficiency(
    log: Log, stretches: Sequence[Stretch], params: BankParams, capacity_ah: float, full_soc: float
) -> tuple[Interval | None, float]:
    """Return ampere-hours out over in from full to full, read and by the model."""
    cycles = [stretch for stretch in stretches if stretch.tied == "start" and stretch.to_full]
    charged = drawn = kept = hours = 0.0
    for cycle in cycles:
        amps = log.amps[cycle.first : cycle.end]
        soc = count(log, cycle, params, np.array([capacity_ah]))[:-1, 0]
        table = np.interp(soc, np.linspace(0.0, 1.0, params.charge_efficiency.size), params.charge_efficiency)
        into = np.maximum(amps, 0.0) * log.step_h
        charged += float(into.sum())
        drawn += float(np.maximum(-amps, 0.0).sum()) * log.step_h
        hours += amps.size * log.step_h
        kept += float((into * table).sum()) - params.self_discharge_per_h * capacity_ah * amps.size * log.step_h
    if charged < LEAST_CHARGED * capacity_ah:
        return None, float(params.charge_efficiency.mean())
    full_ah = full_soc * capacity_ah * np.sqrt(2.0 * len(cycles))
    reach = _reach() * float(np.hypot(full_ah, SHUNT_ZERO_A * hours)) / charged
    ratio = drawn / charged
    return Interval(ratio, ratio - reach, ratio + reach), kept / charged


def _drift(
    log: Log, stretches: Sequence[Stretch], params: BankParams, capacity_ah: float, *, full_soc: float, spread: float
) -> Interval | None:
    """Return what the monitor's state of charge gains on the counted one [1/d]."""
    gains, weights = [], []
    for stretch in stretches:
        read = np.flatnonzero(~np.isnan(log.shown_soc[stretch.first : stretch.end]))
        if read.size < 2:
            continue
        first, last = int(read[0]), int(read[-1])
        days = (last - first) * log.step_h / HOURS_A_DAY
        if days < LEAST_DAYS:
            continue
        soc = count(log, stretch, params, np.array([capacity_ah]))[:, 0]
        error = log.shown_soc[stretch.first : stretch.end][[first, last]] - soc[[first, last]]
        doubt = np.hypot(np.hypot(full_soc, SHOWN_SOC), spread * abs(soc[last] - soc[first])) / days
        gains.append(float(np.diff(error)[0]) / days)
        weights.append(1.0 / doubt**2)
    if not gains:
        return None
    gain, weight = np.array(gains), np.array(weights)
    mean = float(weight @ gain / weight.sum())
    stray = np.sqrt(max(float(weight @ (gain - mean) ** 2) / max(gain.size - 1, 1), 1.0))
    reach = _reach() * float(stray / np.sqrt(weight.sum()))
    return Interval(mean, mean - reach, mean + reach)


def _evidence(
    log: Log,
    stretches: Sequence[Stretch],
    bank: Bank,
    found: tuple[Interval | None, Interval | None, Interval | None],
    modelled: float,
) -> Note:
    """Return what was found, by what, and what would show more."""
    capacity, efficiency, drift = found
    if not log.amps_read.any() or np.isnan(log.volts).all():
        return Note("bank_unknown")
    fulls = sum(stretch.to_full for stretch in stretches) or sum(each.tied == "start" for each in stretches)
    if capacity is None:
        why = Note("volts_flat" if bank.chemistry == "lifepo4" else "volts_rough")
        notes = [Note("capacity_unknown", {"fulls": fulls, "why": why})]
    else:
        listed = {"listed_ah": bank_params(bank).capacity_ah}
        if capacity.low <= listed["listed_ah"] <= capacity.high:
            against = Note("as_listed", listed)
        else:
            against = Note("less_than_listed" if capacity.high < listed["listed_ah"] else "more_than_listed", listed)
        notes = [Note("capacity", {"capacity": capacity, "level": LEVEL, "against": against, "fulls": fulls})]
    if efficiency is not None:
        notes.append(Note("efficiency", {"efficiency": efficiency, "modelled": modelled}))
    if drift is not None:
        notes.append(Note("drift", {"drift": drift}))
    return together(notes)
