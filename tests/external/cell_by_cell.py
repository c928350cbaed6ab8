"""Panels solved cell by cell: each cell's curve from pvlib's bishop88, strung, laid side by side, bypassed, summed.

Nothing here searches or approximates beyond reading curves between dense points: every curve is a list of voltages
and currents, and what is joined is read at all points of all its parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from pvlib.pvsystem import calcparams_desoto
from pvlib.singlediode import bishop88

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BYPASS_V = 0.5  # V, drop of a bypass diode that conducts (common practice, recalled)
BREAKDOWN = {"breakdown_factor": 2e-3, "breakdown_voltage": -15.0, "breakdown_exp": 3.0}  # of silicon (recalled)
LEAST_W_M2 = 1e-3  # W/m2, on a cell
DENT = 1e-3  # 1, of the power
MOST_BACK, MOST_ON = -2.0, 1.3  # of a panel's light current: what a curve covers


class Layout(NamedTuple):
    """Where the cells of a panel lie and how they are joined.

    Cell (i along, j across) has the number i * cells_across + j. The substrings divide one side, the strings of cells
    that lie side by side in each the other.
    """

    length_m: float
    width_m: float
    cells_along: int
    cells_across: int
    substrings: int
    parallel: int = 1
    substrings_across: str = "width"
    bypass: bool = True

    @property
    def cells(self) -> int:
        return self.cells_along * self.cells_across

    @property
    def in_series(self) -> int:
        return self.cells // self.parallel

    def places(self) -> tuple[Ints, Ints]:
        """Substring and string of cells of each cell (cells,)."""
        i, j = np.divmod(np.arange(self.cells), self.cells_across)
        by_width, by_length = (j, self.cells_across), (i, self.cells_along)
        (s, whole_s), (k, whole_k) = (by_width, by_length)[:: 1 if self.substrings_across == "width" else -1]
        return s * self.substrings // whole_s, k * self.parallel // whole_k


class Figures(NamedTuple):
    """The single diode of a whole panel at 1000 W/m2, 25 C."""

    light_a: float
    dark_a: float
    slope_v: float
    series_ohm: float
    shunt_ohm: float
    light_a_per_c: float


class Curve(NamedTuple):
    """A current-voltage curve: currents rise, voltages fall (points,)."""

    volts: Floats
    amps: Floats


class LitPanel(NamedTuple):
    """A panel as it stands: light on each cell (cells,), and its temperature."""

    layout: Layout
    figures: Figures
    light_w_m2: Floats
    temp_c: float


class Attitude(NamedTuple):
    """One attitude of the rolling boat: its share of the time, and the strings as they are lit then."""

    weight: float
    strings: Sequence[Sequence[LitPanel]]


class Case(NamedTuple):
    """What one controller is asked: attitudes, the wire to it, the least voltage at its input, and how it tracks.

    A ``global`` tracker holds the best voltage, an ``upper`` one the first top below open circuit.
    """

    attitudes: Sequence[Attitude]
    wire_ohm: float = 0.0
    least_v: float = 0.0
    tracker: str = "global"


def cell_curve(layout: Layout, figures: Figures, light_w_m2: float, temp_c: float) -> Curve:
    """One cell, from twice its light current backward to beyond its light current, down to near breakdown."""
    strings, cells = layout.parallel, layout.in_series
    of_cell = (
        figures.slope_v / cells,
        figures.light_a / strings,
        figures.dark_a / strings,
        figures.shunt_ohm * strings / cells,
        figures.series_ohm * strings / cells,
    )
    alpha = figures.light_a_per_c / strings
    light, dark, series, shunt, slope = calcparams_desoto(max(light_w_m2, LEAST_W_M2), temp_c, alpha, *of_cell)
    far = 1.0 - np.concatenate([np.geomspace(0.005, 0.1, 40)[:-1], np.linspace(0.1, 1.0, 70)])  # of breakdown
    highest = slope * np.log1p((light - MOST_BACK * figures.light_a / strings) / dark)
    knee = max(slope * np.log1p(light / dark) - 15.0 * slope, 0.2 * highest)
    ahead = np.concatenate([np.linspace(0.0, knee, 40)[1:-1], np.arange(knee, highest + 0.1 * slope, 0.08 * slope)])
    back = far[:-1] * BREAKDOWN["breakdown_voltage"]
    behind_a, behind_v, _ = bishop88(back, light, dark, series, shunt, slope, **BREAKDOWN)
    ahead_a, ahead_v, _ = bishop88(np.concatenate([[0.0], ahead]), light, dark, series, shunt, slope)
    return Curve(np.concatenate([behind_v, ahead_v])[::-1], np.concatenate([behind_a, ahead_a])[::-1])


def in_series(parts: Sequence[Curve], counts: Sequence[int], least_a: float, most_a: float) -> Curve:
    """Curves that carry one current, each so many times."""
    amps = np.unique(np.concatenate([part.amps for part in parts] + [[least_a, most_a]]))
    amps = amps[(amps >= least_a) & (amps <= most_a)]
    volts = sum(count * np.interp(amps, p.amps, p.volts) for p, count in zip(parts, counts, strict=True))
    return Curve(np.asarray(volts), amps)


def side_by_side(parts: Sequence[Curve], least_v: float) -> Curve:
    """Curves that have one voltage."""
    if len(parts) == 1:
        return parts[0]
    volts = np.unique(np.concatenate([part.volts for part in parts]))
    volts = volts[(volts >= least_v) & (volts <= min(part.volts[0] for part in parts))]
    amps = sum(np.interp(volts, part.volts[::-1], part.amps[::-1]) for part in parts)
    return Curve(volts[::-1], np.asarray(amps)[::-1])


def bypassed(curve: Curve) -> Curve:
    """A curve whose voltage a diode does not let fall below its drop, whatever the current."""
    taken = float(np.interp(BYPASS_V, -curve.volts, curve.amps))
    before = curve.volts > -BYPASS_V
    volts = np.concatenate([curve.volts[before], [-BYPASS_V, -BYPASS_V]])
    return Curve(volts, np.concatenate([curve.amps[before], [taken, 1e3]]))


def substring_curves(panel: LitPanel) -> list[Curve]:
    """The curve of each substring at its terminals."""
    layout, figures = panel.layout, panel.figures
    substring, string = layout.places()
    light = np.asarray(panel.light_w_m2, dtype=np.float64)
    curve_of = {x: cell_curve(layout, figures, x, panel.temp_c) for x in np.unique(light).tolist()}
    one = figures.light_a / layout.parallel
    curves = []
    for s in range(layout.substrings):
        strings = []
        for k in range(layout.parallel):
            lights, counts = np.unique(light[(substring == s) & (string == k)], return_counts=True)
            cells = [curve_of[x] for x in lights.tolist()]
            strings.append(in_series(cells, counts.tolist(), MOST_BACK * one, MOST_ON * one))
        lowest = -2.0 * BYPASS_V if layout.bypass else -1e3
        whole = side_by_side(strings, lowest)
        curves.append(bypassed(whole) if layout.bypass else whole)
    return curves


def panel_curve(panel: LitPanel) -> Curve:
    """A whole panel's curve."""
    return string_curve(substring_curves(panel))


def string_curve(parts: Sequence[Curve]) -> Curve:
    """Panels, or substrings, in series."""
    return in_series(parts, [1] * len(parts), max(p.amps[0] for p in parts), max(p.amps[-1] for p in parts))


def parallel_curve(strings: Sequence[Curve]) -> Curve:
    """Strings side by side at one controller, where no voltage is negative."""
    return side_by_side(strings, 0.0)


def held_power(curves: Sequence[Curve], weights: Sequence[float], wire_ohm: float, least_v: float) -> Curve:
    """Power in place of the current, at each voltage that could be held over all attitudes, behind the wire.

    Voltages fall, as in every curve; where none is high enough there is one point, of no power.
    """
    inputs = [Curve(curve.volts - wire_ohm * curve.amps, curve.amps) for curve in curves]
    volts = np.unique(np.concatenate([[max(least_v, 0.0)], *(curve.volts for curve in inputs)]))
    volts = volts[volts >= max(least_v, 0.0)]
    between = np.linspace(0.0, 1.0, 9)[1:-1, None]
    volts = np.unique(np.concatenate([volts, (volts[:-1] * between + volts[1:] * (1.0 - between)).ravel()]))
    amps = [np.maximum(np.interp(volts, c.volts[::-1], c.amps[::-1]), 0.0) for c in inputs]
    power = volts * sum(weight * flows for weight, flows in zip(weights, amps, strict=True))
    return Curve(volts[::-1], power[::-1])


def best(held: Curve) -> tuple[float, float]:
    """The most power of those held, and its voltage."""
    at = int(np.argmax(held.amps))
    return float(held.amps[at]), float(held.volts[at])


def upper(held: Curve) -> tuple[float, float]:
    """The power at the first top that is met on the way down from open circuit, and its voltage.

    What rises again after a dent of less than a thousandth, which may be one of the curve's chords, is the same top.
    """
    so_far = np.maximum.accumulate(held.amps)
    falls = np.flatnonzero(held.amps < (1.0 - DENT) * so_far)
    at = int(np.argmax(held.amps[: falls[0] if falls.size else None]))
    return float(held.amps[at]), float(held.volts[at])


def held_of(case: Case) -> Curve:
    """Power at each voltage that the case's controller could hold."""
    curves = [
        parallel_curve([string_curve([panel_curve(panel) for panel in string]) for string in attitude.strings])
        for attitude in case.attitudes
    ]
    return held_power(curves, [attitude.weight for attitude in case.attitudes], case.wire_ohm, case.least_v)


def full_power(case: Case) -> float:
    """What the case's tracker gets [W]."""
    return (upper if case.tracker == "upper" else best)(held_of(case))[0]


@cache
def rating_w(layout: Layout, figures: Figures) -> float:
    """What a panel gives at 1000 W/m2, 25 C [W]."""
    lit = LitPanel(layout, figures, np.full(layout.cells, 1000.0), 25.0)
    return full_power(Case([Attitude(1.0, [[lit]])]))


# Invented panels of crystalline silicon.
SMALL = (
    Layout(1.05, 0.54, 9, 4, 2),
    Figures(5.78, 3.4e-9, 1.045, 0.13, 180.0, 0.0029),
)
LARGE = (
    Layout(1.65, 1.0, 10, 6, 3),
    Figures(9.84, 6.0e-10, 1.70, 0.27, 420.0, 0.0049),
)
HALF_CUT = (
    Layout(1.70, 1.0, 20, 6, 3, parallel=2),
    Figures(10.4, 5.2e-10, 1.72, 0.24, 500.0, 0.0052),
)
SHINGLED = (
    Layout(0.90, 0.94, 34, 6, 2, parallel=6, substrings_across="length"),
    Figures(9.78, 4.2e-10, 0.968, 0.13, 260.0, 0.0049),
)
PANELS = {"36 cells": SMALL, "60 cells": LARGE, "half-cut": HALF_CUT, "shingled": SHINGLED}
