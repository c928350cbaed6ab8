#!/usr/bin/env python3
"""Give made sunlight in every usual kind without a word of which, and print how often it is read wrong or asked for.

Usage: ``python scripts/sweep_kinds.py [PLACES [SEED]]`` (192 places and seasons, and seed 1, where not given).

Under a cloudless sky by the planner's own relation, with haze and height that differ, cloud comes and goes by the
hour and the day, leans to the morning or the afternoon, and is partly the same at neighbouring places and for all
members. A file is read wrong where the reading taken gives other energies by the day than the one of the file.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import beta

from planner.readers.forecast.sunlight.flux import MEANS, MOMENTS, SUMS, Reading, starts
from planner.readers.forecast.sunlight.kinds import Given, same_by_day, settle
from planner.simulation.sky.clear_sky import clear_sky

Floats = npt.NDArray[np.float64]
FINE_MIN = 15
STEPS_MIN = (15, 60, 180, 360)


@dataclass(frozen=True, eq=False)
class Truth:
    """Light as it was, every quarter of an hour.

    Attributes
    ----------
    start : datetime64
        UTC.
    light : array (member, time, lat, lon)
        Means over each quarter [W/m2].
    lat, lon : array
        [degree].
    """

    start: np.datetime64
    light: Floats
    lat: Floats
    lon: Floats


def made(rng: np.random.Generator) -> Truth:
    """Return some days of light at a place and season of chance."""
    lat = rng.uniform(-55.0, 55.0) + np.arange(3.0)
    lon = rng.uniform(-180.0, 177.0) + np.arange(3.0)
    members, days = int(rng.choice([1, 1, 5, 20])), int(rng.integers(2, 8))
    issued = int(rng.choice([0, 6, 12, 18]))
    start = np.datetime64("2027-01-01", "ns") + np.timedelta64(int(rng.integers(0, 364)) * 24 + issued, "h")
    count = days * 24 * 60 // FINE_MIN
    time = start + (np.arange(count) * FINE_MIN + FINE_MIN // 2) * np.timedelta64(1, "m")
    shape = (members, count, lat.size, lon.size)
    place = rng.normal(1.2, 1.0) + 0.3 * rng.standard_normal((1, 1, *shape[2:]))
    hour = (time - start.astype("datetime64[D]")) / np.timedelta64(1, "h") + lon.mean() / 15.0
    leaning = rng.normal(0.0, 0.4) * np.sin((hour - 12.0) * np.pi / 12.0)[None, :, None, None]
    cloud = place + leaning + _drifting(rng, shape, 30.0, 0.8) + _drifting(rng, shape, rng.uniform(2.0, 6.0), 0.8)
    index = 1.04 / (1.0 + np.exp(-cloud))
    rows, columns = np.meshgrid(lat, (lon + 180.0) % 360.0 - 180.0, indexing="ij")
    share, height = rng.uniform(0.7, 1.1), rng.uniform(0.98, 1.06)
    clear = np.array(
        [clear_sky(np.full(9, moment), rows.ravel(), columns.ravel(), turbidity_share=share)[2] for moment in time]
    )
    return Truth(start, index * height * clear.reshape(1, count, 3, 3), lat, lon)


def _drifting(rng: np.random.Generator, shape: tuple[int, ...], memory_h: float, deviation: float) -> Floats:
    """Return noise that remembers itself, two thirds of it the same at all places, half of it for all members."""
    keep = np.exp(-FINE_MIN / 60.0 / memory_h)
    parts = [(1, shape[1], 1, 1), (shape[0], shape[1], 1, 1), shape]
    total = np.zeros(shape)
    for size in parts:
        fresh = rng.standard_normal(size)
        series = np.empty(size)
        series[:, 0] = fresh[:, 0]
        for i in range(1, size[1]):
            series[:, i] = keep * series[:, i - 1] + np.sqrt(1.0 - keep**2) * fresh[:, i]
        total = total + series / np.sqrt(3.0)
    return deviation * total


def written(truth: Truth, reading: Reading, step_min: int) -> Given:
    """Return a truth as a file would have it, of one kind and step; rounded as packed."""
    per = step_min // FINE_MIN
    count = truth.light.shape[1] // per
    time = truth.start + np.arange(1, count + 1) * np.timedelta64(step_min, "m")
    cumulated = np.concatenate([np.zeros_like(truth.light[:, :1]), np.cumsum(truth.light, axis=1)], axis=1)
    ends = np.arange(1, count + 1) * per
    if reading.restart_h is None:
        after = truth.light[:, np.minimum(ends, truth.light.shape[1] - 1)]
        return _given(0.5 * (truth.light[:, ends - 1] + after), time, truth)
    begins = ((starts(reading, time, truth.start) - truth.start) / np.timedelta64(FINE_MIN, "m")).round().astype(int)
    sums = cumulated[:, ends] - cumulated[:, begins]
    seconds = FINE_MIN * 60.0 if reading.summed else 1.0 / np.maximum(ends - begins, 1)[:, None, None]
    return _given(sums * seconds, time, truth)


def _given(values: Floats, time: npt.NDArray[np.datetime64], truth: Truth) -> Given:
    return Given(values.round(1).astype(np.float32), time, truth.lat, truth.lon, truth.start)


def main() -> None:
    """Print the table."""
    places, seed = (int(word) for word in [*sys.argv[1:], *("192", "1")[len(sys.argv) - 1 :]])
    rng = np.random.default_rng(seed)
    truths = [made(rng) for _ in range(places)]
    whole: Counter[str] = Counter()
    print(f"{'kind':48} {'step':>7} {'right':>6} {'wrong':>6} {'asked':>6} {'none':>5}")
    for kinds, open_to in (((MOMENTS, *MEANS), (MOMENTS, *MEANS)), (SUMS, SUMS)):
        for kind in kinds:
            for step_min in STEPS_MIN:
                if kind.restart_h and np.isfinite(kind.restart_h) and kind.restart_h * 60 <= step_min:
                    continue  # then it is the step's
                found: Counter[str] = Counter()
                for truth in truths:
                    given = written(truth, kind, step_min)
                    left = settle(open_to, [given])
                    right = len(left) == 1 and (left[0] == kind or same_by_day(kind, left[0], given))
                    found["none" if not left else "asked" if len(left) > 1 else "right" if right else "wrong"] += 1
                whole += found
                shares = " ".join(f"{found[each] / places:6.1%}" for each in ("right", "wrong", "asked", "none"))
                print(f"{kind.words:48} {step_min:4} min {shares}", flush=True)
    tries = whole.total()
    bound = beta.ppf(0.95, whole["wrong"] + 1, tries - whole["wrong"])  # Clopper and Pearson 1934
    print(
        f"{tries} files: wrong {whole['wrong']} (95 % bound {bound:.3%}), asked {whole['asked'] / tries:.1%}, "
        f"no reading {whole['none'] / tries:.1%}"
    )


if __name__ == "__main__":
    main()
