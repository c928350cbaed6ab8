"""The bank's readings cut into stretches without a gap, each tied to a full charge, and counted from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import xarray as xr

from planner.domain.arrays import Bools, Floats
from planner.domain.inputs.power import Bank
from planner.domain.units import SECONDS_PER_HOUR
from planner.physics.bank import BankParams
from planner.physics.chemistry import chemistry
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.bank import bank_params

BRIDGED_H: Final = 1.0  # h, of missing amps that are taken as a straight line
ABSORBED_V: Final = 0.15  # V on a 12 V bank under the absorption setting: wires, and meters of 1 % (common practice)
TAIL_SLACK: Final = 1.1  # 1, over the tail current
FLOATED_V: Final = 0.1  # V on a 12 V bank about the float setting
FLOATED_A: Final = 0.004  # 1/h, of capacity: next to no current
FLOATED_STEPS: Final = 3  # one after another: sun and loads do not meet by chance for so long
TOPPED_BEFORE_H: Final = 3.0  # h, before floating, in which the bank was seen topped up
STEEP_V: Final = 0.1  # V on a 12 V bank over the last half percent of charge: rest volts there are found nowhere else
ONE_FULL_H: Final = 3.0  # h, between full readings that count as one full charge
NO_RESET_AH: Final = -0.5  # Ah, shown by a monitor that has not just set itself to full


@dataclass(frozen=True, eq=False)
class Log:
    """The bank's readings on the steps; arrays (time,).

    Attributes
    ----------
    volts : array
        NaN where not read [V].
    amps : array
        Positive charging; bridged over short gaps, and over long ones where the monitor counted; else NaN [A].
    amps_read : bool array
        Whether they were read.
    full : bool array
        Steps in which the bank shows itself full.
    step_h : float
        [h].
    """

    volts: Floats
    amps: Floats
    amps_read: Bools
    full: Bools
    step_h: float


@dataclass(frozen=True)
class Stretch:
    """Steps without a gap, counted from a full charge, or back from one.

    Attributes
    ----------
    first, end : int
        Steps, end exclusive.
    tied : {'start', 'end'}
        Where the bank was full.
    to_full : bool
        Whether it ends in a full charge; always so when tied at the end.
    """

    first: int
    end: int
    tied: Literal["start", "end"]
    to_full: bool


def log_of(steps: xr.Dataset, bank: Bank) -> Log:
    """Return the bank's readings, bridged, with what shows it full.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on even steps.
    bank : Bank
        From the boat file.
    """
    params = bank_params(bank)
    step_h = step_seconds(steps) / SECONDS_PER_HOUR
    volts, amps = steps["read_bank_voltage_v"].values, steps["read_bank_current_a"].values
    bridged = _bridged(amps, steps["read_meter_ah"].values, step_h, chemistry(bank.chemistry).meter_keeps)
    return Log(
        volts=volts,
        amps=bridged,
        amps_read=~np.isnan(amps),
        full=_full(volts, amps, params, bank.nominal_v / 12.0, step_h),
        step_h=step_h,
    )


def _runs(flags: Bools) -> list[tuple[int, int]]:
    """Return first and end of each unbroken run of what is true."""
    edges = np.diff(np.concatenate([[0], flags.astype(np.int64), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))


def _bridged(amps: Floats, meter_ah: Floats, step_h: float, meter_keeps: float) -> Floats:
    """Return the current with gaps filled: short ones straight, long ones by what the monitor counted then [A]."""
    filled = amps.copy()
    for first, end in _runs(np.isnan(amps)):
        if first == 0 or end == amps.size:
            continue
        hours = (end - first) * step_h
        if hours <= BRIDGED_H:
            filled[first:end] = np.linspace(amps[first - 1], amps[end], end - first + 2)[1:-1]
            continue
        # Shown at the start of a step: the step before the gap was read, so its own charge is taken off.
        moved = meter_ah[end] - meter_ah[first - 1] - amps[first - 1] * step_h
        if np.isfinite(moved) and meter_ah[end] < NO_RESET_AH:
            filled[first:end] = (moved / meter_keeps if moved > 0.0 else moved) / hours
    return filled


def _full(volts: Floats, amps: Floats, params: BankParams, twelves: float, step_h: float) -> Bools:
    """Return the steps in which the bank is full: topped up under its tail current, or left at float volts after it.

    Topped up: at absorption volts, or at rest volts that only the last hundredth of the charge has. Float volts alone
    say nothing of LiFePO4, which rests there for much of its charge.
    """
    top_v = params.open_circuit_v[-1]
    last_v = 0.5 * (top_v + params.open_circuit_v[-2])
    steep = top_v - params.open_circuit_v[-2] > STEEP_V * twelves
    with np.errstate(invalid="ignore"):
        topped = volts >= params.absorption_v - ABSORBED_V * twelves
        if steep:
            topped |= volts - amps * params.charge_resistance_ohm[-1] >= last_v
        full = topped & (np.abs(amps) <= TAIL_SLACK * params.tail_current_a)
        still = np.abs(amps) <= FLOATED_A * params.capacity_ah
        at_float = still & (np.abs(volts - params.float_v) <= FLOATED_V * twelves)
    back = round(TOPPED_BEFORE_H / step_h)
    for first, end in _runs(at_float):
        if end - first >= FLOATED_STEPS and topped[max(first - back, 0) : first].any():
            full[first:end] = True
    return full


def stretches_of(log: Log) -> tuple[Stretch, ...]:
    """Return the stretches, in order; one between two full charges is tied at its start.

    Steps from which no full charge is reached without a gap are in none.
    """
    found: list[Stretch] = []
    for first, end in _runs(~np.isnan(log.amps)):
        charges = full_charges(log.full, first, end, round(ONE_FULL_H / log.step_h))
        if charges and charges[0][0] > first:
            found.append(Stretch(first, charges[0][0], "end", to_full=True))
        for index, (_, last) in enumerate(charges):
            to_full = index + 1 < len(charges)
            until = charges[index + 1][0] if to_full else end
            if until > last + 1:
                found.append(Stretch(last + 1, until, "start", to_full=to_full))
    return tuple(found)


def full_charges(full: Bools, first: int, end: int, apart: int) -> list[tuple[int, int]]:
    """Return first and last step of each full charge within a span of steps."""
    charges: list[tuple[int, int]] = []
    for step in np.flatnonzero(full[first:end]) + first:
        if charges and step - charges[-1][1] <= apart:
            charges[-1] = (charges[-1][0], int(step))
        else:
            charges.append((int(step), int(step)))
    return charges


def count(log: Log, stretch: Stretch, params: BankParams, capacity_ah: Floats) -> Floats:
    """Return the state of charge along a stretch by counting, for several banks at once.

    Parameters
    ----------
    log, stretch
        The readings and where to count.
    params : BankParams
        For charge efficiency and self-discharge.
    capacity_ah : array (bank,)
        Tried [Ah].

    Returns
    -------
    array (step + 1, bank)
        At the start of each step and after the last; under 0 and over 1 where the count says so [1].
    """
    lost, table = params.self_discharge_per_h * log.step_h, params.charge_efficiency
    sign = -1 if stretch.tied == "end" else 1
    soc = [np.ones(capacity_ah.size)]
    for current in log.amps[stretch.first : stretch.end][::sign].tolist():
        kept = (
            table[np.rint(np.clip(soc[-1], 0.0, 1.0) * (table.size - 1)).astype(np.int64)] if current > 0.0 else 1.0
        )
        soc.append(soc[-1] + sign * (kept * current * log.step_h / capacity_ah - lost))
    return np.stack(soc)[::sign]
