"""Panels as planes, and the points on them at which light is asked for: a rank-1 lattice, so that no edge aliases.

A grid of n points in rows resolves a shadow edge along its rows to one part in sqrt(n); a lattice whose points all
differ in both coordinates resolves it to one part in n (Sloan and Joe, Lattice Methods for Multiple Integration,
1994). The points still lie on few parallel lines, which the shade kernel fills as rows.
"""

from __future__ import annotations

from math import gcd, sqrt
from typing import Literal, NamedTuple

import numpy as np

from planner.domain.arrays import Floats, Ints

GOLDEN_SECTION = (sqrt(5.0) - 1.0) / 2.0  # 1
MOST_PLACES = 63  # along a row, one bit of a word each


class Points(NamedTuple):
    """Sample points of one panel.

    Attributes
    ----------
    along : array (point, 2)
        Place along length and width [0..1].
    strip : array (point,)
        Index of the substring that holds each.
    row, place : array (point,)
        Row and place along it, from 0; a row has at most 63 places.
    to_row : array (2, 3)
        Affine map from (x, y, 1) in the panel's plane [m] to (place, row).
    """

    along: Floats
    strip: Ints
    row: Ints
    place: Ints
    to_row: Floats


def panel_axes(tilt_deg: float, tilt_toward_deg: float) -> Floats:
    """Return a panel's axes: the deck's x, y and z turned about the level line across the bearing it looks toward.

    Parameters
    ----------
    tilt_deg : float
        Angle of the face from the deck plane [degree].
    tilt_toward_deg : float
        Relative bearing that the face looks toward: 0 bow, 90 starboard, 180 stern [degree].

    Returns
    -------
    array (3, 3)
        Rows: along the length, along the width, out of the face, in the boat frame [1].
    """
    tilt, toward = np.radians(tilt_deg), np.radians(tilt_toward_deg)
    pivot = np.array([np.sin(toward), np.cos(toward), 0.0])  # up x toward
    cross = np.array([[0.0, 0.0, pivot[1]], [0.0, 0.0, -pivot[0]], [-pivot[1], pivot[0], 0.0]])
    turn = np.eye(3) + np.sin(tilt) * cross + (1.0 - np.cos(tilt)) * (cross @ cross)  # Rodrigues' formula
    return np.asarray(turn.T, dtype=np.float64)


def point_count(points: int, strips: int) -> int:
    """Return the multiple of the number of substrings nearest to the points asked for, at least one each [1]."""
    return strips * max(1, int(points / strips + 0.5))


def multiplier(count: int) -> int:
    """Return the lattice's multiplier for n points: the one nearest to n times the golden section.

    The golden section is the ratio that fractions approximate worst, so that no short step of the lattice lies nearly
    along either side of a panel, whatever its shape (Niederreiter, Random Number Generation and Quasi-Monte Carlo
    Methods, 1992, recalled).

    Parameters
    ----------
    count : int
        Points, n [1]; the multiplier shares no factor with it, so that both coordinates take n values.
    """
    wanted = count * GOLDEN_SECTION
    free = [candidate for candidate in range(1, count + 1) if gcd(candidate, count) == 1]
    return min(free, key=lambda candidate: (abs(candidate - wanted), candidate))


def sample_points(
    length_m: float, width_m: float, *, points: int, strips: int, across: Literal["length", "width"]
) -> Points:
    """Return the points of one panel: point i of n lies at (i + 1/2)/n along and ((g i mod n) + 1/2)/n across.

    Parameters
    ----------
    length_m, width_m : float
        Size of the panel [m].
    points : int
        How many are wanted [1]; ``point_count`` makes the substrings' shares equal.
    strips : int
        Substrings.
    across : {'length', 'width'}
        The side that the substrings divide.

    Raises
    ------
    ValueError
        When a row would have more places than a word has bits.
    """
    count = point_count(points, strips)
    factor = multiplier(count)
    index = np.arange(count)
    whole = np.stack([index, factor * index % count], axis=1)  # lattice coordinates, integer
    strip = whole[:, 0 if across == "length" else 1] * strips // count
    row_step, place_step = _basis(factor, count)
    # a point is place * row_step + row * place_step, by Cramer's rule with a determinant of n
    row = (row_step[0] * whole[:, 1] - row_step[1] * whole[:, 0]) // count
    place = (whole[:, 0] * place_step[1] - whole[:, 1] * place_step[0]) // count
    first_row, first_place = int(row.min()), int(place.min())
    if place.max() - first_place >= MOST_PLACES:
        raise ValueError(f"{count} points on {length_m} m x {width_m} m: a row would have over {MOST_PLACES} places")
    scale = np.array([[count / length_m, 0.0, count / 2 - 0.5], [0.0, count / width_m, count / 2 - 0.5]])
    inverse = np.array([[place_step[1], -place_step[0]], [-row_step[1], row_step[0]]]) / count
    to_row = inverse @ scale - np.array([[0.0, 0.0, first_place], [0.0, 0.0, first_row]])
    return Points((whole + 0.5) / count, strip, row - first_row, place - first_place, to_row)


def _basis(factor: int, count: int) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the lattice vector with the fewest rows across it, and a short one that completes a basis."""
    x = np.repeat(np.arange(-count, count + 1), 3)
    y = factor * x % count + np.tile([-count, 0, count], 2 * count + 1)
    size = np.abs(x) + np.abs(y)  # rows that cross a square of side n
    order = np.lexsort((y, x, np.where(size == 0, np.iinfo(np.int64).max, size)))
    first = (int(x[order[0]]), int(y[order[0]]))
    completes = np.flatnonzero(first[0] * y - first[1] * x == count)
    chosen = completes[np.argmin(size[completes])]
    return first, (int(x[chosen]), int(y[chosen]))
