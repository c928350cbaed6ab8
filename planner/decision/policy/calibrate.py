"""The margin over the reserve: set on members that the policy has not seen, with the error of a real meter."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Final

import numpy as np

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.results.figures import ReserveKept

FOLDS: Final = 5  # groups of members left out in turn (common practice)
MARGIN_STEP: Final = 0.005  # 1, fineness of the margin
MOST_MARGIN: Final = 0.40  # 1, beyond it the reserve cannot be kept by planning
INTERVAL: Final = 0.90  # 1, coverage of the interval that is reported
ROUNDING: Final = 1e-9  # 1, by which a product of shares may be off


def meter_offsets(members: int, draws: int, *, sd: float, seed: int) -> Floats:
    """Draw the error that each member's meter keeps throughout a passage.

    Parameters
    ----------
    members, draws : int
        Number of members and of errors for each.
    sd : float
        Standard deviation [0..1].
    seed : int
        Of the draw.

    Returns
    -------
    float array (draw, member)
        Each draw holds the normal distribution's evenly spaced quantiles, so that its spread is right even for few
        members, and they move on among the members from draw to draw, so that each member meets low and high ones
        alike [0..1].
    """
    rng = np.random.default_rng(seed)
    normal = NormalDist()
    quantiles = np.array([normal.inv_cdf((k + 0.5) / members) for k in range(members)])
    spread = float(np.sqrt(np.mean(quantiles**2)))
    scaled = quantiles * (sd / spread) if spread > 0.0 else quantiles
    if members == 1:
        return np.array([[sd * normal.inv_cdf((k + 0.5) / draws)] for k in rng.permutation(draws).tolist()])
    rounds = [np.arange(count) * members // count for count in _parts(draws, members)]
    return np.concatenate([scaled[(rng.permutation(members) + moved[:, None]) % members] for moved in rounds])


def _parts(total: int, most: int) -> list[int]:
    """Return a total as parts of at most so many each."""
    return [min(most, total - begun) for begun in range(0, total, most)]


def folds_of(members: int, *, seed: int) -> list[tuple[Ints, Ints]]:
    """Split the members into those planned on and those left out, each member left out once.

    Parameters
    ----------
    members : int
        Two or more.
    seed : int
        Of the shuffle.

    Returns
    -------
    list of (int array, int array)
        Planned on and left out, one pair a fold.
    """
    shuffled = np.random.default_rng(seed).permutation(members)
    parts = np.array_split(shuffled, min(FOLDS, members))
    return [(np.sort(np.setdiff1d(shuffled, part)), np.sort(part)) for part in parts]


def least_margin(kept_share: Callable[[int], float], confidence: float, *, guess: float) -> float:
    """Return the least margin at which, and at one step less and more, the reserve is kept often enough.

    Strides from a guess and bisection find where keeping begins; from there on single steps, until the margin stands
    off an edge.

    Parameters
    ----------
    kept_share : callable
        Share of members that keep the reserve at so many steps of margin [0..1]; about rising.
    confidence : float
        What is asked for [0..1].
    guess : float
        Where to begin [0..1].

    Returns
    -------
    float
        A multiple of ``MARGIN_STEP``; where no margin is enough, the least of those tried that kept most [0..1].
    """
    most = round(MOST_MARGIN / MARGIN_STEP)
    shares: dict[int, float] = {}

    def enough(step: int) -> bool:
        if step not in shares:
            shares[step] = kept_share(step)
        return shares[step] >= confidence

    for step in range(_begins(enough, min(round(guess / MARGIN_STEP), most), most), most + 1):
        if all(enough(near) for near in (step, min(step + 1, most), max(step - 1, 0))):
            return step * MARGIN_STEP
    best = max(shares.values())
    return min(step for step, share in shares.items() if share == best) * MARGIN_STEP


def _begins(enough: Callable[[int], bool], guess: int, most: int) -> int:
    """Return a step that is enough while the one before is not, found from a guess; ``most`` where none is met."""
    stride = 2
    if enough(guess):
        high = guess
        while (low := max(high - stride, 0)) < high and enough(low):
            high, stride = low, 2 * stride
    else:
        low = guess
        while not enough(high := min(low + stride, most)):
            if high == most:
                return most
            low, stride = high, 2 * stride
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def share_told_as_asked(confidence: float, members: int) -> float:
    """Return the least share that, told in whole members, is at least what was asked for.

    Parameters
    ----------
    confidence : float
        What was asked for [0..1].
    members : int
        Of whom it is told.

    Returns
    -------
    float
        The confidence, or more where the nearest whole number of members is less than was asked for [0..1]. Of so
        few members that only all of them are enough, a share that is not told as asked: they cannot show it.
    """
    return max(confidence, (math.ceil(confidence * members - ROUNDING) - 0.5) / members)


def reserve_kept(*trials: Bools, confidence: float) -> ReserveKept:
    """Return how many members keep the reserve, with the Wilson score interval.

    Parameters
    ----------
    *trials : bool array (draw, member)
        Whether each does, with each of its meter's errors; of several trials the one in which the fewest do counts.
    confidence : float
        What was asked for [0..1].

    Returns
    -------
    ReserveKept
        The mean share over the draws in whole members, to the nearest, and all of them only where all do in every
        draw; of a lone member the draws. Interval of 90 % [1]_.

    References
    ----------
    .. [1] E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209-212,
       doi:10.1080/01621459.1927.10502953.
    """
    kept = min(trials, key=np.mean)
    members = kept.shape[1] if kept.shape[1] > 1 else kept.shape[0]
    count = members if kept.all() else min(math.floor(float(kept.mean()) * members + 0.5), members - 1)
    z = NormalDist().inv_cdf(0.5 + 0.5 * INTERVAL)
    share = count / members
    scale = 1.0 + z * z / members
    centre = (share + z * z / (2.0 * members)) / scale
    half = z / scale * math.sqrt(share * (1.0 - share) / members + z * z / (4.0 * members * members))
    return ReserveKept(
        kept=count,
        members=members,
        low=max(0.0, centre - half),
        high=min(1.0, centre + half),
        confidence=confidence,
    )
