"""Cells in like light: kinds of them, substrings and strings that are the same, so that each curve is made once."""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from planner.domain.arrays import Floats, Ints
from planner.physics.diode import LEAST_LIGHT_W_M2, REFERENCE_W_M2
from planner.physics.strings.tables import (
    ALIKE,
    COUNT,
    DARK,
    FIRST,
    LEAST_V,
    LIGHT,
    SERIES,
    SHUNT,
    SLOPE,
    STRINGS,
)

Vector = tuple[float, float, float]
KINDS: Final = 3  # of light on the cells of a string
_NEAR_DIMMEST: Final = 0.2  # 1, of the beam, within which cells are little brighter than the dimmest


@njit(cache=True, error_model="numpy")
def group_cells(lit: Floats, share: float, kinds: Floats) -> None:
    """Fill lit fraction, share of the sky and number of the cells of each kind in a string, and how many kinds.

    The dimmest cells limit the string and are kept as they are; those little brighter, and the rest, which then stand
    near open circuit whatever their light, are two kinds more with the mean of theirs.
    """
    dimmest = lit[0]
    for cell in range(1, lit.size):
        dimmest = min(dimmest, lit[cell])
    kinds[:, :3] = 0.0
    for cell in range(lit.size):
        kind = 0 if lit[cell] == dimmest else 1 if lit[cell] < dimmest + _NEAR_DIMMEST else 2
        kinds[0, kind] += lit[cell]
        kinds[2, kind] += 1.0
    used = 0
    for kind in range(3):
        if kinds[2, kind] > 0.0:
            kinds[0, used], kinds[2, used] = kinds[0, kind] / kinds[2, kind], kinds[2, kind]
            kinds[1, used] = share
            used += 1
    kinds[0, -1] = used


@njit(cache=True, error_model="numpy")
def same_light(n: int, one: int, other: int, count: int, kinds: Floats) -> bool:
    """Return whether so many strings of cells from two places on stand in the same light, kind by kind."""
    for k in range(count):
        used = int(kinds[n, one + k, 0, -1])
        if used != int(kinds[n, other + k, 0, -1]):
            return False
        for row in range(3):
            for kind in range(used):
                if kinds[n, one + k, row, kind] != kinds[n, other + k, row, kind]:
                    return False
    return True


@njit(cache=True, error_model="numpy")
def sort_out(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    n: int, first: int, stop: int, kinds: Floats, strings_first: Ints, substrings: Floats, twin: Ints
) -> None:
    """Fill which substrings have strings of cells all alike, and the first substring of the panel like each."""
    for b in range(first, stop):
        start, end = strings_first[b], strings_first[b + 1]
        alike = same_light(n, start, start + 1, end - start - 1, kinds)
        substrings[n, b, FIRST], substrings[n, b, STRINGS], substrings[n, b, ALIKE] = start, end - start, alike
        twin[n, b] = b
        for other in range(first, b):
            if same_light(n, strings_first[other], start, end - start, kinds):
                twin[n, b] = other
                break


@njit(cache=True, error_model="numpy")
def light_cells(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    n: int, q: int, kinds: Floats, light: Vector, light_a: float, shunt: float, levels: Floats
) -> None:
    """Fill the levels of a string of cells from direct, sky and sea light on its panel, the dimmest first."""
    direct, sky, sea = light
    used = int(kinds[n, q, 0, -1])
    dimmest, least = 0, np.inf
    for kind in range(used):
        on_cell = direct * kinds[n, q, 0, kind] + sky * kinds[n, q, 1, kind] + sea
        suns = max(on_cell, LEAST_LIGHT_W_M2) / REFERENCE_W_M2
        levels[n, q, LIGHT, kind], levels[n, q, SHUNT, kind] = light_a * suns, shunt * suns
        levels[n, q, COUNT, kind] = kinds[n, q, 2, kind]
        if suns < least:
            dimmest, least = kind, suns
    for row in range(3):
        levels[n, q, row, 0], levels[n, q, row, dimmest] = levels[n, q, row, dimmest], levels[n, q, row, 0]
    levels[n, q, LIGHT, -1] = used


@njit(cache=True, error_model="numpy")
def equal_strings(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    n: int, first: int, last: int, parts: Floats, levels: Floats, substrings: Floats
) -> bool:
    """Return whether all strings of a controller have cells alike in the same light at one node."""
    count = int(parts[n, first, 0, 0])
    for s in range(first + 1, last):
        if int(parts[n, s, 0, 0]) != count:
            return False
        for entry in range(1, count + 1):
            one, other = int(parts[n, first, entry, 0]), int(parts[n, s, entry, 0])
            if parts[n, first, entry, 1] != parts[n, s, entry, 1]:
                return False
            for figure in (DARK, SLOPE, SERIES, STRINGS, LEAST_V):
                if substrings[n, one, figure] != substrings[n, other, figure]:
                    return False
            start, begin = int(substrings[n, one, FIRST]), int(substrings[n, other, FIRST])
            if not same_light(n, start, begin, int(substrings[n, one, STRINGS]), levels):
                return False
    return True
