"""Where a panel's cells lie, and which of them are wired to each other."""

from __future__ import annotations

import math
from functools import cache


def strings_of(panel) -> int:
    return panel.parallel_strings


@cache
def _usual(size: tuple[float, float], count: int, substrings: int, strings: int, across: str) -> tuple[int, int]:
    """Cells along and across, of a shape as near as may be to the usual one: whole, halves, or strips.

    Halves are short on the side that the strings divide, strips are long on it.
    """
    shape = math.log({1: 1.0, 2: 0.5}.get(strings, 5.0))
    fitting = []
    for along in range(1, count + 1):
        sides = (along, count // along) if across == "length" else (count // along, along)
        if count % along == 0 and sides[0] % substrings == 0 and sides[1] % strings == 0:
            of_cell = (size[0] / along, size[1] / (count // along))
            by_substrings, by_strings = of_cell if across == "length" else reversed(of_cell)
            fitting.append((round(abs(math.log(by_strings / by_substrings) - shape), 9), along))
    _, along = min(fitting)
    return along, count // along


def grid(panel) -> tuple[int, int]:
    """Cells along a panel's length and along its width."""
    along, across = panel.cells_along, panel.cells_across
    count = panel.cells * strings_of(panel)
    if along or across:
        return along or count // across, across or count // along
    size = (panel.length_m, panel.width_m)
    return _usual(size, count, panel.substrings, strings_of(panel), panel.substrings_across)


def patches(panel) -> tuple[int, int]:
    """Patches along the length and along the width at which a panel sees the sky: three a side, or a multiple."""
    by_substrings = panel.substrings * math.ceil(3 / panel.substrings)
    by_strings = strings_of(panel) * math.ceil(3 / strings_of(panel))
    return (by_substrings, by_strings) if panel.substrings_across == "length" else (by_strings, by_substrings)


def wiring(panel, within: tuple[int, int]) -> list[list[list[int]]]:
    """Numbers of the cells, or patches, of each string of each substring, where so many lie along and across.

    From aft i along, from starboard j across: i * across + j.
    """
    along, across = within
    groups: list[list[list[int]]] = [[[] for _ in range(strings_of(panel))] for _ in range(panel.substrings)]
    for number in range(along * across):
        sides = [(number // across, along), (number % across, across)]
        (s, of_s), (k, of_k) = sides if panel.substrings_across == "length" else reversed(sides)
        groups[s * panel.substrings // of_s][k * strings_of(panel) // of_k].append(number)
    return groups
