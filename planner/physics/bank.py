"""One step of a battery bank: what it takes, what it gives, and where every watt went.

Over a step the bank's current I is constant (positive charging). With rest voltage V(s) piecewise linear in the state
of charge s, capacity Q and step h, the state moves by e I h / Q (e the charge efficiency at the start of the step,
1 on discharge), and the bus sees

    P = I mean(V) + I^2 R,      mean(V) = integral of V over the states passed / their difference,

of which e I mean(V) is stored (on discharge I mean(V)), (1 - e) I mean(V) and I^2 R are lost. R is read at the start.
P is convex and rising in I, so Newton's method from its right reaches the root without overshoot.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

Floats = npt.NDArray[np.float64]

_SECONDS_PER_HOUR: Final = 3600.0  # s/h, exact
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
        Of the whole bank [ohm].
    charge_limit_a : float
        Highest charging current; 0 when it must not charge [A].
    absorption_v : float
        Terminal voltage that charging does not exceed at the end of a step [V].
    tail_current_a : float
        Charging current at which the bank counts as full [A].
    cutoff_v : float
        Terminal voltage that discharging does not go under at the end of a step [V].
    empty_soc : float
        State of charge at which discharge ends: 0, or more in the cold [0..1].
    available_fraction, flow_per_h : float
        Kinetic two-well model: share of the charge at hand, rate at which the rest follows [1, 1/h].
    """

    capacity_ah: float
    open_circuit_v: Floats
    charge_efficiency: Floats
    charge_resistance_ohm: Floats
    discharge_resistance_ohm: Floats
    charge_limit_a: float
    absorption_v: float
    tail_current_a: float
    cutoff_v: float
    empty_soc: float
    available_fraction: float
    flow_per_h: float


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
    resistive_loss_w, coulombic_loss_w : float
        Losses [W].
    stored_w : float
        Along the open-circuit curve, negative when drawn [W].
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


@njit(cache=True)
def at_soc(table: Floats, soc: float) -> float:
    """Return a table read at a state of charge.

    Parameters
    ----------
    table : array (node,)
        On an even grid of state of charge from 0 to 1 [any].
    soc : float
        Held to 0..1 [0..1].
    """
    cells = table.size - 1
    place = min(max(soc, 0.0), 1.0) * cells
    cell = min(int(place), cells - 1)
    return float(table[cell] + (table[cell + 1] - table[cell]) * (place - cell))


@njit(cache=True)
def rest_integral(open_circuit_v: Floats, soc_from: float, soc_to: float) -> float:
    """Return the exact integral of the piecewise linear rest voltage over state of charge, with its sign.

    Summed over the cells passed, so that a small step loses no digits.

    Parameters
    ----------
    open_circuit_v : array (node,)
        On an even grid from 0 to 1 [V].
    soc_from, soc_to : float
        Limits [0..1].

    Returns
    -------
    float
        Negative when ``soc_to`` is the lower [V].
    """
    low, high = min(soc_from, soc_to), max(soc_from, soc_to)
    cells = open_circuit_v.size - 1
    first = min(max(int(low * cells), 0), cells - 1)
    last = min(max(int(high * cells), 0), cells - 1)
    low_v = at_soc(open_circuit_v, low)
    high_v = at_soc(open_circuit_v, high)
    if first == last:
        total = 0.5 * (low_v + high_v) * (high - low)
    else:
        total = 0.5 * (low_v + open_circuit_v[first + 1]) * ((first + 1) / cells - low)
        for cell in range(first + 1, last):
            total += 0.5 * (open_circuit_v[cell] + open_circuit_v[cell + 1]) / cells
        total += 0.5 * (open_circuit_v[last] + high_v) * (high - last / cells)
    return float(total if soc_to >= soc_from else -total)


@njit(cache=True)
def mean_rest_v(open_circuit_v: Floats, soc_from: float, soc_to: float) -> float:
    """Return the mean rest voltage between two states of charge [V]; at a point where they are equal."""
    if soc_from == soc_to:
        return at_soc(open_circuit_v, soc_from)
    return rest_integral(open_circuit_v, soc_from, soc_to) / (soc_to - soc_from)


@njit(cache=True)
def soc_at_terminal_voltage(
    open_circuit_v: Floats, soc: float, volts_per_soc: float, terminal_v: float, toward: float
) -> float:
    """Return the state of charge at which rest voltage plus ``volts_per_soc`` times the way gone meets a voltage.

    Walks the cells of the curve from ``soc`` and solves the straight line in the one that holds the meeting.

    Parameters
    ----------
    open_circuit_v : array (node,)
        On an even grid from 0 to 1 [V].
    soc : float
        Start [0..1].
    volts_per_soc : float
        Resistance times the current that moves the state by 1 in the step [V].
    terminal_v : float
        Wanted at the end [V].
    toward : float
        Where to stop at the latest: above ``soc`` on charge, below on discharge [0..1].

    Returns
    -------
    float
        Between ``soc`` and ``toward``; ``soc`` when the voltage is already met [0..1].
    """
    cells = open_circuit_v.size - 1
    rising = toward >= soc
    here = soc
    gap = at_soc(open_circuit_v, soc) - terminal_v
    if (rising and gap >= 0.0) or (not rising and gap <= 0.0):
        return soc
    while here != toward:
        if rising:
            node = min((np.floor(here * cells + 1e-9) + 1.0) / cells, toward)
        else:
            node = max((np.ceil(here * cells - 1e-9) - 1.0) / cells, toward)
        node_gap = at_soc(open_circuit_v, node) + volts_per_soc * (node - soc) - terminal_v
        if (rising and node_gap >= 0.0) or (not rising and node_gap <= 0.0):
            return float(here + (node - here) * gap / (gap - node_gap))
        here, gap = node, node_gap
    return toward


@njit(cache=True)
def current_for_power(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, power_w: float, kept: float, resistance_ohm: float, step_h: float, params: BankParams
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
    step_h : float
        Step [h].
    params : BankParams
        The bank.

    Returns
    -------
    float
        Current, positive charging [A].
    """
    rest_v = at_soc(params.open_circuit_v, soc)
    # The root were the rest voltage to stay: never left of the true one, since it rises with charge.
    root = np.sqrt(max(rest_v * rest_v + 4.0 * resistance_ohm * power_w, 0.0))
    current_a = 2.0 * power_w / (rest_v + root)
    for _ in range(_NEWTON_STEPS):
        soc_end = soc + kept * current_a * step_h / params.capacity_ah
        excess_w = (
            current_a * mean_rest_v(params.open_circuit_v, soc, soc_end)
            + current_a * current_a * resistance_ohm
            - power_w
        )
        change = excess_w / (at_soc(params.open_circuit_v, soc_end) + 2.0 * current_a * resistance_ohm)
        current_a -= change
        if abs(change) <= _NEWTON_TOLERANCE * abs(current_a):
            break
    return float(current_a)


@njit(cache=True)
def most_charge_a(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float, asked_a: float, kept: float, resistance_ohm: float, step_h: float, params: BankParams
) -> float:
    """Return the highest charging current, up to the one asked for, that the bank takes over a step.

    The least of: its limit, the room left, the current that brings the terminal voltage to absorption at the end.

    Parameters
    ----------
    soc, kept, resistance_ohm, step_h, params
        As in ``current_for_power``.
    asked_a : float
        No more is of interest; may be infinite [A].

    Returns
    -------
    float
        Never negative [A].
    """
    per_soc_a = params.capacity_ah / (kept * step_h)
    most_a = min(asked_a, params.charge_limit_a, max(1.0 - soc, 0.0) * per_soc_a)
    soc_end = min(soc + most_a / per_soc_a, 1.0)
    if at_soc(params.open_circuit_v, soc_end) + most_a * resistance_ohm > params.absorption_v:
        volts_per_soc = resistance_ohm * per_soc_a
        met = soc_at_terminal_voltage(params.open_circuit_v, soc, volts_per_soc, params.absorption_v, soc_end)
        most_a = min(most_a, (met - soc) * per_soc_a)
    return float(most_a)


@njit(cache=True)
def most_discharge_a(soc: float, asked_a: float, resistance_ohm: float, step_h: float, params: BankParams) -> float:
    """Return the highest discharging current, up to the one asked for, that the bank gives; a positive figure.

    The least of: the charge left, and the current that brings the terminal voltage to cut-off at the end.

    Parameters
    ----------
    soc, asked_a, resistance_ohm, step_h, params
        As in ``most_charge_a``.

    Returns
    -------
    float
        Never negative [A].
    """
    per_soc_a = params.capacity_ah / step_h
    most_a = max(min(asked_a, (soc - params.empty_soc) * per_soc_a), 0.0)
    soc_end = soc - most_a / per_soc_a
    if at_soc(params.open_circuit_v, soc_end) - most_a * resistance_ohm < params.cutoff_v:
        volts_per_soc = resistance_ohm * per_soc_a
        met = soc_at_terminal_voltage(params.open_circuit_v, soc, volts_per_soc, params.cutoff_v, soc_end)
        most_a = min(most_a, (soc - met) * per_soc_a)
    return float(most_a)


@njit(cache=True)
def bank_step(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: float,
    solar_w: float,
    alternator_w: float,
    other_w: float,
    demand_w: float,
    step_s: float,
    params: BankParams,
    at_hand_a: float = np.inf,
) -> BankStep:
    """Return what one step does to the bank.

    Sources serve loads and bank in the order solar, other, alternator; what is left over is not taken.

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

    Returns
    -------
    BankStep
        Unpacks as soc_next, solar_taken_w, alternator_taken_w, other_taken_w, unserved_w, current_a, voltage_v,
        resistive_loss_w, coulombic_loss_w, stored_w.
    """
    step_h = step_s / _SECONDS_PER_HOUR
    net_w = solar_w + other_w + alternator_w - demand_w
    charging = net_w >= 0.0
    if charging:
        kept = at_soc(params.charge_efficiency, soc)
        resistance = at_soc(params.charge_resistance_ohm, soc)
        # Terminal volts of a charging bank stay above rest, so the current that the power drives stays below this.
        asked_a = net_w / at_soc(params.open_circuit_v, soc)
        limit_a = most_charge_a(soc, asked_a, kept, resistance, step_h, params)
    else:
        kept = 1.0
        resistance = at_soc(params.discharge_resistance_ohm, soc)
        asked_a = net_w / params.cutoff_v  # and those of a bank that serves stay above cut-off
        limit_a = -most_discharge_a(soc, min(-asked_a, at_hand_a), resistance, step_h, params)
    current = limit_a
    limit_w = net_w
    if limit_a != asked_a:
        end = min(max(soc + kept * limit_a * step_h / params.capacity_ah, 0.0), 1.0)
        limit_w = limit_a * mean_rest_v(params.open_circuit_v, soc, end) + limit_a * limit_a * resistance
    if abs(net_w) <= abs(limit_w):
        current = current_for_power(soc, net_w, kept, resistance, step_h, params)
    soc_next = min(max(soc + kept * current * step_h / params.capacity_ah, 0.0), 1.0)
    mean_v = mean_rest_v(params.open_circuit_v, soc, soc_next)
    unserved_w = 0.0 if charging else max(limit_w - net_w, 0.0)
    taken_w = demand_w + min(net_w, limit_w) if charging else solar_w + other_w + alternator_w
    solar_taken_w = min(solar_w, taken_w)
    other_taken_w = min(other_w, taken_w - solar_taken_w)
    return BankStep(
        soc_next,
        solar_taken_w,
        min(alternator_w, taken_w - solar_taken_w - other_taken_w),
        other_taken_w,
        unserved_w,
        current,
        mean_v + current * resistance,
        current * current * resistance,
        (1.0 - kept) * current * mean_v,
        rest_integral(params.open_circuit_v, soc, soc_next) * params.capacity_ah / step_h,
    )
