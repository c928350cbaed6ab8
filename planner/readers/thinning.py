"""Fewer points of a long track: those left out lie near the line of those that stay."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from planner.domain.arrays import Floats
from planner.readers.waypoints import Mark

MOST_LOOKS: Final = 100  # at each point; a track that takes more is halved, lest a zigzag take for ever
NM_PER_RAD: Final = 180.0 * 60.0 / np.pi  # nm/rad, a minute of arc being a mile


def thinned(marks: Sequence[Mark], off_nm: float) -> list[Mark]:
    """Return the points of a track without those that lie near the line of the others.

    Parameters
    ----------
    marks : sequence of Mark
        In order; ends and points with a name stay.
    off_nm : float
        How far one left out may lie off the great circle between its neighbours [nm], on a sphere.

    Returns
    -------
    list of Mark

    References
    ----------
    D. H. Douglas and T. K. Peucker, Algorithms for the reduction of the number of points required to represent a
    digitized line or its caricature, Cartographica 10 (1973), doi:10.3138/FM57-6770-U75U-7727.
    """
    lat, lon = (np.radians([getattr(mark, axis) for mark in marks]) for axis in ("lat", "lon"))
    place = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)
    stays = np.array([bool(mark.name) for mark in marks])
    stays[[0, -1]] = True
    fixed = np.flatnonzero(stays)
    spans = list(zip(fixed[:-1].tolist(), fixed[1:].tolist(), strict=True))
    looked_at = 0
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        off = _off_line_nm(place[first + 1 : last], place[first], place[last])
        looked_at += off.size
        if off.max() > off_nm:
            farthest = int(np.argmax(off)) if looked_at < MOST_LOOKS * len(marks) else off.size // 2
            middle = first + 1 + farthest
            stays[middle] = True
            spans += [(first, middle), (middle, last)]
    return [mark for mark, stay in zip(marks, stays.tolist(), strict=True) if stay]


def _off_line_nm(place: Floats, begin: Floats, end: Floats) -> Floats:
    """Return how far places, (n, 3) unit vectors, lie off the arc from one to another, (n,) [nm]."""
    ends: Floats = np.minimum(np.linalg.norm(place - begin, axis=1), np.linalg.norm(place - end, axis=1))
    normal = np.cross(begin, end)
    size = float(np.linalg.norm(normal))
    if size == 0.0:
        return NM_PER_RAD * ends
    beside = (place @ np.cross(normal, begin) >= 0.0) & (place @ np.cross(end, normal) >= 0.0)
    sideways = np.abs(np.arcsin(place @ normal / size))
    off: Floats = NM_PER_RAD * np.where(beside, sideways, ends)
    return off
