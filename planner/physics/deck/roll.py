"""The roll of a boat in a seaway as a few heel angles, over which power is averaged.

Pitching is left out: 3 degrees of it about the mean move no panel-day by half a percent, as
``scripts/bench_shade_accuracy.py`` shows.
"""

from __future__ import annotations

import numpy as np

from planner.domain.arrays import Floats


def roll_nodes(heel_deg: Floats, amplitude_deg: Floats, *, nodes: int) -> tuple[Floats, Floats]:
    """Return heel angles that stand for a sinusoidal roll about the mean heel, and their weights.

    A boat that rolls as A sin(w t) spends its time over heel as the arcsine law has it, whose Gaussian quadrature
    is Chebyshev's: nodes A cos((2k - 1) pi / 2n), equal weights (Abramowitz and Stegun, 25.4.38, recalled).

    Parameters
    ----------
    heel_deg, amplitude_deg : array (time,)
        Mean heel and amplitude of roll [degree].
    nodes : int
        How many, n >= 1.

    Returns
    -------
    heel_deg : array (time, node)
        Heel at each node [degree].
    weight : array (node,)
        1/n each; they sum to 1.
    """
    swing = np.cos((2.0 * np.arange(1, nodes + 1) - 1.0) * np.pi / (2.0 * nodes))
    heel = np.asarray(heel_deg)[:, None] + np.asarray(amplitude_deg)[:, None] * swing
    return heel, np.full(nodes, 1.0 / nodes)
