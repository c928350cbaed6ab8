"""The watches past the planned arrival: what a boat that is still at sea goes by."""

from __future__ import annotations

import numpy as np

from planner.decision.bill.ladders.watch import rungs
from planner.domain.policy import Policy
from planner.domain.results.bill import LaterWatch
from planner.domain.voyage import Voyage


def later_watches(voyage: Voyage, policy: Policy) -> tuple[LaterWatch, ...]:
    """Return the watches that begin or go on after the arrival of the track that is drawn.

    Parameters
    ----------
    voyage : Voyage
    policy : Policy
        As decided, for as long as any member is at sea.
    """
    return tuple(
        LaterWatch(
            start=voyage.at(max(int(policy.first_step[epoch]), voyage.steps)),
            end=voyage.at(int(policy.end_step[epoch])),
            ladder=rungs(policy.minutes[epoch]),
            stop_percent=round(100.0 * float(policy.stop_soc[epoch])),
        )
        for epoch in np.flatnonzero(policy.end_step > voyage.steps).tolist()
    )
