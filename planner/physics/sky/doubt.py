"""How wrong a forecast may be: a single run's light and wind, a bulletin's, and the spread an ensemble lacks.

Light is moved on a scale that keeps the clear-sky index between none and the brightest, ln(k / (brightest - k)): a
half-clouded sky can turn out far brighter or darker, a clear or an overcast one less so. There a forecast is trusted
the less the older it is: so much of its distance from what is usual is kept, and what is lost of it comes back as an
error, so that in the end its outcomes lie as days of the season do.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.domain.arrays import Floats

# 1, clear-sky index that no day exceeds by much: 4 days in 1,000 of TAO's at 0 N 140 W (scripts/score_run.py)
BRIGHTEST: Final = 1.06
BRIGHTEST_HOUR: Final = 1.2  # 1, that no hour exceeds by much: to it an ensemble's members are set apart
EDGE: Final = 0.02  # 1, how near the ends of the scale an index counts
# 1, standard deviation of a month's days on the scale: 0.9 near the equator to 1.5 in 60 degrees by MERRA-2
# (scripts/make_clearness.py), 0.8 by TAO at 0 N 140 W, 1.1 by 197 measured days of TMY2 12839
CLIMATE_SPREAD: Final = 1.1
# Correlations of a run's light with what comes. At once: 12 % of a half-clouded day's light are then in doubt, as
# published day-ahead errors of global models have it (20 to 35 % of an hour's; Perez et al. 2013, Solar Energy 94,
# 305-326; recalled). scripts/score_run.py prints how the decay scores on runs and days that it was not chosen on.
RUN_AT_ONCE: Final = 0.90  # 1
TRUST_DECAYS_H: Final = 170.0  # h, over which trust falls to 1/e
# A bulletin's words, half of them one off: on days of two stations, the light of one half fitted on the other, they
# score best at 0.60 to 0.65, and p10 to p90 then hold 79 % of the days: 70 % of the one station's, which come out
# some 9 % brighter than said, 87 % of the other's (scripts/fit_words.py). Trust in them ages like a run's.
HAND_AT_ONCE: Final = 0.65  # 1
MEMORY_H: Final = 48.0  # h, over which an error of the light falls to 1/e; TAO's days: 0.53, 0.38, 0.37 after 1 to 3
# A wind's error, east and north each: what global models usually miss by; generic, not fitted (recalled).
WIND_AT_ONCE_M_S: Final = 1.0  # m/s
WIND_AT_LAST_M_S: Final = 4.5  # m/s
WIND_GROWS_OVER_H: Final = 100.0  # h
WIND_MEMORY_H: Final = 30.0  # h
# An ensemble's: a margin, by judgement. On GEFS 2019-05-15 against GFS at a quarter degree, matched in clear
# weather, p10 to p90 of a day's energy hold 73 % of the days as the members come, as much as those of a perfect
# ensemble of 21 would, and 87 % set apart so, at a score of 3.4 % of the mean instead of 3.3 %; fits on half of the
# days leave the factor at 1 (scripts/score_ensemble.py). But that truth is a model's, which shares the analysis and
# habits; global ensembles are known to scatter too little in light (recalled), and fifteen days of one run at one
# place settle no more.
SPREAD_FACTOR: Final = 1.3  # 1
LEAST_SPREAD: Final = 0.3  # 1, standard deviation on the scale
MOST_FACTOR: Final = 3.0  # 1, so that members that agree but for rounding are not torn apart


def run_trust(lead_h: Floats) -> Floats:
    """Return how much of a single run's light is kept, by its age at the hour in question.

    Parameters
    ----------
    lead_h : array (...)
        Hours since the forecast began [h].

    Returns
    -------
    array (...)
        Of its distance from what is usual, on the scale of this module [0..1].
    """
    trust: Floats = RUN_AT_ONCE * np.exp(-np.maximum(lead_h, 0.0) / TRUST_DECAYS_H)
    return trust


def hand_trust(lead_h: Floats) -> Floats:
    """Return how much of the light of weather typed by hand is kept, by the bulletin's age at the hour.

    Parameters
    ----------
    lead_h : array (...)
        Hours since the bulletin [h].

    Returns
    -------
    array (...)
        Of its distance from what is usual, on the scale of this module [0..1].
    """
    return HAND_AT_ONCE / RUN_AT_ONCE * run_trust(lead_h)


def deviation_at(trust: Floats) -> Floats:
    """Return the standard deviation of the error that goes with a trust, in its shape, on this module's scale [1]."""
    deviation: Floats = CLIMATE_SPREAD * np.sqrt(1.0 - trust**2)
    return deviation


def wind_error_m_s(lead_h: Floats) -> Floats:
    """Return the standard deviation of a forecast wind's error, east and north each, by its age.

    Parameters
    ----------
    lead_h : array (...)
        Hours since the forecast began, or since the bulletin was heard [h].

    Returns
    -------
    array (...)
        [m/s].
    """
    grown: Floats = np.clip(lead_h / WIND_GROWS_OVER_H, 0.0, 1.0)
    return WIND_AT_ONCE_M_S + (WIND_AT_LAST_M_S - WIND_AT_ONCE_M_S) * grown


def correlated_errors(
    time_h: Floats, deviation: Floats, outcomes: int, rng: np.random.Generator, *, memory_h: float = MEMORY_H
) -> Floats:
    """Return errors that remember themselves for a while, in pairs that mirror each other.

    Parameters
    ----------
    time_h : array (n,)
        Rising [h].
    deviation : array (n,) or (outcomes, n)
        Standard deviation at each time, of all series or of each [any].
    outcomes : int
        How many series; of an odd number the last one has no mirror.
    rng : numpy.random.Generator
        Of the draws.
    memory_h : float
        Over which an error falls to 1/e [h].

    Returns
    -------
    array (outcomes, n)
        In the deviation's units.
    """
    half = (outcomes + 1) // 2
    fresh = rng.standard_normal((half, time_h.size))
    keep = np.exp(-np.diff(time_h, prepend=time_h[0]) / memory_h)
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
    scaled = on_scale(index, brightest=BRIGHTEST_HOUR)
    middle = scaled.mean(axis=0)
    spread = scaled.std(axis=0, ddof=1)
    lacking = np.minimum(least / np.maximum(spread, 1e-9), MOST_FACTOR)
    apart = middle + np.maximum(factor, lacking) * (scaled - middle)
    # by as much as the place on the scale moves; exactly itself where that does not
    step = BRIGHTEST_HOUR / (1.0 + np.exp(-apart)) - BRIGHTEST_HOUR / (1.0 + np.exp(-scaled))
    moved: Floats = np.maximum(index + step, 0.0)
    return moved


def moved_by(index: Floats, trust: Floats, usual: Floats, error: Floats) -> Floats:
    """Return indices of which so much as is trusted is kept, the rest being as usual, with errors added.

    Parameters
    ----------
    index : array (..., n)
        Clear-sky index as forecast [1].
    trust : array (..., n)
        [0..1].
    usual : array (..., n)
        What is usual there, on this module's scale [1].
    error : array (..., n)
        On this module's scale [1].

    Returns
    -------
    array (..., n)
        [1]. Exactly the index where all of it is trusted and nothing is added; where something is, it is moved by as
        much as its place on the scale.
    """
    scaled = on_scale(index)
    doubted = off_scale(usual + trust * (scaled - usual) + error)
    trusted = np.maximum(index + (off_scale(scaled + error) - off_scale(scaled)), 0.0)
    return np.asarray(np.where(trust < 1.0, doubted, trusted), dtype=np.float64)


def lasting_error(seen: Floats, *, ago_h: Floats, deviation: Floats, noise: Floats, in_common: float) -> float:
    """Return what past errors of a forecast's light let expect of its error now.

    Parameters
    ----------
    seen : array (day,)
        Light found less forecast, on this module's scale [1].
    ago_h : array (day,)
        How long ago [h].
    deviation : array (day,)
        Standard deviation of a forecast's error then [1].
    noise : array (day,)
        Standard deviation of each figure, on this scale [1].
    in_common : float
        Standard deviation of what all figures err by together, over ``deviation`` [1].

    Returns
    -------
    float
        On this module's scale [1]: the mean of a normal process that forgets over ``MEMORY_H``, given the figures
        (Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, eq. 2.23). It forgets on from there.
    """
    apart = np.exp(-np.abs(ago_h[:, None] - ago_h) / MEMORY_H) + in_common**2 + np.diag((noise / deviation) ** 2)
    weight = np.linalg.solve(apart, np.exp(-ago_h / MEMORY_H))
    return float(weight @ (seen / deviation) * deviation[np.argmin(ago_h)])


def usual_at(clearness: Floats) -> Floats:
    """Return where the middle of days lies on this module's scale whose mean clear-sky index is given.

    Parameters
    ----------
    clearness : array (...)
        Mean clear-sky index of a climate's days [1].

    Returns
    -------
    array (...)
        [1]. Days scatter about it by ``CLIMATE_SPREAD``; their mean index is what a normal's mean under the logistic
        curve is by its usual approximation (MacKay 1992, Neural Computation 4, 720-736, eq. 10).
    """
    return float(np.sqrt(1.0 + np.pi * CLIMATE_SPREAD**2 / 8.0)) * on_scale(clearness)


def off_scale(scaled: Floats) -> Floats:
    """Return clear-sky indices from their places on this module's scale [1]."""
    index: Floats = BRIGHTEST / (1.0 + np.exp(-scaled))
    return index


def on_scale(index: Floats, *, brightest: float = BRIGHTEST) -> Floats:
    """Return indices on this module's scale.

    Parameters
    ----------
    index : array (...)
        Clear-sky index [1].
    brightest : float
        Where the scale ends [1].

    Returns
    -------
    array (...)
        [1].
    """
    inside = np.clip(index, EDGE, brightest - EDGE)
    scaled: Floats = np.log(inside / (brightest - inside))
    return scaled
