"""How much the bank holds, from counted charge and terminal volts: how likely each capacity makes what was read.

Read volts are rest volts at the counted state of charge, plus current times resistance, plus what is not known: the
voltmeter's zero, the resistance, the rest curve of this very bank, the charge at the full mark, the shunt's zero, the
charge efficiency. Each of these enters the covariance of the residuals to first order, so that the likelihood of a
capacity has them all integrated out (a Gaussian process for the curve: Rasmussen and Williams 2006, chapter 2).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Bools, Floats
from planner.domain.inputs.power import Bank
from planner.domain.results.reconcile.findings import LEVEL, Interval
from planner.physics.bank import BankParams, next_lean
from planner.physics.bank.meter import FULL_SOC, KEPT, SHUNT_GAIN, SHUNT_ZERO_A
from planner.simulation.ledger.simulate import bank_params
from planner.studies.reconcile.bank.stretches import Log, Stretch, count

# Standard deviations on a 12 V bank (common practice unless said otherwise).
METER_V: Final = 0.03  # V, zero of the voltmeter
BLOCK_V: Final = 0.012  # V, a block's own: relaxation after loads, rounding
CURVE_V: Final = {"lifepo4": 0.015, "agm": 0.03, "gel": 0.03, "flooded": 0.03}  # V, of a bank's curve about the table
# V, of its level: kinds of LiFePO4 cells lie 40 to 60 mV a cell apart (physics/chemistry.py)
LEVEL_V: Final = {"lifepo4": 0.2, "agm": 0.0, "gel": 0.0, "flooded": 0.0}
CURVE_SOC: Final = 0.15  # 1, over which that error hangs together
RESISTANCE: Final = 0.3  # 1, over the listed
DRIFT_V: Final = 0.012  # V, of the volts from day to day: the bank's warmth, the voltmeter's
DRIFT_H: Final = 48.0  # h, over which that holds
COUNT_WALK: Final = 0.001  # 1, of the count after an hour; it grows with the root of time: gaps, rounding

BLOCK_H: Final = 2.0  # h
MOST_CHARGED: Final = 1.0  # 1, of capacity put in since a full charge, beyond which the count is not gone by
MOST_BLOCKS: Final = 100
CALM_AFTER_H: Final = 1.0  # h, of drawing before volts are used: a lead bank's stand high for so long at least
CALM_C: Final = 0.003  # 1/h, of capacity, least that is drawn: at less the bank may be held at float by its sources
GRID: Final = np.exp(np.linspace(np.log(0.35), np.log(1.5), 75))  # 1, capacities tried over the listed
SLOPE_SOC: Final = 0.02  # 1, over which the curve's slope is taken
TELLING: Final = 0.5  # 1, width of an interval over its middle, beyond which it says nothing of use
EDGE: Final = 0.05  # 1, of the way from either end of the grid that an interval that is given keeps


@dataclass(frozen=True, eq=False)
class _Blocks:
    """Means over blocks of calm steps: residual volts and what moves them, (block, capacity) or (block,)."""

    residual_v: Floats
    slope_v: Floats
    soc: Floats
    amps: Floats
    time_h: Floats
    hours: Floats
    charged_ah: Floats
    steps: Floats
    stretch: npt.NDArray[np.int64]


def fit_capacity(log: Log, stretches: Sequence[Stretch], bank: Bank) -> Interval | None:
    """Return the capacity by the stretches that are tied to a full charge: charge alone says nothing of where it is.

    Parameters
    ----------
    log, stretches
        The bank's readings, cut.
    bank : Bank
        From the boat file.

    Returns
    -------
    Interval or None
        None when the readings do not show it [Ah].
    """
    params = bank_params(bank)
    blocks = _blocks(log, stretches, params, GRID * params.capacity_ah)
    if blocks is None:
        return None
    likely = np.array([_log_likelihood(blocks, index, bank) for index in range(GRID.size)])
    return _interval(GRID, np.exp(likely - likely.max()), params.capacity_ah)


def _interval(grid: Floats, weight: Floats, listed_ah: float) -> Interval | None:
    """Return the middle of the weights with its interval, widened by the shunt's gain; None where it is too wide."""
    from scipy.stats import norm

    share = np.cumsum(0.5 * (weight[1:] + weight[:-1]))
    share = np.concatenate([[0.0], share / share[-1]])
    tail = 0.5 - LEVEL / 2.0
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], share, np.log(grid))
    gain = SHUNT_GAIN * float(norm.ppf(1.0 - tail))
    low, high = middle - np.hypot(middle - low, gain), middle + np.hypot(high - middle, gain)
    span = np.log(grid[-1] / grid[0])
    inside = low > np.log(grid[0]) + EDGE * span and high < np.log(grid[-1]) - EDGE * span
    if not inside or np.exp(high - middle) - np.exp(low - middle) > TELLING:
        return None
    return Interval(*(float(listed_ah * np.exp(each)) for each in (middle, low, high)))


def _calm(log: Log, capacity_ah: float) -> Bools:
    """Return the steps whose volts may be used: read, with something drawn, now and for a while before."""
    with np.errstate(invalid="ignore"):
        held = ~(log.amps <= -CALM_C * capacity_ah)
    back = round(CALM_AFTER_H / log.step_h)
    recent = np.convolve(held, np.ones(back + 1))[: held.size] > 0.5
    return log.amps_read & ~np.isnan(log.volts) & ~recent


def _blocks(log: Log, stretches: Sequence[Stretch], params: BankParams, capacity_ah: Floats) -> _Blocks | None:
    """Return the calm steps in blocks, for each capacity; None where there is none."""
    calm = _calm(log, params.capacity_ah)
    total_h = float(calm.sum()) * log.step_h
    length = max(round(max(BLOCK_H, total_h / MOST_BLOCKS) / log.step_h), 1)
    lean = _leans(log.amps * log.step_h / params.capacity_ah)
    rows: list[tuple[Floats, Floats, Floats, tuple[float, ...], int]] = []
    for number, stretch in enumerate(stretches):
        usable = np.flatnonzero(calm[stretch.first : stretch.end])
        if not usable.size:
            continue
        soc = count(log, stretch, params, capacity_ah)
        middle = 0.5 * (soc[:-1] + soc[1:])
        amps = log.amps[stretch.first : stretch.end]
        volts = log.volts[stretch.first : stretch.end]
        counted = np.cumsum(np.maximum(amps, 0.0)) * log.step_h
        away = np.arange(amps.size) * log.step_h
        if stretch.tied == "end":
            away, counted = away - away[-1], counted - counted[-1]
        usable = usable[np.abs(counted[usable]) <= MOST_CHARGED * params.capacity_ah]
        for group in np.unique(usable // length):
            inside = usable[usable // length == group]
            here = middle[inside]
            branch = lean[stretch.first : stretch.end][inside][:, None]
            rest = _rest_v(params.open_circuit_v, here) + branch * _rest_v(params.hysteresis_v, here)
            above, below = (_rest_v(params.open_circuit_v, here + off) for off in (SLOPE_SOC, -SLOPE_SOC))
            slope = (above - below) / (2.0 * SLOPE_SOC)
            drawn = amps[inside][:, None]
            off = volts[inside][:, None] - drawn * _ohm(params, here, drawn)
            of_time = (amps[inside], (stretch.first + inside) * log.step_h, away[inside], counted[inside])
            means = (*(float(each.mean()) for each in of_time), float(inside.size))
            rows.append(((off - rest).mean(axis=0), slope.mean(axis=0), here.mean(axis=0), means, number))
    if not rows:
        return None
    residual, slopes, socs, means_of, numbers = zip(*rows, strict=True)
    amps_of, time_of, away_of, charged, sizes = np.array(means_of).T
    return _Blocks(
        residual_v=np.stack(residual),
        slope_v=np.stack(slopes),
        soc=np.stack(socs),
        amps=amps_of,
        time_h=time_of,
        hours=away_of,
        charged_ah=charged,
        steps=sizes,
        stretch=np.array(numbers),
    )


def _rest_v(curve: Floats, soc: Floats) -> Floats:
    """Return the rest voltage, carried on straight beyond empty, and held beyond full [V]."""
    nodes = np.linspace(0.0, 1.0, curve.size)
    below = np.minimum(soc, 0.0) * (curve[4] - curve[0]) / nodes[4]
    return np.asarray(np.interp(soc, nodes, curve) + below, dtype=np.float64)


def _leans(moved: Floats) -> Floats:
    """Return which branch the volts are on midway through each step, by the charge moved over capacity."""
    leans, lean = np.zeros(moved.size), 0.0
    for step, each in enumerate(np.nan_to_num(moved)):  # what was not read moves none
        leans[step] = next_lean(lean, 0.5 * float(each))
        lean = next_lean(lean, float(each))
    return leans


def _ohm(params: BankParams, soc: Floats, amps: Floats) -> Floats:
    """Return the resistance to a current that is drawn, negative [ohm]."""
    nodes = np.linspace(0.0, 1.0, params.discharge_resistance_ohm.size)
    ohm = np.interp(soc, nodes, params.discharge_resistance_ohm) / (1.0 + np.abs(amps) / params.discharge_bend_a)
    return np.asarray(ohm, dtype=np.float64)


def _log_likelihood(blocks: _Blocks, index: int, bank: Bank) -> float:
    """Return how likely one capacity of the grid makes the residuals, all that is not known integrated out [1]."""
    from scipy.linalg import cho_factor, cho_solve

    params, kind, twelves = bank_params(bank), bank.chemistry, bank.nominal_v / 12.0
    slope, soc, capacity = blocks.slope_v[:, index], blocks.soc[:, index], GRID[index] * params.capacity_ah
    drop_v = blocks.amps * _ohm(params, soc, blocks.amps)
    apart_h = np.abs(blocks.time_h[:, None] - blocks.time_h[None, :])
    away_h = np.minimum(np.abs(blocks.hours[:, None]), np.abs(blocks.hours[None, :]))
    same = blocks.stretch[:, None] == blocks.stretch[None, :]
    near = np.exp(-0.5 * ((soc[:, None] - soc[None, :]) / CURVE_SOC) ** 2)
    covariance = (
        np.diag((BLOCK_V * twelves) ** 2 * (1.0 + 1.0 / blocks.steps))
        + (METER_V**2 + LEVEL_V[kind] ** 2) * twelves**2
        + np.outer(drop_v, drop_v) * RESISTANCE**2
        + near * (CURVE_V[kind] * twelves) ** 2
        + (DRIFT_V * twelves) ** 2 * np.exp(-apart_h / DRIFT_H)
        + np.outer(slope, slope) * same * away_h * COUNT_WALK**2
        + np.outer(slope, slope) * (1.0 + same) * FULL_SOC[kind] ** 2
        + np.outer(slope * blocks.hours, slope * blocks.hours) * (SHUNT_ZERO_A / capacity) ** 2
        + np.outer(slope * blocks.charged_ah, slope * blocks.charged_ah) * (1.0 + same) * (KEPT[kind] / capacity) ** 2
    )
    factor = cho_factor(covariance, lower=True)
    residual = blocks.residual_v[:, index]
    return float(-0.5 * residual @ cho_solve(factor, residual) - np.log(np.diag(factor[0])).sum())
