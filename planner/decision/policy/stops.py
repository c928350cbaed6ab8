"""Where a run stops paying: the reading at which a crew ends it, whatever minutes are left."""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.decision.policy.card import Card
from planner.domain.arrays import Floats

HALF_HOUR_MIN: Final = 30.0  # min
LEAST_COUNT: Final = 1e-9  # 1, of an epoch before which all have arrived, so that a ladder of its own has a stop
WORTH: Final = 0.7  # 1, a further half hour must save so much of itself later; below, sun may do it (tried 0.5 to 1)


def stop_socs(value: Floats, card: Card, half_hour_gain: Floats, *, at_sea: Floats, min_run_min: int) -> Floats:
    """Return for each ladder the SOC from which no further half hour of charging is worth its while.

    Parameters
    ----------
    value : float array (epoch + 1, soc)
        Expected cost from the start of each epoch on, on whole percents [min].
    card : Card
        The stop leaves room for a shortest run from every reading at which a ladder asks for one.
    half_hour_gain : float array (soc,)
        SOC that half an hour of alternator adds [0..1].
    at_sea : float array (epoch,)
        Share of the members at sea, by which the epochs of a ladder count [0..1].
    min_run_min : int
        Shortest run [min].

    Returns
    -------
    float array (ladder,)
        Whole percents [0..1].
    """
    ladders, nodes = card.minutes.shape
    grid = np.linspace(0.0, 1.0, nodes)
    later = np.minimum(grid + half_hour_gain, 1.0)
    stops = np.ones(ladders)
    for ladder, minutes in enumerate(card.minutes):
        counts = np.where(card.of_epoch == ladder, np.maximum(at_sea, LEAST_COUNT), 0.0)
        cost = counts @ value[1:] / max(counts.sum(), LEAST_COUNT)
        worth = cost - np.interp(later, grid, cost) >= WORTH * HALF_HOUR_MIN
        above = int(np.flatnonzero(worth).max(initial=-1)) + 1
        running = np.flatnonzero(minutes)
        if running.size:
            top = running[-1]
            shortest_run = grid[top] + half_hour_gain[top] * min_run_min / HALF_HOUR_MIN
            above = max(above, int(np.ceil(shortest_run * (nodes - 1))))
        stops[ladder] = grid[min(above, nodes - 1)]
    return stops
