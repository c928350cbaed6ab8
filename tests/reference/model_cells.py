"""Cells, strings of them, substrings behind bypass diodes, panels in series, strings side by side, and the tracker.

Every part gives its voltage at a current and how that changes; what stands side by side is solved for its currents.
A tracker's best voltage is looked for on a sketch of the curves, and then found where the power's slope is nothing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np
from model_diode import Diode
from model_tables import root

BYPASS_V = 0.5  # V that a conducting bypass diode drops
REVERSE, BREAKDOWN_V, POWER = 2e-3, -15.0, 3.0  # Bishop 1988, doi:10.1016/0379-6787(88)90059-2; of silicon (recalled)


def solve(falling: Callable[[float], tuple[float, float]], low: float, high: float, at: float) -> float:
    """Where a falling function is nothing: Newton's steps from ``at``, or halves where one would leave the ends."""
    for _ in range(200):
        value, slope = falling(at)
        low, high = (at, high) if value > 0.0 else (low, at)
        step = -value / slope if slope else math.inf
        if abs(step) <= 1e-13 * max(abs(at), 1.0) or high - low <= 1e-15 * abs(high):
            return at + step if low <= at + step <= high else at
        at = at + step if low < at + step < high else 0.5 * (low + high)
    return at


class Cell:
    """One cell under its light."""

    def __init__(self, panel: Diode, cells: int, strings: int, suns: float, cell_c: float) -> None:
        d = panel.at(cell_c, suns)
        self.light, self.dark, self.slope = d.light / strings, d.dark / strings, d.slope / cells
        self.series, self.leak = d.series * strings / cells, d.leak * cells / strings
        self.most = self.light

    def behind(self, u: float) -> tuple[float, float]:
        """Current at a junction voltage, and how that changes with it."""
        grown = math.exp(u / self.slope)
        current = self.light - self.dark * (grown - 1.0) - self.leak * u
        falls = -self.dark / self.slope * grown - self.leak
        if u < 0.0:
            near = 1.0 - u / BREAKDOWN_V
            more = REVERSE * near**-POWER
            current -= self.leak * u * more
            falls -= self.leak * more * (1.0 + POWER * u / (BREAKDOWN_V * near))
        return current, falls

    def volts(self, current: float) -> tuple[float, float]:
        """Voltage at a current, and how that changes with it."""

        def miss(u: float) -> tuple[float, float]:
            flows, falls = self.behind(u)
            return flows - current, falls

        if current < self.light:
            high = self.slope * math.log1p((self.light - current) / self.dark) + 1e-12
            u = solve(miss, 0.0, high, high * (1.0 - 1e-15))
        else:
            lowest = BREAKDOWN_V * (1.0 - 1e-9)
            u = solve(miss, lowest, 0.0, max((self.light - current) / self.leak, 0.9 * lowest))
        return u - current * self.series, 1.0 / self.behind(u)[1] - self.series

    def sketch(self) -> tuple[np.ndarray, np.ndarray]:
        """Currents that rise and the voltages there."""
        ahead = self.slope * math.log1p(3.0 * max(self.light, 1.0) / self.dark)
        forward = [ahead - 0.25 * self.slope * k for k in range(70)]
        forward = [u for u in forward if u > 0.0] + [0.2 * k * max(forward[-1], 0.0) for k in range(4, 0, -1)]
        places = [*forward, *(BREAKDOWN_V * x for x in (0, *(k / 40.0 for k in range(1, 40)), 0.98, 0.99, 0.995))]
        amps = [self.behind(u)[0] for u in places]
        return np.array(amps), np.array(places) - np.array(amps) * self.series


class Series:
    """Parts that carry one current, some of them alike."""

    def __init__(self, parts: Sequence) -> None:
        self.parts = Counter(parts)
        self.most = max(part.most for part in self.parts)
        self.last = 0.0
        self.low: tuple[float, float] | None = None
        self.high: tuple[float, float] | None = None

    def volts(self, current: float) -> tuple[float, float]:
        v = falls = 0.0
        for part, count in self.parts.items():
            one, change = part.volts(current)
            v, falls = v + count * one, falls + count * change
        return v, falls

    def amps(self, v: float) -> tuple[float, float]:
        """Current at a voltage, and how that changes with it."""
        self.low, self.high = self.low or self._end(-1.0), self.high or self._end(self.most + 1.0)
        while self.low[1] < v:
            self.low = self._end(2.0 * self.low[0])
        while self.high[1] > v:
            self.high = self._end(2.0 * self.high[0])
        slope = 0.0

        def miss(current: float) -> tuple[float, float]:
            nonlocal slope
            here, slope = self.volts(current)
            return here - v, slope

        self.last = solve(miss, self.low[0], self.high[0], self.last)
        return self.last, 1.0 / slope if slope else -math.inf

    def _end(self, current: float) -> tuple[float, float]:
        return current, self.volts(current)[0]

    def sketch(self) -> tuple[np.ndarray, np.ndarray]:
        curves = [(part.sketch(), count) for part, count in self.parts.items()]
        amps = np.unique(np.concatenate([curve[0] for curve, _ in curves]))
        return amps, sum(count * np.interp(amps, *curve) for curve, count in curves)


class Substring:
    """Strings of cells side by side, some of them alike, and the bypass diode over them, where one is fitted."""

    def __init__(self, strings: Sequence[Series], *, bypassed: bool) -> None:
        self.strings, self.bypassed = Counter(strings), bypassed
        self.most = sum(string.most * count for string, count in self.strings.items())
        self.last = 0.0
        self.kept: tuple[np.ndarray, np.ndarray] | None = None
        self.taken: float | None = None

    def volts(self, current: float) -> tuple[float, float]:
        if len(self.strings) == 1:
            ((string, count),) = self.strings.items()
            v, falls = string.volts(current / count)
            falls /= count
        else:
            v, falls = self._side_by_side(current)
        return (-BYPASS_V, 0.0) if self.bypassed and v < -BYPASS_V else (v, falls)

    def _side_by_side(self, current: float) -> tuple[float, float]:
        slope = 0.0

        def miss(v: float) -> tuple[float, float]:
            nonlocal slope
            flows = [(count, *string.amps(v)) for string, count in self.strings.items()]
            total, slope = sum(n * i for n, i, _ in flows), sum(n * falls for n, _, falls in flows)
            return total - current, slope

        if self.taken is None:
            self.taken = miss(-BYPASS_V)[0] + current
        if self.bypassed and current > self.taken:
            return -2.0 * BYPASS_V, 0.0
        low, high = -BYPASS_V, 4.0
        while miss(low)[0] < 0.0:
            low *= 2.0
        while miss(high)[0] > 0.0:
            high *= 1.5
        self.last = solve(miss, low, high, min(max(self.last, low), high))
        return self.last, 1.0 / slope

    def sketch(self) -> tuple[np.ndarray, np.ndarray]:
        if self.kept is None:
            self.kept = self._sketch()
        return self.kept

    def _sketch(self) -> tuple[np.ndarray, np.ndarray]:
        curves = [(*string.sketch(), count) for string, count in self.strings.items()]
        amps, volts = curves[0][0] * curves[0][2], curves[0][1]
        if len(curves) > 1:
            volts = np.unique(np.concatenate([v for _, v, _ in curves]))[::-1]
            volts = volts[volts <= min(v[0] for _, v, _ in curves)]
            amps = sum(count * np.interp(volts, v[::-1], i[::-1]) for i, v, count in curves)
        if self.bypassed:
            taken = np.interp(BYPASS_V, -volts, amps)
            over = volts > -BYPASS_V
            amps = np.concatenate([amps[over], [taken, 1e3]])
            volts = np.concatenate([volts[over], [-BYPASS_V, -BYPASS_V]])
        return amps, volts


class Attitude:
    """Strings side by side and the wire to the controller, at one attitude of the boat."""

    def __init__(self, strings: list[Series], wire_ohm: float) -> None:
        self.strings, self.wire = strings, wire_ohm
        self.last = 0.0

    def at(self, v: float) -> tuple[list[float], float]:
        """Current of each string with a voltage held at the controller, and how their sum changes with it.

        Where they would draw current from the controller, none flows.
        """
        nothing = [0.0] * len(self.strings)
        if all(string.volts(0.0)[0] <= v for string in self.strings):
            return nothing, 0.0
        most = sum(string.amps(v)[0] for string in self.strings)
        if most <= 0.0:
            return nothing, 0.0

        def miss(u: float) -> tuple[float, float]:
            flows = [string.amps(u) for string in self.strings]
            total, falls = (sum(column) for column in zip(*flows, strict=True))
            return v - u + self.wire * total, -1.0 + self.wire * falls

        high = v + self.wire * most
        u = solve(miss, v, high, min(max(self.last, v), high)) if self.wire > 0.0 else v
        self.last = u
        flows = [string.amps(u) for string in self.strings]
        falls = sum(change for _, change in flows)
        return [i for i, _ in flows], falls / (1.0 - self.wire * falls)

    def sketch(self) -> tuple[np.ndarray, np.ndarray]:
        """Voltages at the controller that rise, and the currents there."""
        curves = [string.sketch() for string in self.strings]
        volts = np.unique(np.concatenate([v for _, v in curves]))
        volts = volts[(volts >= 0.0) & (volts <= min(v[0] for _, v in curves))]
        amps = sum(np.interp(volts, v[::-1], i[::-1]) for i, v in curves)
        return volts - self.wire * amps, amps


def held_voltage(attitudes: list[tuple[float, Attitude]], least_v: float, tracker: str) -> float | None:
    """The voltage that a tracker holds over attitudes, each with its weight; None where none gives power.

    One that stays on the upper peak stops at the first top that it meets on its way down from open circuit.
    """

    def power(v: float) -> tuple[float, float]:
        """Mean power, and how it changes with the voltage."""
        total = change = 0.0
        for weight, attitude in attitudes:
            currents, falls = attitude.at(v)
            total += weight * v * sum(currents)
            change += weight * (sum(currents) + v * falls)
        return total, change

    found = [_top(power, low, high, least_v) for low, _, high in rough_tops(attitudes, least_v, tracker)]
    best = max(found, key=lambda v: power(v)[0], default=None)
    return best if best is not None and power(best)[0] > 0.0 else None


def rough_tops(
    attitudes: list[tuple[float, Attitude]], least_v: float, tracker: str
) -> list[tuple[float, float, float]]:
    """Voltages about which the best may be, each between two others, by a sketch of the curves; the best first."""
    sketches = [(weight, *attitude.sketch()) for weight, attitude in attitudes]
    highest = max(float(np.interp(0.0, -amps, volts)) for _, volts, amps in sketches)
    if highest <= least_v:
        return []
    grid = np.linspace(max(least_v, 0.0), highest, 700)
    rough = grid * sum(w * np.maximum(np.interp(grid, volts, amps), 0.0) for w, volts, amps in sketches)
    tops = [k for k in range(len(grid) - 1) if rough[k] >= rough[k + 1] and (k == 0 or rough[k] > rough[k - 1])]
    tops = [k for k in tops if rough[k] > 0.0] or [0]
    tops = tops[-1:] if tracker == "upper" else [k for k in tops if rough[k] > 0.998 * rough.max()]
    tops.sort(key=lambda k: -rough[k])
    return [(float(grid[max(k - 2, 0)]), float(grid[k]), float(grid[min(k + 2, len(grid) - 1)])) for k in tops]


def _top(power: Callable[[float], tuple[float, float]], low: float, high: float, least_v: float) -> float:
    """Where power has its top about two voltages, read off a sketch; the least that may be held may be it."""
    step = high - low
    while power(high)[1] > 0.0:
        high += step
    while low > least_v and power(low)[1] < 0.0:
        low = max(low - step, least_v)
    if power(low)[1] <= 0.0:
        return low
    return root(lambda v: power(v)[1], low, high)
