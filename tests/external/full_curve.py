"""Full I-V curves of strings from pvlib's bishop88, substring by substring, bypassed and summed."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from pvlib.singlediode import bishop88

from planner.physics.strings import BYPASS_V, TAKEOVER

Floats = npt.NDArray[np.float64]

DARKEST_V = -3.0  # V over a substring's junctions: its bypass diode has long taken over


def string_volts(levels: Floats, amps: Floats) -> Floats:
    """Return a string's voltage at each current, each curve read between 6,400 junction voltages."""
    total = np.zeros_like(amps)
    for light, dark, slope, series, shunt, count, *_ in levels:
        open_v = slope * np.log1p(light / dark)
        # Beyond open circuit the string takes current from others: up to what a dozen of its own would give.
        knee = np.linspace(0.6 * open_v, 1.02 * open_v, 4000)
        back = np.linspace(1.02 * open_v, 1.02 * open_v + 4.0 * slope, 400)[1:]
        junction = np.concatenate([np.linspace(DARKEST_V, 0.6 * open_v, 2000)[:-1], knee, back])
        current, voltage, _ = bishop88(junction, light, dark, series, 1.0 / shunt, slope)
        total += count * np.interp(amps, current[::-1], np.maximum(voltage, -BYPASS_V)[::-1])
    return total


def best_w(amps: Floats, volts: Floats, least_v: float) -> float:
    """Return the highest power of a curve at no less than a voltage, its end at that voltage read between points."""
    power = np.where((volts >= least_v) & (amps > 0.0), amps * volts, 0.0)
    held = np.flatnonzero((volts[:-1] >= least_v) & (volts[1:] < least_v))
    ends = [
        least_v * (amps[k] + (amps[k + 1] - amps[k]) * (volts[k] - least_v) / (volts[k] - volts[k + 1])) for k in held
    ]
    return float(max(power.max(), *ends, 0.0) if ends else power.max())


def series_w(levels: Floats, wire_ohm: float, least_v: float) -> float:
    """Return a string's highest power by its full curve, looked at twice: all of it, then closely."""
    amps = np.linspace(0.0, levels[:, TAKEOVER].max(), 2501)
    best = 0.0
    for _ in range(2):
        volts = string_volts(levels, amps) - wire_ohm * amps
        best = max(best, best_w(amps, volts, least_v))
        at = amps[int(np.argmax(np.where(volts >= least_v, amps * volts, 0.0)))]
        near = 2.0 * (amps[1] - amps[0])
        amps = np.linspace(max(at - near, 0.0), at + near, 801)
    return best


def parallel_w(strings: list[Floats], wire_ohm: float, least_v: float) -> float:
    """Return the highest power of parallel strings by their full curves."""
    top = max(float((levels[:, 5] * levels[:, 7]).sum()) for levels in strings)
    common = np.linspace(0.05, top, 3001)
    best = 0.0
    curves = []
    for levels in strings:
        amps = np.concatenate([np.linspace(-12.0, -0.01, 600)[:-1], np.linspace(-0.01, levels[-1, TAKEOVER], 4000)])
        curves.append((string_volts(levels, amps)[::-1], amps[::-1]))
    for _ in range(2):
        total = sum((np.interp(common, volts, amps) for volts, amps in curves), np.zeros_like(common))
        far = common - wire_ohm * total
        best = max(best, best_w(total[::-1], far[::-1], least_v))
        at = common[int(np.argmax(np.where((far >= least_v) & (total > 0.0), far * total, 0.0)))]
        near = 2.0 * (common[1] - common[0])
        common = np.linspace(max(at - near, 0.0), at + near, 801)
    return best
