"""One step of the bank: what each source gives, what is served, stored and lost."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from planner.physics.bank.curve import at_soc, mean_rest_v, rest_integral
from planner.physics.bank.limits import BankParams, current_for_power, most_charge_a, most_discharge_a
from planner.physics.kernels import in_every_step

_SECONDS_PER_HOUR: Final = 3600.0  # s/h, exact
_FULL_SLACK: Final = 1e-9  # 1; rounding must not keep a full bank from its float volts
# 1, charge over capacity that brings the volts two thirds of the way to the other branch: what the measured run of
# PyBatteryID (BSD-3) is fitted by best, to 0.01 either way
_TURNING_SOC: Final = 0.03


class BankStep(NamedTuple):
    """What one step did; powers are means over it.

    Attributes
    ----------
    soc_next : float
        State of charge at its end [0..1].
    solar_taken_w, alternator_taken_w, other_taken_w : float
        What the bus took of each source [W].
    unserved_w : float
        Loads that the bank could not serve [W].
    current_a, voltage_v : float
        Bank current, positive charging, and mean terminal voltage [A, V].
    resistive_loss_w : float
        Current times the volts that it stands off rest [W].
    coulombic_loss_w : float
        Charge taken and not kept, and charge lost standing [W].
    stored_w : float
        Along the open-circuit curve, negative when drawn [W].
    hysteresis_loss_w : float
        Current times what hysteresis adds to the rest voltage; below zero for a while after the current turns [W].
    lean_next : float
        At its end, which branch the volts are on: -1 after discharge, 1 after charge [1].
    """

    soc_next: float
    solar_taken_w: float
    alternator_taken_w: float
    other_taken_w: float
    unserved_w: float
    current_a: float
    voltage_v: float
    resistive_loss_w: float
    coulombic_loss_w: float
    stored_w: float
    hysteresis_loss_w: float
    lean_next: float


@in_every_step
def next_lean(lean: float, moved: float) -> float:
    """Return which branch the volts are on once charge has moved: toward 1 on charge, toward -1 on discharge.

    Parameters
    ----------
    lean : float
        Before [1].
    moved : float
        Charge over capacity, positive charging [1].

    Returns
    -------
    float
        [1].
    """
    toward = np.sign(moved)
    return float(toward + (lean - toward) * np.exp(-abs(moved) / _TURNING_SOC)) if moved != 0.0 else lean


class _Flow(NamedTuple):
    """A current [A], the power that it moves at the terminals [W] and the volts that it stands off rest [V]."""

    current_a: float
    power_w: float
    off_rest_v: float


@in_every_step
def _charge(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, net_w: float, set_v: float, kept: float, shift_v: float, step_h: float, params: BankParams
) -> _Flow:
    """Return what a bank takes of a power at a set point."""
    resistance = at_soc(params.charge_resistance_ohm, soc)
    # Terminal volts of a charging bank stay above rest, so the current that the power drives stays below this.
    asked_a = net_w / (at_soc(params.open_circuit_v, soc) + shift_v)
    most_a = most_charge_a(soc, asked_a, set_v - shift_v, kept, resistance, step_h, params)
    if most_a < asked_a:
        end = min(soc + kept * most_a * step_h / params.capacity_ah, 1.0)
        most_w = most_a * (mean_rest_v(params.open_circuit_v, soc, end) + shift_v + most_a * resistance)
        if most_w < net_w:
            return _Flow(most_a, most_w, most_a * resistance)
    current_a = current_for_power(soc, net_w, kept, resistance, shift_v, step_h, params)
    return _Flow(current_a, net_w, current_a * resistance)


@in_every_step
def _float(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, net_w: float, kept: float, shift_v: float, step_h: float, params: BankParams
) -> _Flow:
    """Return what a bank that was full takes at float volts: what it has lost standing."""
    taken = _charge(soc, net_w, max(params.absorption_v, params.alternator_v), kept, shift_v, step_h, params)
    rest_v = mean_rest_v(params.open_circuit_v, soc, 1.0) + shift_v
    floated_w = taken.current_a * params.float_v
    if taken.power_w < net_w and taken.off_rest_v < params.float_v - rest_v and floated_w < net_w:
        return _Flow(taken.current_a, floated_w, params.float_v - rest_v)
    return taken


@in_every_step
def _discharge(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, net_w: float, at_hand_a: float, shift_v: float, step_h: float, params: BankParams
) -> _Flow:
    """Return what a bank gives of a power, both negative."""
    drawn_a = -net_w / at_soc(params.open_circuit_v, soc)  # near enough for what bends by a few percent an ampere
    resistance = at_soc(params.discharge_resistance_ohm, soc) / (1.0 + drawn_a / params.discharge_bend_a)
    asked_a = -net_w / params.cutoff_v  # terminal volts of a bank that serves stay above cut-off
    least_v = params.cutoff_v - shift_v
    most_a = most_discharge_a(soc, min(asked_a, at_hand_a), least_v, resistance, step_h, params)
    if most_a < asked_a:
        end = max(soc - most_a * step_h / params.capacity_ah, 0.0)
        most_w = most_a * (most_a * resistance - shift_v - mean_rest_v(params.open_circuit_v, soc, end))
        if most_w > net_w:
            return _Flow(-most_a, most_w, -most_a * resistance)
    current_a = current_for_power(soc, net_w, 1.0, resistance, shift_v, step_h, params)
    return _Flow(current_a, net_w, current_a * resistance)


@in_every_step
def bank_step(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float,
    solar_w: float,
    alternator_w: float,
    other_w: float,
    demand_w: float,
    step_s: float,
    params: BankParams,
    at_hand_a: float = np.inf,
    lean: float = 0.0,
) -> BankStep:
    """Return what one step does to the bank.

    Sources serve loads and bank in the order solar, other, alternator, but the alternator first where its regulator
    holds the higher voltage; what is left over is not taken.

    Parameters
    ----------
    soc : float
        At the start [0..1].
    solar_w, alternator_w, other_w : float
        What each source could deliver [W].
    demand_w : float
        Loads asked for [W].
    step_s : float
        Step [s].
    params : BankParams
        The bank.
    at_hand_a : float
        Highest discharging current by the kinetic model; unlimited unless given [A].
    lean : float
        Which branch the volts are on at the start, -1 after discharge to 1 after charge; 0 unless given [1].

    Returns
    -------
    BankStep
        Unpacks as soc_next, solar_taken_w, alternator_taken_w, other_taken_w, unserved_w, current_a, voltage_v,
        resistive_loss_w, coulombic_loss_w, stored_w, hysteresis_loss_w, lean_next.
    """
    step_h = step_s / _SECONDS_PER_HOUR
    lost = min(params.self_discharge_per_h * step_h, soc)
    here = soc - lost
    net_w = solar_w + other_w + alternator_w - demand_w
    shift_v = lean * at_soc(params.hysteresis_v, here)
    lower_v = min(params.absorption_v, params.alternator_v)
    upper_v = max(params.absorption_v, params.alternator_v)
    alternator_first = params.alternator_v > params.absorption_v
    kept = 1.0
    if net_w < 0.0:
        flow = _discharge(here, net_w, at_hand_a, shift_v, step_h, params)
        taken_w = solar_w + other_w + alternator_w
    else:
        kept = at_soc(params.charge_efficiency, here)
        if soc >= 1.0 - _FULL_SLACK:
            flow = _float(here, net_w, kept, shift_v, step_h, params)
        else:
            flow = _charge(here, net_w, lower_v, kept, shift_v, step_h, params)
            # Sources of the lower set point have backed off; the others may go on to theirs.
            higher_w = (alternator_w if alternator_first else solar_w + other_w) - demand_w
            if flow.power_w < net_w and lower_v < upper_v and higher_w > flow.power_w:
                flow = _charge(here, higher_w, upper_v, kept, shift_v, step_h, params)
        taken_w = demand_w + flow.power_w
    ahead_w = min(alternator_w, taken_w) if alternator_first else 0.0
    solar_taken_w = min(solar_w, taken_w - ahead_w)
    other_taken_w = min(other_w, taken_w - ahead_w - solar_taken_w)
    soc_next = min(max(here + kept * flow.current_a * step_h / params.capacity_ah, 0.0), 1.0)
    mean_v = mean_rest_v(params.open_circuit_v, here, soc_next)
    per_h = params.capacity_ah / step_h
    return BankStep(
        soc_next,
        solar_taken_w,
        ahead_w if alternator_first else min(alternator_w, taken_w - solar_taken_w - other_taken_w),
        other_taken_w,
        max(flow.power_w - net_w, 0.0) if net_w < 0.0 else 0.0,
        flow.current_a,
        mean_v + shift_v + flow.off_rest_v,
        flow.current_a * flow.off_rest_v,
        (1.0 - kept) * flow.current_a * mean_v + rest_integral(params.open_circuit_v, here, soc) * per_h,
        rest_integral(params.open_circuit_v, soc, soc_next) * per_h,
        flow.current_a * shift_v,
        next_lean(lean, flow.current_a / per_h),
    )
