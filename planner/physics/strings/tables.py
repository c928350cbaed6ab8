"""The flat tables that the kernels of this room read: light on cells, substrings, and the parts of strings.

Each table's first dimension is a node of the roll. Kernels take whole tables and indices into them: an array handed
on as a slice costs more than what is computed from it.

``levels`` (node, string of cells, 3, level + 1)
    Rows ``LIGHT``, ``SHUNT`` and ``COUNT``: light current [A] and shunt [S] of a cell, and how many cells stand in
    that light [1], the dimmest first. The last place of row ``LIGHT`` holds how many levels there are.
``substrings`` (node, substring, 12)
    ``DARK``, ``SLOPE``, ``SERIES``, shared by all its cells: saturation current [A], ideality x thermal voltage [V],
    series resistance [ohm] of one. ``FIRST``, ``STRINGS``: its strings of cells side by side. ``ALIKE``: 1 where they
    stand in the same light. ``END_A``, ``LEAST_V``: current about which its bypass diode takes over [A], and voltage
    below which it then does not fall [V]. ``AT_A``, ``AT_V``, ``BY_A``, ``BEND``: current and voltage where it was
    last solved, and the voltage's first two derivatives there.
``parts`` (node, string, part + 1, 2)
    Substring and how many like it are in series; the first entry holds how many entries follow.
"""

from __future__ import annotations

from typing import Final

LIGHT, SHUNT, COUNT = 0, 1, 2
DARK, SLOPE, SERIES, FIRST, STRINGS, ALIKE, END_A, LEAST_V, AT_A, AT_V, BY_A, BEND = (
    0,
    1,
    2,
    3,
    4,
    5,
    6,
    7,
    8,
    9,
    10,
    11,
)
FIGURES: Final = 12
"""Columns of ``substrings``."""
