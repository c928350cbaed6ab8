"""How the bank answers half an hour of net power, from every SOC, engine stopped and running."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.arrays import Floats
from planner.physics.bank import BankParams, bank_step
from planner.physics.frames import cell_of

SOC_GRID: Final = np.linspace(0.0, 1.0, 101)  # 1, the whole percents that a meter shows
NET_POWER_STEP_W: Final = 10.0  # W, least step between the levels of net power at which the bank is tabulated
MOST_LEVELS: Final = 4000  # steps of net power at most, 40 kW in steps of 10 W: beyond, the steps widen
SUBSTEP_S: Final = 1800.0  # s, the planner's own step: choices differ by half an hour


class Rates(NamedTuple):
    """SOC gained and mean power unserved over one substep, by net power at the bus, arrays (engine, level, soc).

    Engine 0 stopped, 1 running: its regulator may hold another voltage than the controllers. Levels stand ``step_w``
    apart from ``low_w`` on, and zero, where charging turns to discharging, is one.
    """

    low_w: float
    step_w: float
    alternator_w: float
    gain: Floats
    unserved_w: Floats


def rates_of(least_w: float, most_w: float, alternator_w: float, step_s: float, params: BankParams) -> Rates:
    """Run the bank through one substep from every grid SOC at every net power, engine stopped and running."""
    lowest_w, highest_w = min(least_w, 0.0), max(most_w, 0.0)
    step_w = max(NET_POWER_STEP_W, (highest_w - lowest_w) / MOST_LEVELS)
    below, above = int(np.ceil(-lowest_w / step_w)), int(np.ceil(highest_w / step_w))
    shape = (2, below + above + 2, SOC_GRID.size)
    rates = Rates(-below * step_w, step_w, alternator_w, np.empty(shape), np.empty(shape))
    _fill_rates(rates, step_s, params)
    return rates


def gain_at_rest(rates: Rates) -> Floats:
    """Return SOC gained over a substep of alternator alone, from each grid SOC, shape (soc,)."""
    place = (rates.alternator_w - rates.low_w) / rates.step_w
    level = cell_of(place, rates.gain.shape[1] - 1)
    running = rates.gain[1]
    gain: Floats = running[level] + (place - level) * (running[level + 1] - running[level])
    return gain


@njit(cache=True)
def _fill_rates(rates, step_s, params):  # type: ignore[no-untyped-def]
    """Fill the rates, in the steps of the ledger; what is not the alternator's is sun or load."""
    steps = max(1, round(SUBSTEP_S / step_s))
    for engine in range(2):
        alternator_w = engine * rates.alternator_w
        for level in range(rates.gain.shape[1]):
            rest_w = rates.low_w + rates.step_w * level - alternator_w
            for node in range(SOC_GRID.size):
                soc, unserved_w = SOC_GRID[node], 0.0
                for _ in range(steps):
                    result = bank_step(
                        soc,
                        max(rest_w, 0.0),
                        alternator_w,
                        0.0,
                        max(-rest_w, 0.0),
                        SUBSTEP_S / steps,
                        params,
                        np.inf,
                        0.0,
                    )
                    soc = result[0]
                    unserved_w += result[4] / steps
                rates.gain[engine, level, node] = soc - SOC_GRID[node]
                rates.unserved_w[engine, level, node] = unserved_w


@njit(cache=True)
def _read(table, place, soc):  # type: ignore[no-untyped-def]
    """Return a table (level, soc) read linearly in both, at a place among its levels."""
    level = cell_of(place, table.shape[0] - 1)
    level_part = place - level
    at = soc * (table.shape[1] - 1)
    node = cell_of(at, table.shape[1] - 1)
    part = at - node
    under = (1.0 - part) * table[level, node] + part * table[level, node + 1]
    over = (1.0 - part) * table[level + 1, node] + part * table[level + 1, node + 1]
    return (1.0 - level_part) * under + level_part * over


@njit(cache=True)
def advance(rates, net_w, charging_w, soc):  # type: ignore[no-untyped-def]
    """Return SOC gained and power unserved over a substep; one partly under way mixes engine stopped and running."""
    share = charging_w / rates.alternator_w if charging_w > 0.0 else 0.0
    place = (net_w + charging_w - rates.low_w) / rates.step_w
    gain, unserved_w = 0.0, 0.0
    if share < 1.0:
        gain += (1.0 - share) * _read(rates.gain[0], place, soc)
        unserved_w += (1.0 - share) * _read(rates.unserved_w[0], place, soc)
    if share > 0.0:
        gain += share * _read(rates.gain[1], place, soc)
        unserved_w += share * _read(rates.unserved_w[1], place, soc)
    return gain, unserved_w
