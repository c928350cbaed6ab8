"""How much the bank holds, from charge counted between full charges and terminal volts.

Read volts are rest volts at the counted state of charge, plus current times resistance, plus what is not known: the
voltmeter's zero, the resistance, the rest curve of this very bank, the charge at the full mark, the shunt's zero, the
charge efficiency. Each of these is in the covariance of the volts to first order, so that the likelihood of a
capacity has them all integrated out (a Gaussian process for the curve: Rasmussen and Williams 2006, chapter 2).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.arrays import Floats
from planner.domain.inputs.power import Bank
from planner.domain.results.note import Note
from planner.domain.results.reconcile.findings import LEVEL, BankFinding, Interval
from planner.physics.bank import BankParams, next_lean
from planner.physics.bank.meter import FULL_SOC, KEPT, SHUNT_GAIN, SHUNT_ZERO_A
from planner.simulation.ledger.bank import bank_params
from planner.studies.reconcile.bank.count import Log, Stretch, count, log_of, stretches_of
from planner.studies.reconcile.evidence import SIGMAS, Figures

# standard deviations on a 12 V bank (common practice unless said otherwise)
METER_V: Final = 0.03  # V, zero of the voltmeter
BLOCK_V: Final = 0.012  # V, a block's own: relaxation after loads, rounding
RESISTANCE: Final = 0.3  # 1, over the listed
DRIFT: Final = (0.012, 48.0)  # V, of the volts over so many hours: the bank's warmth, the voltmeter's
COUNT_WALK: Final = 0.001  # 1, of the count after an hour; it grows with the root of time: gaps, rounding
# V, of the rest curve's shape and of its level: kinds of LiFePO4 cells lie 40 to 60 mV a cell apart
LITHIUM_V: Final = (0.015, 0.2)
LEAD_V: Final = (0.03, 0.0)
CURVE_SOC: Final = 0.15  # 1, over which the curve's error hangs together

BLOCK_H: Final = 2.0  # h
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
    stretch: Floats


def judge_bank(steps: xr.Dataset, bank: Bank) -> BankFinding:
    """Return what the readings show of the bank's capacity, as far as the log comes down to where volts show it.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on even steps; NaN where not read.
    bank : Bank
        From the boat file.
    """
    log, listed_ah = log_of(steps, bank), bank_params(bank).capacity_ah
    stretches = stretches_of(log)
    capacity = fit_capacity(log, stretches, bank)
    fulls = sum(stretch.to_full for stretch in stretches) or sum(each.tied == "start" for each in stretches)
    if not log.amps_read.any() or np.isnan(log.volts).all():
        evidence = Note("bank_unknown")
    elif capacity is None:
        why = Note("volts_flat" if bank.chemistry == "lifepo4" else "volts_rough")
        evidence = Note("capacity_unknown", {"fulls": fulls, "why": why})
    else:
        against = Note("as_listed", {"listed_ah": listed_ah})
        if not capacity.low <= listed_ah <= capacity.high:
            code = Note("less_than_listed" if capacity.high < listed_ah else "more_than_listed", against.figures)
            against = code
        evidence = Note("capacity", {"capacity": capacity, "level": LEVEL, "against": against, "fulls": fulls})
    return BankFinding(
        capacity_ah=capacity,
        listed_ah=listed_ah,
        tired=capacity is not None and capacity.high < listed_ah,
        evidence=evidence,
    )


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
    weight, logs = np.exp(likely - likely.max()), np.log(GRID)
    share = np.concatenate([[0.0], np.cumsum(0.5 * (weight[1:] + weight[:-1]))])
    tail = 0.5 - LEVEL / 2.0
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], share / share[-1], logs)
    low = middle - np.hypot(middle - low, SHUNT_GAIN * SIGMAS)
    high = middle + np.hypot(high - middle, SHUNT_GAIN * SIGMAS)
    margin = EDGE * (logs[-1] - logs[0])
    if (
        not logs[0] + margin < low < high < logs[-1] - margin
        or np.exp(high - middle) - np.exp(low - middle) > TELLING
    ):
        return None
    return Interval(*(float(params.capacity_ah * np.exp(each)) for each in (middle, low, high)))


def _blocks(log: Log, stretches: Sequence[Stretch], params: BankParams, capacity_ah: Floats) -> _Blocks | None:
    """Return in blocks, for each capacity, the steps with something drawn, now and for a while before; or None."""
    with np.errstate(invalid="ignore"):
        held = ~(log.amps <= -CALM_C * params.capacity_ah)
    recent = np.convolve(held, np.ones(round(CALM_AFTER_H / log.step_h) + 1))[: held.size] > 0.5
    calm = log.amps_read & ~np.isnan(log.volts) & ~recent
    length = max(round(max(BLOCK_H, float(calm.sum()) * log.step_h / MOST_BLOCKS) / log.step_h), 1)
    lean = _leans(log.amps * log.step_h / params.capacity_ah)
    tried: list[tuple[Floats, ...]] = []
    means: list[tuple[float, ...]] = []
    for number, stretch in enumerate(stretches):
        here = slice(stretch.first, stretch.end)
        soc = count(log, stretch, params, capacity_ah)
        middle, amps = 0.5 * (soc[:-1] + soc[1:]), log.amps[here]
        rest = _rest_v(params.open_circuit_v, middle) + lean[here, None] * _rest_v(params.hysteresis_v, middle)
        slope = _rest_v(params.open_circuit_v, middle + SLOPE_SOC) - _rest_v(
            params.open_circuit_v, middle - SLOPE_SOC
        )
        off = log.volts[here, None] - amps[:, None] * _ohm(params, middle, amps[:, None]) - rest
        away, counted = np.arange(amps.size) * log.step_h, np.cumsum(np.maximum(amps, 0.0)) * log.step_h
        if stretch.tied == "end":
            away, counted = away - away[-1], counted - counted[-1]
        # no further than what was put in since the full charge comes to the whole bank
        usable = np.flatnonzero(calm[here] & (np.abs(counted) <= params.capacity_ah))
        for group in np.unique(usable // length):
            own = usable[usable // length == group]
            tried.append(tuple(each[own].mean(axis=0) for each in (off, slope / (2.0 * SLOPE_SOC), middle)))
            time_h = (stretch.first + own) * log.step_h
            scalars = (float(each[own].mean()) for each in (amps, away, counted))
            means.append((*scalars, float(time_h.mean()), float(own.size), float(number)))
    if not tried:
        return None
    residual, slopes, socs = (np.stack(each) for each in zip(*tried, strict=True))
    amps_of, away_of, charged, time_of, sizes, numbers = np.array(means).T
    return _Blocks(residual, slopes, socs, amps_of, time_of, away_of, charged, sizes, numbers)


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
    params, twelves = bank_params(bank), bank.nominal_v / 12.0
    curve_v, level_v = LITHIUM_V if bank.chemistry == "lifepo4" else LEAD_V
    full_soc, kept = FULL_SOC[bank.chemistry], KEPT[bank.chemistry]
    slope, soc, capacity = blocks.slope_v[:, index], blocks.soc[:, index], GRID[index] * params.capacity_ah
    apart_h = np.abs(blocks.time_h[:, None] - blocks.time_h)
    away_h = np.minimum(np.abs(blocks.hours[:, None]), np.abs(blocks.hours))
    same = blocks.stretch[:, None] == blocks.stretch
    zero, charged = blocks.hours * SHUNT_ZERO_A / capacity, blocks.charged_ah * kept / capacity
    of_count = (
        same * away_h * COUNT_WALK**2
        + (1.0 + same) * (full_soc**2 + np.outer(charged, charged))
        + np.outer(zero, zero)
    )
    of_volts = (
        np.diag(BLOCK_V**2 * (1.0 + 1.0 / blocks.steps))
        + METER_V**2
        + level_v**2
        + np.exp(-0.5 * ((soc[:, None] - soc) / CURVE_SOC) ** 2) * curve_v**2
        + DRIFT[0] ** 2 * np.exp(-apart_h / DRIFT[1])
    )
    drop = blocks.amps * RESISTANCE * _ohm(params, soc, blocks.amps)
    covariance = of_volts * twelves**2 + np.outer(drop, drop) + np.outer(slope, slope) * of_count
    figures = Figures(blocks.residual_v[:, index], covariance)
    return float(-0.5 * figures.value @ figures.pulled - 0.5 * np.linalg.slogdet(covariance)[1])
