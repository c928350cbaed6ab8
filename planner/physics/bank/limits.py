"""What a bank takes and gives over a step at most, and the current that moves a given power.

The power of a current is convex and rising, so Newton's method from its right reaches the root without overshoot.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from planner.domain.arrays import Floats
from planner.physics.bank.curve import at_soc, mean_rest_v, soc_at_terminal_voltage
from planner.physics.kernels import in_every_step

_NEWTON_STEPS: Final = 40  # at most; three or four are usual
_NEWTON_TOLERANCE: Final = 1e-10  # 1, of the current; converges quadratically, so the root is good to rounding


class BankParams(NamedTuple):
    """A bank as the kernel reads it; tables stand on an even grid of state of charge from 0 to 1.

    Attributes
    ----------
    capacity_ah : float
        Aged rated capacity at 25 C [Ah].
    open_circuit_v : array (node,)
        Rest voltage, never falling [V].
    charge_efficiency : array (node,)
        Part of the charge taken that is kept, above 0 [0..1].
    charge_resistance_ohm, discharge_resistance_ohm : array (node,)
        Of the whole bank; on discharge, to a small current [ohm].
    discharge_bend_a : float
        Discharging current at which the latter has fallen by half; may be infinite [A].
    hysteresis_v : array (node,)
        Half of what the volts at rest differ by after charge and after discharge [V].
    charge_limit_a : float
        Highest charging current; 0 when it must not charge [A].
    absorption_v, alternator_v : float
        Terminal voltage that solar and other charging, and the alternator's, do not exceed at the end of a step [V].
    float_v : float
        At which sources hold a full bank, where it rests lower [V].
    tail_current_a : float
        Charging current at which the bank counts as full [A].
    cutoff_v : float
        Terminal voltage that discharging does not go under at the end of a step [V].
    empty_soc : float
        State of charge at which discharge ends: 0, or more in the cold [0..1].
    available_fraction, flow_per_h : float
        Kinetic two-well model: share of the charge at hand, rate at which the rest follows [1, 1/h].
    self_discharge_per_h : float
        Part of the capacity lost in an hour of standing [1/h].
    """

    capacity_ah: float
    open_circuit_v: Floats
    charge_efficiency: Floats
    charge_resistance_ohm: Floats
    discharge_resistance_ohm: Floats
    discharge_bend_a: float
    hysteresis_v: Floats
    charge_limit_a: float
    absorption_v: float
    alternator_v: float
    float_v: float
    tail_current_a: float
    cutoff_v: float
    empty_soc: float
    available_fraction: float
    flow_per_h: float
    self_discharge_per_h: float


@in_every_step
def current_for_power(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, power_w: float, kept: float, resistance_ohm: float, shift_v: float, step_h: float, params: BankParams
) -> float:
    """Return the constant current that moves a power at the bank's terminals over the step.

    Parameters
    ----------
    soc : float
        At the start [0..1].
    power_w : float
        Positive charging; within what the bank can take or give [W].
    kept : float
        Charge efficiency, 1 on discharge [0..1].
    resistance_ohm : float
        At the start [ohm].
    shift_v : float
        What hysteresis adds to the rest voltage [V].
    step_h : float
        Step [h].
    params : BankParams
        The bank.

    Returns
    -------
    float
        Current, positive charging [A].
    """
    rest_v = at_soc(params.open_circuit_v, soc) + shift_v
    # The root were the rest voltage to stay: never left of the true one, since it rises with charge.
    root = np.sqrt(max(rest_v * rest_v + 4.0 * resistance_ohm * power_w, 0.0))
    current_a = 2.0 * power_w / (rest_v + root)
    for _ in range(_NEWTON_STEPS):
        soc_end = soc + kept * current_a * step_h / params.capacity_ah
        excess_w = (
            current_a * (mean_rest_v(params.open_circuit_v, soc, soc_end) + shift_v)
            + current_a * current_a * resistance_ohm
            - power_w
        )
        change = excess_w / (at_soc(params.open_circuit_v, soc_end) + shift_v + 2.0 * current_a * resistance_ohm)
        current_a -= change
        if abs(change) <= _NEWTON_TOLERANCE * abs(current_a):
            break
    return float(current_a)


@in_every_step
def most_charge_a(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, asked_a: float, set_v: float, kept: float, resistance_ohm: float, step_h: float, params: BankParams
) -> float:
    """Return the highest charging current, up to the one asked for, that the bank takes over a step.

    The least of: its limit, the room left, the current that brings the terminal voltage to a set point at the end.

    Parameters
    ----------
    soc, kept, resistance_ohm, step_h, params
        As in ``current_for_power``.
    asked_a : float
        No more is of interest; may be infinite [A].
    set_v : float
        Terminal voltage that the source holds, less what hysteresis adds to the rest voltage [V].

    Returns
    -------
    float
        Never negative [A].
    """
    per_soc_a = params.capacity_ah / (kept * step_h)
    most_a = min(asked_a, params.charge_limit_a, max(1.0 - soc, 0.0) * per_soc_a)
    soc_end = min(soc + most_a / per_soc_a, 1.0)
    if at_soc(params.open_circuit_v, soc_end) + most_a * resistance_ohm > set_v:
        volts_per_soc = resistance_ohm * per_soc_a
        met = soc_at_terminal_voltage(params.open_circuit_v, soc, volts_per_soc, set_v, soc_end)
        most_a = min(most_a, (met - soc) * per_soc_a)
    return float(most_a)


@in_every_step
def most_discharge_a(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, asked_a: float, least_v: float, resistance_ohm: float, step_h: float, params: BankParams
) -> float:
    """Return the highest discharging current, up to the one asked for, that the bank gives; a positive figure.

    The least of: the charge left, and the current that brings the terminal voltage to cut-off at the end.

    Parameters
    ----------
    soc, asked_a, resistance_ohm, step_h, params
        As in ``most_charge_a``.
    least_v : float
        Cut-off, less what hysteresis adds to the rest voltage [V].

    Returns
    -------
    float
        Never negative [A].
    """
    per_soc_a = params.capacity_ah / step_h
    most_a = max(min(asked_a, (soc - params.empty_soc) * per_soc_a), 0.0)
    soc_end = soc - most_a / per_soc_a
    if at_soc(params.open_circuit_v, soc_end) - most_a * resistance_ohm < least_v:
        volts_per_soc = resistance_ohm * per_soc_a
        met = soc_at_terminal_voltage(params.open_circuit_v, soc, volts_per_soc, least_v, soc_end)
        most_a = min(most_a, (soc - met) * per_soc_a)
    return float(most_a)
