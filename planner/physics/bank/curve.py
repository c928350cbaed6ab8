"""The rest voltage of a bank: a table over state of charge, read, integrated and met on its straight lines."""

from __future__ import annotations

import numpy as np

from planner.domain.arrays import Floats
from planner.physics.frames import cell_of
from planner.physics.kernels import in_every_step


@in_every_step
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
    cell = cell_of(place, cells)
    return float(table[cell] + (table[cell + 1] - table[cell]) * (place - cell))


@in_every_step
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
    first, last = cell_of(low * cells, cells), cell_of(high * cells, cells)
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


@in_every_step
def mean_rest_v(open_circuit_v: Floats, soc_from: float, soc_to: float) -> float:
    """Return the mean rest voltage between two states of charge [V]; at a point where they are equal."""
    if soc_from == soc_to:
        return at_soc(open_circuit_v, soc_from)
    return rest_integral(open_circuit_v, soc_from, soc_to) / (soc_to - soc_from)


@in_every_step
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
    for _ in range(cells + 1):
        if here == toward:
            break
        if rising:
            node = min((np.floor(here * cells + 1e-9) + 1.0) / cells, toward)
        else:
            node = max((np.ceil(here * cells - 1e-9) - 1.0) / cells, toward)
        node_gap = at_soc(open_circuit_v, node) + volts_per_soc * (node - soc) - terminal_v
        if (rising and node_gap >= 0.0) or (not rising and node_gap <= 0.0):
            return float(here + (node - here) * gap / (gap - node_gap))
        here, gap = node, node_gap
    return toward
