"""An alternator that gives less as it warms, under a regulator's limit."""

from __future__ import annotations

import math


def mean_output_a(
    *, cold_a: float, hot_a: float, limit_a: float, warm_up_min: float, until_min: float, from_min: float = 0.0
) -> float:
    """Return the mean output over a part of a run begun cold.

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
    until_min, from_min : float
        End of the part, after its beginning, both since the start; an infinite end gives the hot output [min].

    Returns
    -------
    float
        [A].
    """
    held_a = min(limit_a, cold_a)
    if held_a <= hot_a:
        return held_a
    if warm_up_min == 0.0 or math.isinf(until_min):
        return hot_a
    held_until_min = warm_up_min * math.log((cold_a - hot_a) / (held_a - hot_a))
    falls_min = min(max(held_until_min, from_min), until_min)
    decayed = math.exp(-falls_min / warm_up_min) - math.exp(-until_min / warm_up_min)
    falling_a_min = hot_a * (until_min - falls_min) + (cold_a - hot_a) * warm_up_min * decayed
    return (held_a * (falls_min - from_min) + falling_a_min) / (until_min - from_min)
