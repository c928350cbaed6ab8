"""The standing order: what the crew does near the reserve, however the weather came to leave the forecasts."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from planner.decision.policy.stops import HALF_HOUR_MIN
from planner.decision.policy.table import LEAST_GAIN
from planner.domain.arrays import Bools, Floats
from planner.domain.policy import StandingOrder

LEAST_RISE_PERCENT: Final = 5  # %, by which such a run lifts the meter at least, so that starts stay few


def standing_order(
    half_hour_gain: Floats, possible: Bools, *, reserve_soc: float, meter_error: float, min_run_min: int
) -> StandingOrder | None:
    """Return the standing order of a boat: at the reserve and the meter's error over it, the engine is started.

    Parameters
    ----------
    half_hour_gain : float array (soc,)
        SOC that half an hour of alternator adds [0..1].
    possible : bool array (member, time)
        Steps in which the engine can run.
    reserve_soc, meter_error : float
        Reserve; standard deviation of the meter's error [0..1].
    min_run_min : int
        Shortest run [min].

    Returns
    -------
    StandingOrder or None
        None where no run is worth its start.
    """
    if not possible.any() or half_hour_gain.max() < LEAST_GAIN:
        return None
    start = waking_percent(reserve_soc, meter_error)
    shortest = half_hour_gain[start] * min_run_min / HALF_HOUR_MIN * (half_hour_gain.size - 1)
    return StandingOrder(
        start_percent=start,
        stop_percent=min(start + max(LEAST_RISE_PERCENT, math.ceil(shortest)), half_hour_gain.size - 1),
        allowed=possible,
    )


def waking_percent(reserve_soc: float, meter_error: float) -> int:
    """Return the reading at which the reserve may be reached: with the meter's error over it, rounded up [%]."""
    return int(np.clip(math.ceil(round(100.0 * (reserve_soc + meter_error), 6)), 0, 100))
