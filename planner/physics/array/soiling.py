"""Dirt and salt on panels: so much a day, up to a limit, until rain or a wash takes it off."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

RAIN_HOURS = 24.0  # h, over which rain adds up to a wash: Kimber et al. 2006, doi:10.1109/WCPEC.2006.279690


def soiled_fraction(
    start: npt.ArrayLike,
    rain_mm_h: npt.ArrayLike,
    *,
    step_h: float,
    per_day: float,
    at_most: float,
    rain_cleans_mm: float,
    left_after: float,
    wash_every_days: float,
) -> Floats:
    """Return the part of the light that dirt and salt take at the start of each step.

    Kimber et al. 2006, doi:10.1109/WCPEC.2006.279690, without its days of grace after rain: spray does not wait.

    Parameters
    ----------
    start : array_like (panel,)
        At the start of the first step [0..1]; a panel dirtier than ``at_most`` grows no dirtier.
    rain_mm_h : array_like (member, time)
        Mean over each step [mm/h].
    step_h : float
        Step [h].
    per_day : float
        Added in a day without rain [1/d].
    at_most : float
        Where it ends [0..1].
    rain_cleans_mm : float
        Rain in 24 hours that washes the panels [mm].
    left_after : float
        What rain or a wash leaves [0..1].
    wash_every_days : float
        Days between the crew's washes, counted from the first step; infinite for none [d].

    Returns
    -------
    array (member, time, panel)
        [0..1].
    """
    begun = np.asarray(start, dtype=np.float64)
    rain = np.asarray(rain_mm_h, dtype=np.float64)
    members, steps = rain.shape
    depth = np.concatenate([np.zeros((members, 1)), np.cumsum(rain * step_h, axis=1)], axis=1)
    window = max(round(RAIN_HOURS / step_h), 1)
    fallen = depth[:, 1:] - depth[:, np.maximum(np.arange(1, steps + 1) - window, 0)]
    washes = fallen >= rain_cleans_mm
    # The sum of many steps may miss a whole day by rounding.
    washed_by_crew = np.diff(np.floor(np.arange(steps + 1) * step_h / (24.0 * wash_every_days) + 1e-9)) > 0.0
    washes |= washed_by_crew
    growth = per_day * step_h / 24.0
    limit = np.maximum(begun, at_most)
    soiled = np.empty((members, steps, begun.size))
    now = np.broadcast_to(begun, (members, begun.size))
    for step in range(steps):
        soiled[:, step] = now
        now = np.minimum(now + growth, limit)
        now = np.where(washes[:, step, None], np.minimum(now, left_after), now)
    return soiled
