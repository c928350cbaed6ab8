"""An alternator that gives less as it warms, under a regulator's limit."""

from __future__ import annotations

import math


def mean_output_a(*, cold_a: float, hot_a: float, limit_a: float, warm_up_min: float, run_min: float) -> float:
    """Return the mean output over a run begun cold.

    Output falls as ``hot + (cold - hot) exp(-t / warm_up)``, the first-order warming of a machine (common practice),
    and the regulator cuts it at its limit.

    Parameters
    ----------
    cold_a, hot_a : float
        Output cold and once hot, ``hot_a`` not above ``cold_a`` [A].
    limit_a : float
        Of the regulator; may be infinite [A].
    warm_up_min : float
        Time constant; 0 is hot from the start [min].
    run_min : float
        Length of the run, above 0; infinite gives the hot output [min].

    Returns
    -------
    float
        [A].
    """
    held_a = min(limit_a, cold_a)
    if held_a <= hot_a:
        return held_a
    if warm_up_min == 0.0 or math.isinf(run_min):
        return hot_a
    held_min = min(warm_up_min * math.log((cold_a - hot_a) / (held_a - hot_a)), run_min)
    decayed = math.exp(-held_min / warm_up_min) - math.exp(-run_min / warm_up_min)
    falling_a_min = hot_a * (run_min - held_min) + (cold_a - hot_a) * warm_up_min * decayed
    return (held_a * held_min + falling_a_min) / run_min
