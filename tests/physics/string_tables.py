"""The kernels' tables for strings laid out by hand, and what the kernels find for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.physics.strings import (
    AMPS,
    BYPASS_V,
    MOST_POINTS,
    add_in_parallel,
    add_in_series,
    cell_string_curve,
    held_voltage,
    string_current,
    substring_at,
)
from planner.physics.strings.tables import (
    ALIKE,
    COUNT,
    DARK,
    END_A,
    FIGURES,
    FIRST,
    LEAST_V,
    LIGHT,
    SERIES,
    SHUNT,
    SLOPE,
    STRINGS,
)

Levels = Sequence[tuple[float, float]]
"""Suns and number of the cells of a string that stand in them."""


@dataclass(frozen=True)
class Substring:
    """Strings of cells side by side under one bypass diode; a cell gives 5.76 A in full sun."""

    cell_strings: Sequence[Levels]
    light_a: float = 5.76
    dark_a: float = 1e-9
    slope_v: float = 0.49 / 18
    series_ohm: float = 0.08 / 18
    shunt: float = 18 / 50.0
    shunt_by_sun: bool = True
    bypassed: bool = True
    times: float = 1.0


def lit(*suns: float, cells: int = 18, times: float = 1.0, **changes: float | bool) -> Substring:
    """One string of cells: one cell at each of the first suns, the others at the last."""
    *few, last = suns
    levels = [(sun, 1.0) for sun in few] + [(last, float(cells - len(few)))]
    return Substring([sorted(levels)], times=times, **changes)  # type: ignore[arg-type]


Strings = Sequence[Sequence[Substring]]


@dataclass
class Strung:
    """Strings of one controller at each node of the roll, as the kernels take them."""

    nodes: Sequence[Strings]
    weight: Sequence[float] = (1.0,)
    wire_ohm: float = 0.0
    least_v: float = 0.0
    levels: np.ndarray = field(init=False)
    substrings: np.ndarray = field(init=False)
    parts: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        flat = [[sub for string in strings for sub in string] for strings in self.nodes]
        count = max(len(subs) for subs in flat)
        beside = sum(len(sub.cell_strings) for sub in flat[0])
        most = max(len(levels) for subs in flat for sub in subs for levels in sub.cell_strings)
        self.levels = np.zeros((len(flat), beside, 3, most + 1))
        self.substrings = np.zeros((len(flat), count, FIGURES))
        longest = max(len(string) for strings in self.nodes for string in strings)
        self.parts = np.zeros((len(flat), len(self.nodes[0]), longest + 1, 2))
        for n, subs in enumerate(flat):
            q = 0
            for b, sub in enumerate(subs):
                row = self.substrings[n, b]
                row[DARK], row[SLOPE], row[SERIES] = sub.dark_a, sub.slope_v, sub.series_ohm
                row[FIRST], row[STRINGS] = q, len(sub.cell_strings)
                row[ALIKE] = all(levels == sub.cell_strings[0] for levels in sub.cell_strings)
                row[LEAST_V] = -BYPASS_V if sub.bypassed else -1e6
                for levels in sub.cell_strings:
                    for k, (suns, cells) in enumerate(levels):
                        shunt = sub.shunt * (suns if sub.shunt_by_sun else 1.0)
                        self.levels[n, q, (LIGHT, SHUNT, COUNT), k] = (sub.light_a * suns, shunt, cells)
                    self.levels[n, q, LIGHT, -1] = len(levels)
                    q += 1
            b = 0
            for s, string in enumerate(self.nodes[n]):
                self.parts[n, s, 0, 0] = len(string)
                for entry, sub in enumerate(string, 1):
                    self.parts[n, s, entry] = b, sub.times
                    b += 1
        self.lay_curves()

    def lay_curves(self) -> None:
        """Make the curves of the tables as they stand."""
        nodes, count = self.substrings.shape[:2]
        beside = int(self.substrings[..., STRINGS].max())
        strings = self.parts.shape[1]
        width = (MOST_POINTS * beside + 1) * (self.parts.shape[2]) + 1
        self.curves = np.zeros((nodes, count, 2, MOST_POINTS * beside + 1))
        self.points = np.zeros((nodes, count), np.int64)
        self.string_curves = np.zeros((nodes, strings, 2, width))
        self.string_points = np.zeros((nodes, strings), np.int64)
        self.inputs = np.zeros((nodes, 2, width * strings + 1))
        self.input_points = np.zeros(nodes, np.int64)
        self.places = np.zeros(64, np.int64)
        for n in range(nodes):
            for b in range(len([sub for string in self.nodes[n] for sub in string])):
                self._substring_curve(n, b, beside)
            for s in range(strings):
                self.string_points[n, s] = add_in_series(
                    n, s, self.parts, self.curves, self.points, self.least_v, self.places, self.string_curves[n, s]
                )
            self.input_points[n] = add_in_parallel(
                self.string_curves[n], self.string_points[n], strings, self.wire_ohm, self.places, self.inputs[n]
            )

    def _substring_curve(self, n: int, b: int, beside: int) -> None:
        first, strings = (int(self.substrings[n, b, name]) for name in (FIRST, STRINGS))
        if self.substrings[n, b, ALIKE]:
            used = cell_string_curve(n, b, first, float(strings), self.levels, self.substrings, self.curves[n, b])
        else:
            own, points = np.zeros((beside, 2, MOST_POINTS)), np.zeros(beside, np.int64)
            for k in range(strings):
                points[k] = cell_string_curve(n, b, first + k, 1.0, self.levels, self.substrings, own[k])
            used = add_in_parallel(own, points, strings, 0.0, self.places, self.curves[n, b])
        self.points[n, b] = used
        bypassed = self.substrings[n, b, LEAST_V] == -BYPASS_V
        self.substrings[n, b, END_A] = self.curves[n, b, AMPS, used - 1] if bypassed else np.inf

    def held(self, *, upper: bool = False) -> tuple[float, np.ndarray]:
        """Return the voltage that the controller holds, and the current at its input at each node."""
        nodes, strings = self.parts.shape[:2]
        found = np.zeros((nodes, 3, strings))
        voltage = held_voltage(
            np.asarray(self.weight),
            0,
            nodes,
            self.wire_ohm,
            self.least_v,
            upper,
            0,
            strings,
            self.inputs,
            self.input_points,
            self.string_curves,
            self.string_points,
            self.parts,
            self.levels,
            self.substrings,
            self.places,
            found,
        )
        return voltage, found[:, 0].sum(axis=1) if voltage > 0.0 else np.zeros(nodes)

    def power(self, *, upper: bool = False) -> float:
        """Return the mean power over the nodes at the voltage held."""
        voltage, amps = self.held(upper=upper)
        return float(np.asarray(self.weight) @ (voltage * amps))

    def string_volts(self, n: int, s: int, amps: float) -> float:
        """Return the voltage of a string at a current, its substrings solved one by one."""
        entries = range(1, int(self.parts[n, s, 0, 0]) + 1)
        return sum(
            self.parts[n, s, e, 1]
            * substring_at(amps, n, int(self.parts[n, s, e, 0]), self.levels, self.substrings)[0]
            for e in entries
        )

    def string_amps(self, n: int, s: int, volts: float, start_a: float) -> float:
        """Return the current of a string at a voltage, sought from a start."""
        return string_current(volts, start_a, 1e-2, 0.0, n, s, self.parts, self.levels, self.substrings)[0]
