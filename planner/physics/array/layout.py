"""Where a panel's cells lie, and which of them are wired to each other."""

from __future__ import annotations

from math import log
from typing import Final, Literal

import numpy as np

from planner.domain.arrays import Ints

Side = Literal["length", "width"]
HALVED: Final = 2.0  # 1, side over side of a cell cut in two
_LEAST_A_SIDE: Final = 3  # patches along either side at which the sky is looked at
STRIP: Final = 5.0  # 1, of a shingle: cells are cut into five or six (common practice)


def usual_grid(
    length_m: float, width_m: float, *, cells: int, substrings: int, parallel: int, across: Side
) -> tuple[int, int] | None:
    """Return how many cells a panel most likely has along its length and its width, or None where none fits.

    Of all grids that the wiring divides, the one whose cells are nearest to square; where two strings stand side by
    side, to halves of a square that are short on the side that the strings divide; where more do, to strips that are
    long on it.

    Parameters
    ----------
    length_m, width_m : float
        Size of the panel [m].
    cells : int
        In series.
    substrings : int
        Groups of them under one bypass diode each.
    parallel : int
        Strings of cells side by side in each group.
    across : {'length', 'width'}
        The side that the groups divide; the strings side by side divide the other.
    """
    wanted = 0.0 if parallel == 1 else -log(HALVED) if parallel == HALVED else log(STRIP)
    best, least = None, np.inf
    for along in range(1, cells * parallel + 1):
        beside, rest = divmod(cells * parallel, along)
        if rest or not divides(along, beside, substrings=substrings, parallel=parallel, across=across):
            continue
        shape = log((length_m / along) / (width_m / beside))
        miss = abs((shape if across == "width" else -shape) - wanted)
        if miss < least - 1e-9:
            best, least = (along, beside), miss
    return best


def divides(along: int, beside: int, *, substrings: int, parallel: int, across: Side) -> bool:
    """Return whether groups and strings side by side come out whole on a grid; as for ``usual_grid`` [1]."""
    of_groups, of_strings = (along, beside) if across == "length" else (beside, along)
    return of_groups % substrings == 0 and of_strings % parallel == 0


def cell_places(along: int, beside: int, *, substrings: int, parallel: int, across: Side) -> Ints:
    """Return where each cell lies, in the order of the wiring; parameters as for ``usual_grid``.

    Returns
    -------
    int array (cell, 2)
        Place along the length from aft and across the width from starboard, from 0 [1]. Cells go group by group, in
        each string by string; groups and strings are counted from aft or from starboard.
    """
    place = np.stack(np.meshgrid(np.arange(along), np.arange(beside), indexing="ij"), axis=-1).reshape(-1, 2)
    group_side, string_side = (0, 1) if across == "length" else (1, 0)
    group = place[:, group_side] * substrings // (along, beside)[group_side]
    string = place[:, string_side] * parallel // (along, beside)[string_side]
    return place[np.lexsort((place[:, 1], place[:, 0], string, group))]


def coarse_places(*, substrings: int, parallel: int, across: Side) -> Ints:
    """Return patches that cover a panel as ``cell_places`` has cells, three or more a side, as many a string [1]."""
    of_groups, of_strings = (count * -(-_LEAST_A_SIDE // count) for count in (substrings, parallel))
    along, beside = (of_groups, of_strings) if across == "length" else (of_strings, of_groups)
    return cell_places(along, beside, substrings=substrings, parallel=parallel, across=across)
