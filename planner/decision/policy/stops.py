"""Where a run stops paying: the reading at which a crew ends it, whatever minutes are left."""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.domain.arrays import Floats, Ints

HALF_HOUR_MIN: Final = 30.0  # min
WORTH: Final = 0.7  # 1, a further half hour must save so much of itself later; below, sun may do it (tried 0.5 to 1)


def stop_socs(value: Floats, minutes: Ints, half_hour_gain: Floats, *, min_run_min: int) -> Floats:
    """Return for each epoch the SOC from which no further half hour of charging is worth its while.

    Parameters
    ----------
    value : float array (epoch + 1, soc)
        Expected cost from the start of each epoch on, on whole percents [min].
    minutes : int array (epoch, soc)
        The ladder; the stop leaves room for a shortest run from every reading that asks for one [min].
    half_hour_gain : float array (soc,)
        SOC that half an hour of alternator adds [0..1].
    min_run_min : int
        Shortest run [min].

    Returns
    -------
    float array (epoch,)
        Whole percents [0..1].
    """
    epochs, nodes = minutes.shape
    grid = np.linspace(0.0, 1.0, nodes)
    later = np.minimum(grid + half_hour_gain, 1.0)
    stops = np.ones(epochs)
    for epoch in range(epochs):
        cost = value[epoch + 1]
        worth = cost - np.interp(later, grid, cost) >= WORTH * HALF_HOUR_MIN
        above = int(np.flatnonzero(worth).max(initial=-1)) + 1
        running = np.flatnonzero(minutes[epoch])
        if running.size:
            top = running[-1]
            shortest_run = grid[top] + half_hour_gain[top] * min_run_min / HALF_HOUR_MIN
            above = max(above, int(np.ceil(shortest_run * (nodes - 1))))
        stops[epoch] = grid[min(above, nodes - 1)]
    return stops
