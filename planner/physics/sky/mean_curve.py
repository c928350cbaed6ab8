"""A smooth curve through means over spans that follow each other: each span's weighted mean comes out as it was."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.domain.arrays import Floats

LEAST_BULGE = 0.25  # 1, weighted mean of the bulge below which a span stays flat: its light is at one end
LOWEST, HIGHEST = 0.6, 1.4  # 1, of the least and the most of a span and its neighbours: how far a curve may go
PLACES = np.linspace(0.0, 1.0, 9)  # 1, where a span's curve is compared with these bounds


class Weights(NamedTuple):
    """Weighted means over each span of the curve's three parts.

    Attributes
    ----------
    falling, rising, bulge : array (..., span)
        Of 1 - s, s and 4 s (1 - s), with s from 0 to 1 over the span [0..1].
    """

    falling: Floats
    rising: Floats
    bulge: Floats


class Curve(NamedTuple):
    """Over each span: start (1 - s) + end s + bulge 4 s (1 - s).

    Attributes
    ----------
    start, end, bulge : array (..., span)
        In the units of the means.
    """

    start: Floats
    end: Floats
    bulge: Floats


def curve_through(means: Floats, weights: Weights) -> Curve:
    """Return the curve whose weighted mean over each span is the one given.

    Spans meet half way between their means; a bulge makes up what the straight line misses. Where that would go far
    beyond the neighbours' means, all departures from the mean shrink alike, which keeps the mean.

    Parameters
    ----------
    means : array (..., span)
        Not negative [any].
    weights : Weights
        Broadcast against the means.

    Returns
    -------
    Curve
        In the shape of means and weights together.
    """
    before = np.concatenate([means[..., :1], means[..., :-1]], axis=-1)
    after = np.concatenate([means[..., 1:], means[..., -1:]], axis=-1)
    start, end = 0.5 * (before + means) - means, 0.5 * (after + means) - means
    missed = -(start * weights.falling + end * weights.rising)
    bent = weights.bulge >= LEAST_BULGE
    bulge = np.where(bent, missed / np.where(bent, weights.bulge, 1.0), 0.0)
    start, end = np.where(bent, start, 0.0), np.where(bent, end, 0.0)
    low = LOWEST * np.minimum(np.minimum(before, after), means) - means
    high = HIGHEST * np.maximum(np.maximum(before, after), means) - means
    keep = np.ones(np.broadcast_shapes(means.shape, bulge.shape))
    for place in PLACES:
        departure = start * (1.0 - place) + end * place + bulge * 4.0 * place * (1.0 - place)
        bound = np.where(departure < 0.0, low, high)
        beyond = np.abs(departure) > np.abs(bound)
        keep = np.where(beyond, np.minimum(keep, bound / np.where(beyond, departure, 1.0)), keep)
    return Curve(means + keep * start, means + keep * end, keep * bulge)
