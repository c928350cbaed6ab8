#!/usr/bin/env python3
"""Score the outcomes of single runs, made by the planner, against what could stand for truth, by lead.

Usage: ``python scripts/score_run.py ../shared/data`` (the folder of open data).

Each member of one GEFS run of 2019-05-15 is planned with as if it were a single run, at a place in Arizona. What
stands for truth is another model's run of the same hour, made as bright as the ensemble on its brightest days, or
each other member; nothing measured lies beside it. The place lies high, where the clear sky is brighter than at sea:
all light is scaled so that the brightest tenth of the members' days is a cloudless sea's. How fast trust decays is
also chosen on half of the days and scored on the other half. Beside it stand the days measured by a buoy: how bright
they get, and how a day tells of the next.
"""

from __future__ import annotations

import sys
from itertools import product
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from score_ensemble import MEMBERS, STEP_S, STEPS_A_DAY, at_rest, energy, light_of, read_run, score

from planner.physics.sky.doubt import (
    BRIGHTEST,
    RUN_AT_ONCE,
    TRUST_DECAYS_H,
    correlated_errors,
    deviation_at,
    on_scale,
)
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import HOUR, calendar_of, extend, issue_of
from planner.simulation.sky.weather import sky_along

Floats = npt.NDArray[np.float64]
Truths = dict[str, list[tuple[int, Floats]]]
"""For each kind of truth: which run, and the energy of each day that came, (day,) [Wh/m2]."""

OUTCOMES = 40
LEADS_D = {"days 1-3": slice(0, 3), "days 4-7": slice(3, 7), "days 8-15": slice(7, 15), "all": slice(0, 15)}
AT_ONCE, DECAYS_H = (0.85, 0.90, 0.95), (60.0, 120.0, 170.0, 240.0)
CHOSEN = (RUN_AT_ONCE, TRUST_DECAYS_H)
BRIGHT = 1.05  # 1, of a cloudless day


def as_single(path: Path, level: float) -> xr.Dataset:
    """Return a member as a single run with its outcomes, its light scaled."""
    run = light_of(path).assign_attrs(issued="2019-05-15T00:00:00Z")
    run["ghi_w_m2"] = run["ghi_w_m2"] * level
    return extend(run, at_rest()["time"].to_numpy()[0], seed=1, lone_outcomes=OUTCOMES)


def trusted(forecast: xr.Dataset, at_once: float, decays_h: float) -> Floats:
    """Return the energy of the outcomes' days under a trust, (outcome, day) [Wh/m2]."""
    labels, _ = calendar_of(forecast)
    trust = at_once * np.exp(-np.maximum((labels - issue_of(forecast)) / HOUR, 0.0) / decays_h)
    errors = correlated_errors((labels - labels[0]) / HOUR, deviation_at(trust), OUTCOMES, np.random.default_rng(1))
    dims = ("outcome", "calendar")
    doubted = forecast.assign(
        light_trust=(dims, np.broadcast_to(trust, errors.shape).copy()), light_error=(dims, errors)
    )
    return energy(sky_along(at_rest(), doubted)["ghi_w_m2"].to_numpy(), 1)


def row(outcomes: list[Floats], came: list[tuple[int, Floats]], days: npt.ArrayLike) -> tuple[float, float, float]:
    """Return coverage of p10 to p90, CRPS over the truth's mean, and bias over it, of some days."""
    every = [(outcomes[run][:, days], truth[days]) for run, truth in came]
    scores = [score(made, truth) for made, truth in every]
    bias = np.mean([made.mean() for made, _ in every]) / np.mean([truth.mean() for _, truth in every]) - 1.0
    return float(np.mean([one.coverage for one in scores])), float(np.mean([one.crps for one in scores])), float(bias)


def truths_of(data: Path) -> tuple[Truths, Floats, float]:
    """Return what may stand for truth, the clear sky's energy of each day, and by what all light is scaled."""
    run = read_run(data)
    clear = energy(run.clear, 1)
    members = [energy(one * run.clear, 1) for one in run.index]
    level = 1.0 / float(np.percentile(np.array(members) / clear, 90.0))
    members = [level * one for one in members]
    matched = level * energy(run.truths["GFS matched"], 1)
    others = [(i, other) for i in range(len(members)) for j, other in enumerate(members) if i != j]
    return {"GFS matched": [(i, matched) for i in range(len(members))], "a member": others}, clear, level


def of_buoy(path: Path) -> str:
    """Return how bright a buoy's days get, and how a day's place on the scale of doubt tells of later ones."""
    with xr.open_dataset(path) as file:
        when, light = pd.DatetimeIndex(file["time"].to_numpy()), file["RD_495"].to_numpy().ravel().astype(float)
    days = np.arange(1, 367)
    moments = np.datetime64("2012-01-01T09:00", "ns") + np.arange(144) * np.timedelta64(10, "m")
    clear = [clear_sky(moments + np.timedelta64(d - 1, "D"), np.zeros(144), np.full(144, -140.0))[2] for d in days]
    index = light / np.array(clear).mean(axis=1)[when.day_of_year - 1]
    index[(light <= 0.0) | (light >= 500.0)] = np.nan
    place = on_scale(index)
    usual = np.array([np.nanmean(place[when.month == month]) for month in range(1, 13)])
    off = pd.Series(place - usual[when.month - 1], index=when).asfreq("D")
    known = np.isfinite(index)
    told = ", ".join(f"{off.corr(off.shift(lag)):.2f}" for lag in (1, 2, 3, 5))
    return (
        f"TAO 0 N 140 W: {known.sum()} days, mean index {np.nanmean(index):.2f}; over {BRIGHT:g} "
        f"{(index[known] > BRIGHT).mean():.2%}, over {BRIGHTEST:g} {(index[known] > BRIGHTEST).mean():.2%}; on the "
        f"scale of doubt scatter {np.nanstd(place):.2f}, correlation after 1, 2, 3, 5 days {told}"
    )


def main() -> None:
    """Print the tables."""
    if len(sys.argv) != 2:
        sys.exit(str(__doc__))
    data = Path(sys.argv[1])
    print(of_buoy(data / "sea" / "TAO_rad0n140w_dy.cdf"))
    truths, clear, level = truths_of(data)
    runs = [as_single(data / "weather" / name, level) for name in MEMBERS]
    made = [energy(sky_along(at_rest(), run)["ghi_w_m2"].to_numpy(), 1) for run in runs]
    print(f"{len(runs)} runs, {OUTCOMES} outcomes each, {clear.size} days of {STEPS_A_DAY} steps of {STEP_S:g} s")
    over = np.mean([(one > BRIGHT * clear).mean() for one in made])
    print(f"outcome-days brighter than {BRIGHT:g} of a cloudless day: {over:.2%}")
    for (name, came), (lead, days) in product(truths.items(), LEADS_D.items()):
        coverage, crps, bias = row(made, came, days)
        print(f"{name:12} {lead:10} p10-p90 {coverage:4.0%}  CRPS {crps:6.1%} of the mean  bias {bias:+.1%}")
    settings = list(product(AT_ONCE, DECAYS_H))
    under = {setting: [trusted(run, *setting) for run in runs] for setting in {*settings, CHOSEN}}
    odd = np.arange(clear.size) % 2 == 0
    for (name, came), half in product(truths.items(), (odd, ~odd)):
        best = min(settings, key=lambda setting: row(under[setting], came, half)[1])
        for label, setting in (("best there", best), ("the planner's", CHOSEN)):
            coverage, crps, _ = row(under[setting], came, ~half)
            said = f"at once {setting[0]:g}, decays over {setting[1]:g} h"
            print(
                f"{name:12} {label:14} {said}: on the other half of the days p10-p90 {coverage:.0%}, CRPS {crps:.1%}"
            )


if __name__ == "__main__":
    main()
