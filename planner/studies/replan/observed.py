"""What the battery monitor and the resting volts say about the bank, and whether they may."""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.power import Bank
from planner.domain.results.note import Note
from planner.domain.results.replan import ObservedBank
from planner.simulation.ledger.bank import bank_params

VOLTMETER_V: Final = 0.05  # V on a 12 V bank: meter, temperature and rest not quite complete (common practice)
WIDEST: Final = 0.3  # 1; an interval of charge wider than this says nothing that a skipper can use
BEYOND_V: Final = 0.15  # V on a 12 V bank beyond either end of the curve: it is charging, or loaded
SIGMAS: Final = 2.0  # 1, half-width of an interval in standard deviations


def observed_bank(bank: Bank, *, soc: float | None, meter_error: float, volts: float | None) -> ObservedBank:
    """Return the bank's charge with its doubt, from a monitor, from resting volts, or from both.

    Parameters
    ----------
    bank : Bank
        From the boat file.
    soc : float, optional
        What the monitor shows [0..1].
    meter_error : float
        Its standard deviation [0..1].
    volts : float, optional
        Terminal voltage after hours of rest [V].

    Returns
    -------
    ObservedBank
        Of both, where they overlap; the volts alone where they do not, since a monitor drifts.

    Raises
    ------
    InputError
        When neither is given, or the volts say nothing.
    """
    if soc is None and volts is None:
        remedy = "Give --soc from the battery monitor, or --volts of a bank at rest."
        raise InputError([Fault("replan", "", "nothing is said of the bank.", remedy)])
    if soc is None:
        low, high = soc_interval(bank, volts if volts is not None else 0.0)
        return ObservedBank((low + high) / 2.0, low, high, Note("by_volts"))
    reach = SIGMAS * meter_error
    low, high = max(soc - reach, 0.0), min(soc + reach, 1.0)
    if volts is None:
        return ObservedBank(soc, low, high, Note("by_monitor"))
    least, most = soc_interval(bank, volts)
    both = max(low, least), min(high, most)
    if both[0] > both[1]:
        return ObservedBank((least + most) / 2.0, least, most, Note("by_volts_alone"))
    return ObservedBank(min(max(soc, both[0]), both[1]), *both, Note("by_both"))


def soc_interval(bank: Bank, volts: float) -> tuple[float, float]:
    """Return the charge that a resting voltage allows, low and high [0..1].

    Parameters
    ----------
    bank : Bank
        From the boat file; its open-circuit curve is read backwards.
    volts : float
        At the terminals after hours without load or charge [V].

    Raises
    ------
    InputError
        When the curve is so flat there that the volts say little, as in the middle of LiFePO4, or the volts lie
        beyond it, so that the bank cannot be at rest.
    """
    params = bank_params(bank)
    curve = params.open_circuit_v
    scale = bank.nominal_v / 12.0
    if not curve[0] - BEYOND_V * scale <= volts <= curve[-1] + BEYOND_V * scale:
        state = "charging" if volts > curve[-1] else "under load, or quite empty"
        problem = (
            f"{volts:g} V is no resting voltage of this bank, {curve[0]:.2f} to {curve[-1]:.2f} V: it is {state}."
        )
        raise InputError(
            [Fault("--volts", "", problem, "Read it after hours without load or charge, or give --soc.")]
        )
    doubt_v = VOLTMETER_V * scale + float(params.hysteresis_v.max())  # whether it rests after charge or load
    percents = np.linspace(0.0, 1.0, curve.size)
    rising = np.maximum.accumulate(curve)
    low = float(np.interp(volts - doubt_v, rising, percents))
    high = float(np.interp(volts + doubt_v, rising, percents))
    if high - low > WIDEST:
        reason = (
            "LiFePO4 rests at nearly one voltage through the middle of its charge"
            if bank.chemistry == "lifepo4"
            else "the curve is flat there"
        )
        problem = (
            f"{volts:g} V at rest, known to {doubt_v:g} V, allows any charge from {low:.0%} to {high:.0%}: {reason}."
        )
        raise InputError([Fault("--volts", "", problem, "Give --soc from a monitor that counts ampere-hours.")])
    return low, high
