"""The single-diode figures of a panel from its data sheet."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.physics.diode.conditions import BOLTZMANN_EV_K, REFERENCE_K, dark_growth, peak_power_w

_IDEALITY_LOW: Final = 0.4  # 1, below any cell
_IDEALITY_HIGH: Final = 2.2  # 1, above any cell
_IDEALITY_CELLS: Final = 45
_SERIES_CELLS: Final = 40
_HALVINGS: Final = 45
_LEAST_SHUNT: Final = 1e-3  # 1, part of the short-circuit current that the shunt takes at open-circuit voltage
_SHORT_MISS: Final = 0.05  # 1, by which the light current may then part from the short-circuit current
_ADJUST_LIMIT: Final = 0.6  # 1, beyond this the coefficients of one sheet contradict each other


class Diode(NamedTuple):
    """Single-diode figures of a whole panel at 1000 W/m2 and 25 C.

    Attributes
    ----------
    light_a, dark_a : float
        Light and saturation current [A].
    slope_v : float
        Ideality x cells x thermal voltage [V].
    series_ohm, shunt_ohm : float
        Resistances [ohm].
    light_a_per_c : float
        Change of the light current [A/K].
    """

    light_a: float
    dark_a: float
    slope_v: float
    series_ohm: float
    shunt_ohm: float
    light_a_per_c: float


@njit(cache=True, error_model="numpy")
def _through_points(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    slope_v: float, series_ohm: float, max_power_v: float, max_power_a: float, open_v: float, short_a: float
) -> tuple[float, float, float, float]:
    """Return light and saturation current and shunt conductance that meet the three points, and the miss of the peak.

    For given slope and series resistance the single-diode equation is linear in the other three.
    """
    over = max_power_v + max_power_a * series_ohm
    at_short = np.exp(short_a * series_ohm / slope_v)
    at_open = np.exp(open_v / slope_v)
    at_peak = np.exp(over / slope_v)
    a11, a12 = at_open - at_short, open_v - short_a * series_ohm
    a21, a22 = at_open - at_peak, open_v - over
    determinant = a11 * a22 - a12 * a21
    dark = (short_a * a22 - max_power_a * a12) / determinant
    shunt = (a11 * max_power_a - a21 * short_a) / determinant
    light = dark * (at_open - 1.0) + shunt * open_v
    conductance = dark / slope_v * at_peak + shunt
    miss = max_power_a * (1.0 + series_ohm * conductance) - max_power_v * conductance
    return light, dark, shunt, miss


@njit(cache=True, error_model="numpy")
def _with_shunt(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    shunt: float, slope_v: float, series_ohm: float, max_power_v: float, max_power_a: float, open_v: float
) -> tuple[float, float, float, float]:
    """Return light and saturation current for a given shunt, without the short-circuit point, and the peak's miss."""
    over = max_power_v + max_power_a * series_ohm
    at_open = np.exp(open_v / slope_v)
    at_peak = np.exp(over / slope_v)
    dark = (max_power_a - shunt * (open_v - over)) / (at_open - at_peak)
    light = dark * (at_open - 1.0) + shunt * open_v
    conductance = dark / slope_v * at_peak + shunt
    miss = max_power_a * (1.0 + series_ohm * conductance) - max_power_v * conductance
    return light, dark, shunt, miss


@njit(cache=True, error_model="numpy")
def _solve_series(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    shunt: float, slope_v: float, max_power_v: float, max_power_a: float, open_v: float, short_a: float
) -> tuple[bool, float, float, float, float]:
    """Return whether a series resistance puts the peak right, and light and saturation current, series, shunt.

    A negative ``shunt`` asks that the short-circuit point be met instead.
    """
    limit = (open_v - max_power_v) / max_power_a
    low, high, before = 0.0, 0.0, 0.0
    figures = (0.0, 0.0, 0.0, 0.0)
    found, halvings = False, 0
    for k in range(_SERIES_CELLS + _HALVINGS):
        # First a scan for a change of sign, then bisection of the cell that holds it.
        series = limit * k / _SERIES_CELLS if not found else 0.5 * (low + high)
        halvings += found
        if halvings > _HALVINGS:
            break
        if shunt < 0.0:
            figures = _through_points(slope_v, series, max_power_v, max_power_a, open_v, short_a)
        else:
            figures = _with_shunt(shunt, slope_v, series, max_power_v, max_power_a, open_v)
        if k == 0:
            before = figures[3]
        elif (figures[3] < 0.0) == (before < 0.0):
            low = series
        else:
            high, found = series, True
        if not found and k == _SERIES_CELLS - 1:
            return False, 0.0, 0.0, 0.0, 0.0
    return True, figures[0], figures[1], 0.5 * (low + high), figures[2]


@njit(cache=True, error_model="numpy")
def _at_slope(
    slope_v: float, max_power_v: float, max_power_a: float, open_v: float, short_a: float
) -> tuple[bool, float, float, float, float]:
    """Return whether a diode of this slope fits, its light and saturation current, series and shunt conductance."""
    least_shunt = _LEAST_SHUNT * short_a / open_v
    found, light, dark, series, shunt = _solve_series(-1.0, slope_v, max_power_v, max_power_a, open_v, short_a)
    if found and dark > 0.0 and shunt >= least_shunt:
        return True, light, dark, series, shunt
    # The sheet's knee is too square for a shunt that is no source: the short-circuit point gives way.
    found, light, dark, series, shunt = _solve_series(least_shunt, slope_v, max_power_v, max_power_a, open_v, short_a)
    return found and dark > 0.0 and abs(light - short_a) < _SHORT_MISS * short_a, light, dark, series, shunt


@njit(cache=True, error_model="numpy")
def _open_miss(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    slope_v: float, light: float, dark: float, shunt: float, open_v: float, per_c: tuple[float, float]
) -> float:
    """Return how far the open-circuit equation is missed two degrees warmer [A]."""
    short_per_c, open_per_c = per_c
    step = 2.0
    warm_v = open_v + step * open_per_c
    warm_slope = slope_v * (REFERENCE_K + step) / REFERENCE_K
    grown = dark * dark_growth(25.0 + step)
    return float(light + step * short_per_c - grown * np.expm1(warm_v / warm_slope) - warm_v * shunt)


@njit(cache=True, error_model="numpy")
def _five(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    max_power_v: float,
    max_power_a: float,
    open_v: float,
    short_a: float,
    thermal_v: float,
    per_c: tuple[float, float],
) -> tuple[bool, float, float, float, float, float]:
    """Return whether a diode fits, and the slope, light, saturation, series and shunt that meet the sheet best."""
    best_slope, least = 0.0, np.inf
    before, before_miss = 0.0, 0.0
    low, high = 0.0, 0.0
    for k in range(_IDEALITY_CELLS + 1):
        slope = thermal_v * (_IDEALITY_LOW + (_IDEALITY_HIGH - _IDEALITY_LOW) * k / _IDEALITY_CELLS)
        fits, light, dark, _, shunt = _at_slope(slope, max_power_v, max_power_a, open_v, short_a)
        if not fits:
            before = 0.0
            continue
        miss = _open_miss(slope, light, dark, shunt, open_v, per_c)
        if abs(miss) < least:
            best_slope, least = slope, abs(miss)
        if before > 0.0 and (before_miss < 0.0) != (miss < 0.0):
            low, high = before, slope
            break
        before, before_miss = slope, miss
    if best_slope == 0.0:
        return False, 0.0, 0.0, 0.0, 0.0, 0.0
    if high > 0.0:
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            _, light, dark, _, shunt = _at_slope(middle, max_power_v, max_power_a, open_v, short_a)
            miss = _open_miss(middle, light, dark, shunt, open_v, per_c)
            if (miss < 0.0) == (before_miss < 0.0):
                low = middle
            else:
                high = middle
        best_slope = 0.5 * (low + high)
    fits, light, dark, series, shunt = _at_slope(best_slope, max_power_v, max_power_a, open_v, short_a)
    return fits, best_slope, light, dark, series, shunt


@njit(cache=True, error_model="numpy")
def _power_per_c(five: tuple[bool, float, float, float, float, float], short_per_c: float) -> float:
    """Return the mean change of maximum power from -10 to 50 C, over that at 25 C [1/K]."""
    _, slope, light, dark, series, shunt = five
    ends = np.empty(3)
    for i, temp in enumerate((-10.0, 25.0, 50.0)):
        ends[i] = peak_power_w(
            light + short_per_c * (temp - 25.0),
            dark * dark_growth(temp),
            slope * (temp + 273.15) / REFERENCE_K,
            series,
            shunt,
        )
    return float((ends[2] - ends[0]) / 60.0 / ends[1])


@njit(cache=True, error_model="numpy")
def _six(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    max_power_v: float,
    max_power_a: float,
    open_v: float,
    short_a: float,
    cells: int,
    power_per_c: float,
    voltage_per_c: float,
    current_per_c: float,
) -> tuple[bool, float, float, float, float, float, float]:
    """Return whether a diode fits, and its six figures with the coefficients adjusted to meet the power's."""
    thermal_v = cells * BOLTZMANN_EV_K * REFERENCE_K
    short_per_c, open_per_c = current_per_c * short_a, voltage_per_c * open_v
    plain = _five(max_power_v, max_power_a, open_v, short_a, thermal_v, (short_per_c, open_per_c))
    if not plain[0]:
        return False, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    best, best_adjust = plain, 0.0
    miss = _power_per_c(plain, short_per_c) - power_per_c
    # More adjustment makes the open-circuit voltage, and so the power, fall faster with heat.
    toward = 1.0 if (miss > 0.0) == (voltage_per_c < 0.0) else -1.0
    low, high = 0.0, 0.0
    least = abs(miss)
    for k in range(1, 25):
        adjust = toward * _ADJUST_LIMIT * k / 24.0
        trial = _five(
            max_power_v,
            max_power_a,
            open_v,
            short_a,
            thermal_v,
            (short_per_c * (1.0 - adjust), open_per_c * (1.0 + adjust)),
        )
        if not trial[0]:
            break
        trial_miss = _power_per_c(trial, short_per_c * (1.0 - adjust)) - power_per_c
        if abs(trial_miss) < least:
            best, best_adjust, least = trial, adjust, abs(trial_miss)
        if (trial_miss < 0.0) != (miss < 0.0):
            high = adjust
            break
        low = adjust
    if high != 0.0:
        for _ in range(30):
            middle = 0.5 * (low + high)
            best = _five(
                max_power_v,
                max_power_a,
                open_v,
                short_a,
                thermal_v,
                (short_per_c * (1.0 - middle), open_per_c * (1.0 + middle)),
            )
            best_adjust = middle
            if (_power_per_c(best, short_per_c * (1.0 - middle)) - power_per_c < 0.0) == (miss < 0.0):
                low = middle
            else:
                high = middle
    fits, slope, light, dark, series, shunt = best
    return fits, light, dark, slope, series, 1.0 / shunt, short_per_c * (1.0 - best_adjust)


def fit_diode(
    *,
    max_power_v: float,
    max_power_a: float,
    open_circuit_v: float,
    short_circuit_a: float,
    cells: int,
    power_per_c: float,
    voltage_per_c: float,
    current_per_c: float,
) -> Diode | None:
    """Return the single-diode figures that meet a data sheet, or None where none does.

    The open-circuit and maximum-power points are met exactly, and so is the short-circuit current unless that asks
    for a shunt below a thousandth of it, which then stands; the ideality is set by the temperature
    coefficient of the open-circuit voltage (De Soto et al. 2006, doi:10.1016/j.solener.2005.06.010), both
    coefficients being adjusted by one factor until the maximum power's is met (Dobos 2012, doi:10.1115/1.4005759).
    Where coefficients contradict each other, the nearest diode that meets the points stands.

    Parameters
    ----------
    max_power_v, max_power_a, open_circuit_v, short_circuit_a : float
        Data sheet at 1000 W/m2, 25 C [V, A, V, A].
    cells : int
        In series.
    power_per_c, voltage_per_c, current_per_c : float
        Coefficients of maximum power, open-circuit voltage, short-circuit current [1/K].

    Returns
    -------
    Diode or None
        Of the whole panel.
    """
    if not (0.0 < max_power_a < short_circuit_a and 0.0 < max_power_v < open_circuit_v):
        return None
    fits, *figures = _six(
        float(max_power_v),
        float(max_power_a),
        float(open_circuit_v),
        float(short_circuit_a),
        int(cells),
        float(power_per_c),
        float(voltage_per_c),
        float(current_per_c),
    )
    return Diode(*figures) if fits and np.isfinite(figures).all() else None
