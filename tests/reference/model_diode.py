"""The single diode of a panel from its data sheet, and what light and warmth do to it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from model_tables import root

KELVIN = 273.15
BOLTZMANN = 8.617333262e-5  # eV/K, CODATA 2018


@dataclass(frozen=True)
class Diode:
    """The single-diode model of some cells in series, and what warmth does to its light current."""

    light: float
    dark: float
    slope: float
    series: float
    leak: float
    light_per_c: float = 0.0

    def at(self, cell_c: float, suns: float) -> Diode:
        return Diode(
            (self.light + self.light_per_c * (cell_c - 25.0)) * suns,
            self.dark * growth(cell_c),
            self.slope * (cell_c + KELVIN) / 298.15,
            self.series,
            self.leak * suns,
        )

    def current(self, junction_v: float) -> float:
        return self.light - self.dark * math.expm1(junction_v / self.slope) - self.leak * junction_v

    def junction(self, current: float) -> float:
        """Junction voltage at a current: Newton from above, where the concave curve lets no step overshoot."""
        room = max(self.light - current, 0.0) + self.dark
        v = self.slope * math.log(max(room / self.dark, 1.0)) + 1e-12
        v = v if current < self.light else 0.0
        for _ in range(100):
            slope = self.dark / self.slope * math.exp(v / self.slope) + self.leak
            change = (self.current(v) - current) / slope
            v += change
            if abs(change) < 1e-13 * max(abs(v), 1.0):
                break
        return v

    def peak_w(self) -> float:
        def gain(v: float) -> float:
            current, falls = self.current(v), -self.dark / self.slope * math.exp(v / self.slope) - self.leak
            return falls * (v - current * self.series) + current * (1.0 - falls * self.series)

        v = root(gain, 0.0, self.junction(0.0))
        return self.current(v) * (v - self.current(v) * self.series)


def growth(cell_c: float) -> float:
    kelvin = cell_c + KELVIN
    gap = 1.121 * (1.0 - 0.0002677 * (kelvin - 298.15))
    return (kelvin / 298.15) ** 3 * math.exp((1.121 / 298.15 - gap / kelvin) / BOLTZMANN)


@cache
def fit(sheet: tuple[float, ...]) -> Diode:  # noqa: C901 - steps of one procedure, one inside the other
    """The panel's diode from its sheet: peak V and A, open V, short A, cells, and the coefficients of W, V and A."""
    v_peak, i_peak, v_open, i_short, cells, per_c, v_per_c, i_per_c = sheet
    least = 0.001 * i_short / v_open

    def with_series(a: float, rs: float, leak: float | None) -> tuple[float, float, float]:
        e_short, e_open, e_peak = (math.exp(v / a) for v in (i_short * rs, v_open, v_peak + i_peak * rs))
        b_peak = v_open - v_peak - i_peak * rs
        if leak is None:
            d_short, b_short, d_peak = e_open - e_short, v_open - i_short * rs, e_open - e_peak
            leak = (i_peak * d_short - i_short * d_peak) / (b_peak * d_short - b_short * d_peak)
            dark = (i_short - leak * b_short) / d_short
        else:
            dark = (i_peak - leak * b_peak) / (e_open - e_peak)
        return dark * (e_open - 1.0) + leak * v_open, dark, leak

    def with_slope(a: float) -> Diode | None:
        limit = (v_open - v_peak) / i_peak
        for leak in (None, least):

            def miss(rs: float, leak=leak) -> float:
                _, dark, g = with_series(a, rs, leak)
                d = dark / a * math.exp((v_peak + i_peak * rs) / a) + g
                return i_peak * (1.0 + rs * d) - v_peak * d

            rs = _first_root(miss, [limit * k / 40.0 for k in range(40)])
            if rs is None:
                continue
            light, dark, g = with_series(a, rs, leak)
            if dark > 0.0 and (g >= least if leak is None else abs(light - i_short) < 0.05 * i_short):
                return Diode(light, dark, a, rs, g)
        return None

    def with_coefficients(x: float) -> Diode | None:
        alpha, beta = i_per_c * i_short * (1.0 - x), v_per_c * v_open * (1.0 + x)

        def warm_miss(a: float) -> float:
            d = with_slope(a)
            if d is None:
                return math.nan
            v = v_open + 2.0 * beta
            return d.light + 2.0 * alpha - d.dark * growth(27.0) * math.expm1(v / (a * 300.15 / 298.15)) - v * d.leak

        thermal = cells * BOLTZMANN * 298.15
        scan = [thermal * (0.4 + 1.8 * k / 45.0) for k in range(46)]
        a = _first_root(warm_miss, scan)
        if a is None:
            fitting = [slope for slope in scan if with_slope(slope)]
            if not fitting:
                return None
            a = min(fitting, key=lambda slope: abs(warm_miss(slope)))
        d = with_slope(a)
        return d and Diode(d.light, d.dark, d.slope, d.series, d.leak, alpha)

    def power_miss(x: float) -> float:
        d = with_coefficients(x)
        if d is None:
            return math.nan
        hot, cold, fair = (d.at(t, 1.0).peak_w() for t in (50.0, -10.0, 25.0))
        return (hot - cold) / 60.0 / fair - per_c

    upward = 1.0 if (power_miss(0.0) > 0.0) == (v_per_c < 0.0) else -1.0
    tried = [0.0]
    for k in range(1, 25):
        x = upward * 0.6 * k / 24.0
        if math.isnan(power_miss(x)):
            break
        tried.append(x)
        if (power_miss(tried[-2]) > 0.0) != (power_miss(x) > 0.0):
            return with_coefficients(root(power_miss, tried[-2], x))
    return with_coefficients(min(tried, key=lambda x: abs(power_miss(x))))


def _first_root(function, scan: list[float]) -> float | None:
    """The first change of sign between neighbours of a scan, halved down; None where there is none."""
    before = math.nan
    for index, at in enumerate(scan):
        value = function(at)
        if before * value <= 0.0:
            return root(function, scan[index - 1], at)
        before = value
    return None


def sheet_diode(panel) -> Diode:
    sheet = (panel.max_power_v, panel.max_power_a, panel.open_circuit_v, panel.short_circuit_a, panel.cells)
    return fit((*sheet, panel.power_per_c, panel.voltage_per_c, panel.current_per_c))
