"""How wrong the light of a forecast may be: a single run's error, a bulletin's, and the spread an ensemble lacks.

Errors are added on a scale that keeps the clear-sky index between none and the brightest, ln(k / (brightest - k)): a
half-clouded sky can turn out far brighter or darker, a clear or an overcast one less so.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.domain.arrays import Floats

BRIGHTEST: Final = 1.2  # 1, clear-sky index that no hour exceeds by much
EDGE: Final = 0.02  # 1, how near the ends of the scale an index counts
# Standard deviations on the scale. Growth and memory follow the spread of GEFS 2019-05-15 over 15 days (daily 0.1 at
# first, 0.6 from the fifth day; 0.35 from day to day); its start is set by published day-ahead errors of hourly
# irradiance from global models, some 20 to 35 % (Perez et al. 2013, Solar Energy 94, 305-326; recalled).
AT_ONCE: Final = 0.35  # 1
AT_LAST: Final = 0.80  # 1
GROWS_OVER_H: Final = 60.0  # h
MEMORY_H: Final = 24.0  # h, over which an error falls to 1/e
# A bulletin's: on 197 measured days of TMY2 12839 a day's light errs by 0.47 from what the right word for its cloud
# says (clear, few, scattered, broken, overcast), by 0.78 where the word is the next one, and by 0.82 where it is that
# of another day of its month; a day's mean of these errors is 0.94 of an hour's. It ages like a run.
BY_HAND_AT_ONCE: Final = 0.50  # 1
BY_HAND_AT_LAST: Final = 0.87  # 1
# An ensemble's: on GEFS 2019-05-15 these lift the daily energy's p10 to p90 from 47 % to 60 % coverage, and that of
# three days from 62 % to 77 %, against GFS at a quarter degree matched in clear weather, at a score no worse. Fifteen
# days of one run at one place settle no more: the score is flat about these (scripts/score_ensemble.py).
SPREAD_FACTOR: Final = 1.3  # 1
LEAST_SPREAD: Final = 0.3  # 1, standard deviation on the scale
MOST_FACTOR: Final = 3.0  # 1, so that members that agree but for rounding are not torn apart


def run_error(lead_h: Floats) -> Floats:
    """Return the standard deviation of a single run's error, by its age at the hour in question.

    Parameters
    ----------
    lead_h : array (n,)
        Hours since the forecast began [h].

    Returns
    -------
    array (n,)
        On the scale of this module [1].
    """
    return _grown(lead_h, AT_ONCE, AT_LAST)


def hand_error(lead_h: Floats) -> Floats:
    """Return the standard deviation of the error of weather typed by hand, by the bulletin's age at the hour.

    Parameters
    ----------
    lead_h : array (...)
        Hours since the bulletin [h].

    Returns
    -------
    array (...)
        On the scale of this module [1].
    """
    return _grown(lead_h, BY_HAND_AT_ONCE, BY_HAND_AT_LAST)


def _grown(lead_h: Floats, at_once: float, at_last: float) -> Floats:
    lead = np.maximum(lead_h, 0.0)
    return at_once + (at_last - at_once) * (1.0 - np.exp(-lead / GROWS_OVER_H))


def correlated_errors(time_h: Floats, deviation: Floats, outcomes: int, rng: np.random.Generator) -> Floats:
    """Return errors that remember themselves for a day or so, in pairs that mirror each other.

    Parameters
    ----------
    time_h : array (n,)
        Rising [h].
    deviation : array (n,) or (outcomes, n)
        Standard deviation at each time, of all series or of each [1].
    outcomes : int
        How many series; of an odd number the last one has no mirror.
    rng : numpy.random.Generator
        Of the draws.

    Returns
    -------
    array (outcomes, n)
        On the scale of this module [1].
    """
    half = (outcomes + 1) // 2
    fresh = rng.standard_normal((half, time_h.size))
    keep = np.exp(-np.diff(time_h, prepend=time_h[0]) / MEMORY_H)
    series = np.empty_like(fresh)
    series[:, 0] = fresh[:, 0]
    for i in range(1, time_h.size):
        series[:, i] = keep[i] * series[:, i - 1] + np.sqrt(1.0 - keep[i] ** 2) * fresh[:, i]
    both = np.empty((2 * half, time_h.size))
    both[0::2], both[1::2] = series, -series
    return both[:outcomes] * deviation


def spread_out(index: Floats, *, factor: float = SPREAD_FACTOR, least: float = LEAST_SPREAD) -> Floats:
    """Return an ensemble's indices set further apart where they lie too close, their order kept.

    Parameters
    ----------
    index : array (outcome, n)
        Clear-sky index, two outcomes at least [1].
    factor : float
        By which all are set apart [1].
    least : float
        Standard deviation on this module's scale that they get at least [1].

    Returns
    -------
    array (outcome, n)
        [1].
    """
    scaled = on_scale(index)
    middle = scaled.mean(axis=0)
    spread = scaled.std(axis=0, ddof=1)
    lacking = np.minimum(least / np.maximum(spread, 1e-9), MOST_FACTOR)
    return _moved(index, scaled, middle + np.maximum(factor, lacking) * (scaled - middle))


def moved_by(index: Floats, error: Floats) -> Floats:
    """Return indices with errors added on this module's scale.

    Parameters
    ----------
    index, error : array (..., n)
        Broadcast against each other [1].

    Returns
    -------
    array (..., n)
        [1].
    """
    scaled = on_scale(index)
    return _moved(index, scaled, scaled + error)


def on_scale(index: Floats) -> Floats:
    """Return indices on this module's scale.

    Parameters
    ----------
    index : array (...)
        Clear-sky index [1].

    Returns
    -------
    array (...)
        [1].
    """
    inside = np.clip(index, EDGE, BRIGHTEST - EDGE)
    scaled: Floats = np.log(inside / (BRIGHTEST - inside))
    return scaled


def _moved(index: Floats, before: Floats, after: Floats) -> Floats:
    """Return an index moved as its place on the scale was; exactly itself where that was not."""
    step = BRIGHTEST / (1.0 + np.exp(-after)) - BRIGHTEST / (1.0 + np.exp(-before))
    return np.maximum(index + step, 0.0)
