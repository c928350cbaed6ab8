#!/usr/bin/env python3
"""Score an ensemble's sunlight, as it comes and as the planner sets it apart, against what could stand for truth.

Usage: ``python scripts/score_ensemble.py ../shared/data`` (the folder of open data).

One GEFS run of 2019-05-15 at a place in Arizona: p10 to p90 coverage, rank histogram and CRPS of the energy of a day
and of three days. Nothing measured lies beside it. What stands for truth is another model's run of the same hour,
which shares analysis and habits with the ensemble, or one of the members, which the others suit by making; what was
really seen may lie further off than either. The correction is also fitted on half of the days and scored on the rest.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.glossary import FORECAST
from planner.domain.schema import attributes
from planner.physics.sky.doubt import LEAST_SPREAD, SPREAD_FACTOR, spread_out
from planner.readers.forecast.field import Field
from planner.readers.forecast.fields import read_fields
from planner.readers.forecast.file import open_parts
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.weather import middles, sky_along

Floats = npt.NDArray[np.float64]

MEMBERS = tuple(f"gefs_20190515/gefs_20190515_{name}.nc" for name in ("c00", *(f"p{n:02d}" for n in range(1, 21))))
OTHERS = {"GFS 0.25": "gfs_0p25_20190515.nc", "NAM 12 km": "nam_12km_20190515.nc"}
LAT, LON = 32.25, -110.25
FIRST = np.datetime64("2019-05-15T10:00", "ns")  # 0240 by the sun there
DAYS, STEP_S = 15, 600.0
BRIGHTEST_DAYS = 5  # on which two models differ by their clear skies alone
STEPS_A_DAY = int(86400 / STEP_S)
FACTORS, FLOORS = (1.0, 1.15, 1.3, 1.5, 1.8), (0.0, 0.15, 0.25, 0.3, 0.35, 0.45)


@dataclass(frozen=True)
class Score:
    """How an ensemble suits what came.

    Attributes
    ----------
    cases : int
        Scored.
    coverage : float
        Part of them between p10 and p90 [0..1].
    crps : float
        Continuous ranked probability score over the mean of the truth [1].
    ranks : int array (members + 1,)
        How often so many members lay under the truth.
    """

    cases: int
    coverage: float
    crps: float
    ranks: npt.NDArray[np.int64]


def score(energy: Floats, truth: Floats) -> Score:
    """Return the score of an ensemble.

    Parameters
    ----------
    energy : array (member, case)
        As forecast.
    truth : array (case,)
        In the same unit; NaN where there is none.
    """
    known = np.isfinite(truth)
    energy, truth = energy[:, known], truth[known]
    low, high = np.percentile(energy, (10.0, 90.0), axis=0)
    # Gneiting and Raftery 2007, JASA 102, 359-378, eq. 21
    apart = np.abs(energy[:, None] - energy[None]).mean(axis=(0, 1))
    crps = np.abs(energy - truth).mean(axis=0) - 0.5 * apart
    ranks = np.bincount((energy < truth).sum(axis=0), minlength=energy.shape[0] + 1)
    inside = (truth >= low) & (truth <= high)
    return Score(int(known.sum()), float(inside.mean()), float(crps.mean() / truth.mean()), ranks)


def at_rest() -> xr.Dataset:
    """Return a track that stays where the files overlap."""
    steps = DAYS * STEPS_A_DAY
    still = {name: ("time", np.zeros(steps)) for name in ("course_deg", "speed_over_ground_kn")}
    place = {"lat": ("time", np.full(steps, LAT)), "lon": ("time", np.full(steps, LON))}
    time = FIRST + np.arange(steps) * np.timedelta64(int(STEP_S), "s")
    return xr.Dataset(still | place, coords={"time": time}, attrs={"step_s": STEP_S})


def light_of(path: Path) -> xr.Dataset:
    """Return a file's sunlight as a forecast of one member; its wind and warmth, not scored, are made up."""
    parts = open_parts(path)
    try:
        fields: dict[str, Field] = {
            field.quantity: field for field in read_fields(parts, path.name, corridor=None, span=None).fields
        }
    finally:
        for part in parts:
            part.close()
    light = fields["ghi_w_m2"]
    start = light.time if light.start is None else light.start  # without spans the light holds at moments
    times = np.unique(np.append(start[:1], light.time))
    shape = (1, times.size, light.lat.size, light.lon.size)
    dims = ("member", "time", "lat", "lon")
    made = {name: (dims, np.zeros(shape), attributes(quantity)) for name, quantity in FORECAST.items()}
    return xr.Dataset(
        {
            **made,
            "ghi_w_m2": (("member", "interval", "lat", "lon"), light.values),
            "interval_end": ("interval", light.time),
        },
        coords={"member": [0], "time": times, "interval": start, "lat": light.lat, "lon": light.lon},
    )


def ghi_of(path: Path) -> Floats:
    """Return a file's sunlight along the track at rest, (step,) [W/m2]; NaN past its end."""
    forecast, track = light_of(path), at_rest()
    within = track["time"] + np.timedelta64(int(STEP_S), "s") <= forecast["interval_end"][-1]
    lit = sky_along(track.isel(time=within.to_numpy()), forecast)["ghi_w_m2"].to_numpy()[0]
    return np.concatenate([lit, np.full(track.sizes["time"] - lit.size, np.nan)])


def energy(ghi: Floats, days: int) -> Floats:
    """Return the energy of each span of so many days, one beginning each day, (..., case) [Wh/m2]."""
    daily = ghi.reshape(*ghi.shape[:-1], DAYS, STEPS_A_DAY).sum(axis=-1) * STEP_S / 3600.0
    return np.lib.stride_tricks.sliding_window_view(daily, days, axis=-1).sum(axis=-1)


@dataclass(frozen=True)
class Run:
    """The ensemble and what may stand for truth.

    Attributes
    ----------
    index : array (member, step)
        Clear-sky index as the members have it [1].
    clear : array (step,)
        Clear sky [W/m2].
    truths : dict of str to array (step,)
        [W/m2].
    """

    index: Floats
    clear: Floats
    truths: dict[str, Floats]

    def ghi(self, factor: float, least: float) -> Floats:
        """Return the members' sunlight set apart so, (member, step) [W/m2]."""
        return spread_out(self.index, factor=factor, least=least) * self.clear


def read_run(data: Path) -> Run:
    """Return the run with the others beside it, and GFS made as bright as the ensemble on its brightest days."""
    clear = clear_sky(*middles(at_rest()))[2]
    up = clear > 0.0
    members = np.stack([ghi_of(data / "weather" / name) for name in MEMBERS])
    index = np.where(up, members / np.where(up, clear, 1.0), 0.0)
    truths = {name: ghi_of(data / "weather" / file) for name, file in OTHERS.items()}
    daily, median = energy(truths["GFS 0.25"], 1), np.median(energy(index * clear, 1), axis=0)
    brightest = np.argsort(daily)[-BRIGHTEST_DAYS:]
    truths["GFS matched"] = truths["GFS 0.25"] * float(np.median(median[brightest] / daily[brightest]))
    return Run(index, clear, truths)


AS_IT_COMES = (1.0, 0.0)
CORRECTED = (SPREAD_FACTOR, LEAST_SPREAD)


def best_on(run: Run, days: npt.NDArray[np.bool_]) -> tuple[float, float]:
    """Return the factor and floor of least CRPS of the day's energy against GFS matched, on some of the days."""
    truth = np.where(days, energy(run.truths["GFS matched"], 1), np.nan)

    def crps(setting: tuple[float, float]) -> float:
        return score(energy(run.ghi(*setting), 1), truth).crps

    return min(product(FACTORS, FLOORS), key=crps)


def held_out(run: Run) -> list[tuple[tuple[float, float], Score, Score]]:
    """Return the setting fitted on each half of the days, its score and the raw one's on the other half."""
    odd = np.arange(DAYS) % 2 == 0
    found = []
    for fitted in (odd, ~odd):
        setting = best_on(run, fitted)
        truth = np.where(fitted, np.nan, energy(run.truths["GFS matched"], 1))
        found.append((setting, *(score(energy(run.ghi(*s), 1), truth) for s in (setting, AS_IT_COMES))))
    return found


def among_members(run: Run, setting: tuple[float, float], days: int) -> Score:
    """Return the score with each member in turn for truth and the others for the ensemble."""
    members = np.arange(run.index.shape[0])
    scores = []
    for one in members:
        others = Run(run.index[members != one], run.clear, {})
        scores.append(score(energy(others.ghi(*setting), days), energy(run.index[one] * run.clear, days)))
    return Score(
        sum(each.cases for each in scores),
        float(np.mean([each.coverage for each in scores])),
        float(np.mean([each.crps for each in scores])),
        np.sum([each.ranks for each in scores], axis=0),
    )


def grouped(ranks: npt.NDArray[np.int64], groups: int = 5) -> str:
    """Return a rank histogram in a few groups of ranks, in percent."""
    edges = np.linspace(0, ranks.size, groups + 1).round().astype(int)[:-1]
    return " ".join(f"{100 * part / ranks.sum():3.0f}" for part in np.add.reduceat(ranks, edges))


def main() -> None:
    """Print the table."""
    if len(sys.argv) != 2:
        sys.exit(str(__doc__))
    run = read_run(Path(sys.argv[1]))
    print(f"{'truth':12} {'span':6} {'members':14} {'cases':>5} {'p10-p90':>8} {'CRPS':>6}  ranks in fifths, %")
    for (name, truth), days in product(run.truths.items(), (1, 3)):
        for label, setting in (("as they come", AS_IT_COMES), ("set apart", CORRECTED)):
            row = score(energy(run.ghi(*setting), days), energy(truth, days))
            _print_row(name, days, label, row)
    for days, (label, setting) in product((1, 3), (("as they come", AS_IT_COMES), ("set apart", CORRECTED))):
        _print_row("a member", days, label, among_members(run, setting, days))
    size = run.index.shape[
        0
    ]  # p10 and p90 are drawn straight between members, so that a few stand for less than 80 %
    print(f"a perfect ensemble of {size}: p10 to p90 hold {0.8 * (size - 1) / (size + 1):.0%}")
    for setting, fitted, raw in held_out(run):
        print(
            f"fitted on half of the days: factor {setting[0]:g}, floor {setting[1]:g}; on the other half coverage "
            f"{fitted.coverage:.0%}, CRPS {fitted.crps:.1%} (as they come {raw.coverage:.0%}, {raw.crps:.1%})"
        )


def _print_row(name: str, days: int, label: str, row: Score) -> None:
    print(
        f"{name:12} {days:3} d  {label:14} {row.cases:5d} {row.coverage:8.0%} {row.crps:6.1%}  {grouped(row.ranks)}"
    )


if __name__ == "__main__":
    main()
