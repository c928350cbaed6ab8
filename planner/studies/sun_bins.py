"""A controller's yield by where the sun stands over the boat, and the shadow of something the model does not know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.studies.judged_steps import Judged
from planner.studies.panel_levels import Levels

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

BEARING_DEG: Final = 30.0  # degree, width of a bin
ELEVATION_DEG: Final = 15.0  # degree
# the project's own, tried on made readings
DEEP: Final = 0.10  # 1, a logarithm: how far under the rest a bin must be
SURE: Final = 3.0  # 1, standard deviations
ONE_LOOK_SD: Final = 0.05  # 1, of one hour's look at a bin: shade and aim of that hour
LEAST_HOURS: Final = 1.0  # h in a bin
LEAST_REST_H: Final = 2.0  # h in the other bins
LEAST_DAYS: Final = 2  # days on which the shadow must be seen
REST_LIES_AT: Final = 0.6  # 1, quantile of the bins that stands for the rest
MOST_OF: Final = 0.6  # 1, of the judged hours that a shadow may cover; more is no shadow but a weak panel


@dataclass(frozen=True, eq=False)
class Bins:
    """Means by the sun's place.

    Attributes
    ----------
    bearing_deg, elevation_deg : array (bin,)
        Middles [degree].
    value, sd : array (bin,)
        Logarithm of read over expected, and its standard deviation [1].
    hours : array (bin,)
        Judged [h].
    deep : bool array (bin,)
        Where the yield falls short of the rest, day after day.
    of_step : int array (time,)
        The bin of each step; -1 where it is not judged.
    """

    bearing_deg: Floats
    elevation_deg: Floats
    value: Floats
    sd: Floats
    hours: Floats
    deep: Flags
    of_step: Ints


def sun_bins(levels: Levels, judged: Judged, day: Ints, c: int) -> Bins:
    """Return a controller's means by the sun's place, and which of them a shadow must be in.

    Parameters
    ----------
    levels : Levels
    judged : Judged
    day : int array (time,)
        Steps of one number are of one day.
    c : int
        The controller.
    """
    apart = levels.sky.apart[:, c]
    fair = judged.fair[:, c] & np.isfinite(apart)
    columns = np.floor(judged.bearing_deg / BEARING_DEG).astype(np.int64)
    rows = np.floor(judged.elevation_deg / ELEVATION_DEG).astype(np.int64)
    kind = np.where(fair, 100 * rows + columns, -1)
    numbers = np.unique(kind[fair])
    of_step = np.searchsorted(numbers, kind)
    of_step[~fair] = -1
    value, deviation, hours, seen = (np.zeros(numbers.size) for _ in range(4))
    for b in range(numbers.size):
        here = np.flatnonzero(of_step == b)
        hours[b] = here.size * judged.step_h
        days = np.unique(day[here])
        by_day = np.array([np.median(apart[here[day[here] == one]]) for one in days])
        value[b] = np.median(apart[here])
        looks = max(1.0, min(hours[b], 2.0 * days.size))
        deviation[b] = ONE_LOOK_SD / np.sqrt(looks)
        seen[b] = np.sum(by_day < _rest(levels, c) - 0.5 * DEEP) if days.size else 0
        if seen[b] < 0.7 * days.size:
            seen[b] = 0
    deep = np.zeros(numbers.size, dtype=np.bool_)
    if numbers.size:
        rest = float(np.quantile(np.repeat(value, np.maximum(np.round(hours * 6), 1).astype(int)), REST_LIES_AT))
        off = value - rest
        deep = (off < -DEEP) & (off / deviation < -SURE) & (hours >= LEAST_HOURS) & (seen >= LEAST_DAYS)
        covered = float(hours[deep].sum())
        if covered > MOST_OF * hours.sum() or hours.sum() - covered < LEAST_REST_H:
            deep[:] = False
    return Bins(
        (numbers % 100 + 0.5) * BEARING_DEG,
        (numbers // 100 + 0.5) * ELEVATION_DEG,
        value,
        deviation,
        hours,
        deep,
        of_step,
    )


def _rest(levels: Levels, c: int) -> float:
    level = levels.of[c]
    return max(level.before, level.after)


def in_words(bins: Bins) -> str:
    """Return where the sun stands in the deep bins: bearing by the side, and height."""
    spans = _runs(sorted({float(x) for x in bins.bearing_deg[bins.deep]}))
    sides = " or ".join(_side(low, high) for low, high in spans)
    low = float(bins.elevation_deg[bins.deep].min() - ELEVATION_DEG / 2.0)
    high = float(bins.elevation_deg[bins.deep].max() + ELEVATION_DEG / 2.0)
    height = f"under {high:.0f} degrees high" if low < ELEVATION_DEG else f"{low:.0f} to {high:.0f} degrees high"
    return f"with the sun {sides}, {height}"


def _runs(middles: list[float]) -> list[tuple[float, float]]:
    """Return unbroken spans of bearings, those across the bow joined [degree]."""
    spans: list[list[float]] = []
    for middle in middles:
        low, high = middle - BEARING_DEG / 2.0, middle + BEARING_DEG / 2.0
        if spans and spans[-1][1] == low:
            spans[-1][1] = high
        else:
            spans.append([low, high])
    if len(spans) > 1 and spans[0][0] == 0.0 and spans[-1][1] == 360.0:
        spans[0][0] = spans.pop()[0] - 360.0
    return [(low, high) for low, high in spans]


def _side(low: float, high: float) -> str:
    """Return a span of bearings as from the bow: to starboard, to port, or across bow or stern."""
    if high - low >= 360.0:
        return "anywhere"
    if low >= 0.0 and high <= 180.0:
        return f"{low:.0f} to {high:.0f} degrees to starboard"
    if low >= 180.0:
        return f"{360.0 - high:.0f} to {360.0 - low:.0f} degrees to port"
    if low < 0.0:
        return f"from {-low:.0f} degrees to port across the bow to {high:.0f} to starboard"
    return f"from {low:.0f} degrees to starboard across the stern to {360.0 - high:.0f} to port"
