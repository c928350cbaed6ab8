"""Panels as planes, and the points on them at which light is asked for: a rank-1 lattice, so that no edge aliases.

A grid of n points in rows resolves a shadow edge along its rows to one part in sqrt(n); a lattice whose points all
differ in both coordinates resolves it to one part in n (Sloan and Joe, Lattice Methods for Multiple Integration,
1994). The points still lie on few parallel lines, which the shade kernel fills as rows.
"""

from __future__ import annotations

from math import gcd, sqrt
from typing import Final, NamedTuple

import numpy as np

from planner.domain.arrays import Floats, Ints

GOLDEN_SECTION = (sqrt(5.0) - 1.0) / 2.0  # 1
MOST_PLACES: Final = 63  # along a row, one bit of a word each
MOST_POINTS: Final = 2112  # on a panel; some larger numbers have rows of over 63 places either way


class Points(NamedTuple):
    """Sample points of one panel.

    Attributes
    ----------
    along : array (point, 2)
        Place along length and width [0..1].
    patch : array (point,)
        Index of the patch of the panel that holds each.
    row, place : array (point,)
        Row and place along it, from 0; a row has at most 63 places.
    to_row : array (2, 3)
        Affine map from (x, y, 1) in the panel's plane [m] to (place, row).
    """

    along: Floats
    patch: Ints
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


def sample_points(length_m: float, width_m: float, *, points: int, places: Ints) -> Points:
    """Return the points of one panel: point i of n lies at (i + 1/2)/n along and ((g i mod n) + 1/2)/n across.

    Parameters
    ----------
    length_m, width_m : float
        Size of the panel [m].
    points : int
        How many are wanted on each patch [1]; fewer where that makes over ``MOST_POINTS``.
    places : int array (patch, 2)
        Place of each patch along the length and across the width, from 0, in a grid that covers the panel.

    Raises
    ------
    ValueError
        When a row would have more places than a word has bits, or a patch no point.
    """
    along, beside = (int(side) for side in places.max(axis=0) + 1)
    patches = np.empty((along, beside), dtype=np.int64)
    patches[places[:, 0], places[:, 1]] = np.arange(len(places))
    count = min(points * len(places), max(MOST_POINTS, len(places)))
    factor = multiplier(count)
    index = np.arange(count)
    whole = np.stack([index, factor * index % count], axis=1)  # lattice coordinates, integer
    patch = patches[whole[:, 0] * along // count, whole[:, 1] * beside // count]
    if len(np.unique(patch)) < len(places):
        raise ValueError(f"{count} points leave some of {len(places)} patches without one")
    row_step, place_step = _basis(factor, count)
    if abs(place_step[0]) + abs(place_step[1]) > MOST_PLACES:  # as many places has a row; the rows are fewer
        row_step, place_step = place_step, (-row_step[0], -row_step[1])
    # a point is place * row_step + row * place_step, by Cramer's rule with a determinant of n
    row = (row_step[0] * whole[:, 1] - row_step[1] * whole[:, 0]) // count
    place = (whole[:, 0] * place_step[1] - whole[:, 1] * place_step[0]) // count
    first_row, first_place = int(row.min()), int(place.min())
    if place.max() - first_place >= MOST_PLACES:
        raise ValueError(f"{count} points on {length_m} m x {width_m} m: a row would have over {MOST_PLACES} places")
    scale = np.array([[count / length_m, 0.0, count / 2 - 0.5], [0.0, count / width_m, count / 2 - 0.5]])
    inverse = np.array([[place_step[1], -place_step[0]], [-row_step[1], row_step[0]]]) / count
    to_row = inverse @ scale - np.array([[0.0, 0.0, first_place], [0.0, 0.0, first_row]])
    return Points((whole + 0.5) / count, patch, row - first_row, place - first_place, to_row)


def middle_points(length_m: float, width_m: float, *, places: Ints) -> Points:
    """Return one point in the middle of each patch of a panel [0..1]; as for ``sample_points``."""
    along, beside = (int(side) for side in places.max(axis=0) + 1)
    upright = beside > along  # the longer side of the grid is that of the places
    row, place = (places[:, 0], places[:, 1]) if upright else (places[:, 1], places[:, 0])
    if place.max() >= MOST_PLACES:
        raise ValueError(f"a grid of {along} by {beside} patches has over {MOST_PLACES} of them in a row")
    by_length = np.array([along / length_m, 0.0, along / 2 - 0.5])
    by_width = np.array([0.0, beside / width_m, beside / 2 - 0.5])
    to_row = np.stack([by_width, by_length] if upright else [by_length, by_width])
    return Points((places + 0.5) / (along, beside), np.arange(len(places)), row, place, to_row)


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
