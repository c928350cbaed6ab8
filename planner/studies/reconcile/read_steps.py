"""A crew's readings laid on the steps of a track: means of what flows, states at the starts, gaps left open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.glossary import READINGS
from planner.domain.schema import check_dataset, to_dataset
from planner.simulation.clock import step_seconds

if TYPE_CHECKING:
    import xarray as xr


STATES: Final = ("read_meter_soc", "read_meter_ah")
"""Readings that hold at a moment; the others are means over a step."""
LEAST_PART: Final = 0.5  # 1, part of a step that must be read for its mean to count
GAP_SPACINGS: Final = 2.5  # 1: a reading or two may be missed before there is a gap
SHORTEST_GAP_MIN: Final = 20.0  # min: no shorter silence is a gap; a watchkeeper is called away
LONGEST_GAP_MIN: Final = 90.0  # min: a longer silence always is one; clouds and loads come and go within it


def shifted(readings: xr.Dataset, fast_min: float) -> xr.Dataset:
    """Return the readings at their true times, for a log whose clock is fast.

    Parameters
    ----------
    readings : xarray.Dataset
        As the glossary's READINGS has them.
    fast_min : float
        Log's clock less true time [min].
    """
    back = np.timedelta64(round(fast_min * 60e9), "ns")
    moved = readings.assign_coords(time=readings["time"].values - back)
    moved["time"].attrs = dict(readings["time"].attrs)
    return moved


def longest_gap_min(time_s: Floats) -> float:
    """Return the longest silence that is bridged between readings [min]: two and a half times their usual spacing.

    Parameters
    ----------
    time_s : array (reading,)
        Moments of readings, rising [s].

    Returns
    -------
    float
        At least 20 min and at most 90 min.
    """
    if time_s.size < 2:
        return SHORTEST_GAP_MIN
    usual_min = float(np.median(np.diff(time_s))) / 60.0
    return float(np.clip(GAP_SPACINGS * usual_min, SHORTEST_GAP_MIN, LONGEST_GAP_MIN))


def on_steps(readings: xr.Dataset, track: xr.Dataset) -> xr.Dataset:
    """Return readings as means over a track's steps, or at their starts.

    Readings of an instant are joined by straight lines, engine by what was read nearest; readings that stand for the
    time since the last one fill it. Either is averaged over time, so that no energy is lost between the readings of a
    dense log. Each quantity goes by its own readings: what a line of the log leaves out is no gap in the others.
    A silence longer than ``longest_gap_min`` of a quantity is not bridged.

    Parameters
    ----------
    readings : xarray.Dataset
        The glossary's READINGS at irregular, rising ``time`` (reading,), with the attribute ``covers``.
    track : xarray.Dataset
        Its ``time`` (step,) is read, and ``step_s``.

    Returns
    -------
    xarray.Dataset
        READINGS over the track's ``time``: watts, volts, amps as means and ``read_engine_on`` as the part of each
        step; state of charge and amp-hours at its start; NaN where less than half of the step is read.
        The attributes of the readings are kept.
    """
    check_dataset(readings, READINGS, door="on_steps")
    starts = track["time"].values.astype("datetime64[ns]")
    step_s = step_seconds(track)
    at_s = (readings["time"].values.astype("datetime64[ns]") - starts[0]).astype(np.int64) / 1e9
    edge_s = np.append((starts - starts[0]).astype(np.int64) / 1e9, 0.0)
    edge_s[-1] = edge_s[-2] + step_s
    covers = readings.attrs.get("covers", "instant")

    arrays: dict[str, Floats] = {}
    for name in READINGS:
        columns = np.atleast_2d(readings[name].values.astype(np.float64).T)
        laid = []
        for column in columns:
            good = np.isfinite(column)
            time_s, value = at_s[good], column[good]
            gap_s = 60.0 * longest_gap_min(time_s)
            if name in STATES:
                laid.append(_at_starts(time_s, value, edge_s[:-1], gap_s))
                continue
            shape = "held" if covers == "since the last" else "nearest" if name == "read_engine_on" else "straight"
            laid.append(_means(time_s, value, edge_s, gap_s, shape))
        arrays[name] = np.stack(laid, axis=-1) if "controller" in READINGS[name].dims else laid[0]

    coords = {"time": starts, "controller": readings["controller"].values}
    steps = to_dataset(arrays, READINGS, coords=coords, door="on_steps")
    for name in READINGS:
        steps[name].attrs.update(readings[name].attrs)
    steps.attrs = {**readings.attrs, "step_s": step_s}
    return steps


def _at_starts(time_s: Floats, value: Floats, at_s: Floats, gap_s: float) -> Floats:
    """Return a state (step,) at moments between readings that are not too far apart; NaN elsewhere."""
    if time_s.size == 0:
        return np.full(at_s.shape, np.nan)
    state = np.interp(at_s, time_s, value)
    after = np.searchsorted(time_s, at_s, side="left")
    inside = (after < time_s.size) & (at_s >= time_s[0])
    later = np.minimum(after, time_s.size - 1)
    earlier = np.maximum(later - 1, 0)
    exact = time_s[later] == at_s
    near = exact | (time_s[later] - time_s[earlier] <= gap_s)
    return np.where(inside & near, state, np.nan)


def _means(time_s: Floats, value: Floats, edge_s: Floats, gap_s: float, shape: str) -> Floats:
    """Return the mean over each step of what was read; NaN where less than half of the step was.

    The course between readings is integrated exactly from one edge to the next: trapezia of ``straight`` lines,
    rectangles of values ``held`` since the reading before or of the ``nearest`` reading.
    """
    steps = edge_s.size - 1
    if time_s.size < 2:
        return np.full(steps, np.nan)
    long = np.diff(time_s)
    open_ = long <= gap_s
    before, after = value[:-1], value[1:]
    whole = long * (after if shape == "held" else (before + after) / 2.0)
    sum_at = np.append(0.0, np.cumsum(np.where(open_, whole, 0.0)))
    cover_at = np.append(0.0, np.cumsum(np.where(open_, long, 0.0)))

    inside = np.clip(edge_s, time_s[0], time_s[-1])
    stretch = np.clip(np.searchsorted(time_s, inside, side="right") - 1, 0, long.size - 1)
    into = inside - time_s[stretch]
    first, second, length = before[stretch], after[stretch], long[stretch]
    if shape == "held":
        part = into * second
    elif shape == "nearest":
        half = length / 2.0
        part = np.minimum(into, half) * first + np.maximum(into - half, 0.0) * second
    else:
        part = into * (first + (second - first) * into / length / 2.0)
    bridged = open_[stretch]
    total = np.diff(sum_at[stretch] + np.where(bridged, part, 0.0))
    covered = np.diff(cover_at[stretch] + np.where(bridged, into, 0.0))
    enough = covered / np.diff(edge_s) >= LEAST_PART
    return np.where(enough, total / np.where(enough, covered, 1.0), np.nan)
