"""The first run: kernels of the decision are compiled in a process beside, while light is collected along the track.

Numba compiles one kernel at a time in a process. What comes late in a plan is therefore compiled on another core by
deciding a day of a made boat, whose arrays have the types of any; the plan finds it in numba's cache.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import numpy as np
import xarray as xr

from planner.decision.policy.decide import decide
from planner.decision.policy.program import best_ladder
from planner.domain.inputs.passage import Watch, Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.domain.voyage import Course

STEP_S = 3600.0  # s
STEPS, MEMBERS = 24, 3


def are_compiled() -> bool:
    """Return whether numba's cache holds a kernel that an earlier plan needed late."""
    kept = best_ladder.stats.cache_path
    return kept is not None and any(Path(kept).glob("*.best_ladder-*.nbi"))


@contextmanager
def compiled_beside() -> Iterator[bool]:
    """Have the decision's kernels compiled in another process where they are not yet; say whether that is so."""
    if are_compiled() or (os.cpu_count() or 1) < 2:
        yield False
        return
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-P", "-m", __name__]
    with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as process:  # noqa: S603 - our own
        try:
            yield True
        finally:
            process.terminate()  # it is done, or the plan has compiled all itself, or was refused


def decide_a_day() -> None:
    """Decide a day of a made boat, and so compile or load every kernel of a decision."""
    time = np.datetime64("2026-05-03T21:00", "ns") + np.arange(STEPS) * np.timedelta64(1, "h")
    flags = {
        "under_engine": ("time", np.zeros(STEPS, dtype=np.int8)),
        "heel_deg": ("time", np.zeros(STEPS)),
    }
    track = xr.Dataset(flags, coords={"time": time}, attrs={"step_s": STEP_S})
    sun_w = np.clip(np.sin(np.arange(STEPS) / STEPS * 2.0 * np.pi), 0.0, None) * 200.0
    courses = []
    for member in range(MEMBERS):
        coords = {"time": time, "member": [member]}
        offered = (("member", "time", "controller"), sun_w[None, :, None])
        asked = (("member", "time"), np.full((1, STEPS), 120.0))
        harvest = xr.Dataset({"controller_power_w": offered}, coords=coords, attrs={"step_s": STEP_S})
        demand = xr.Dataset({"demand_power_w": asked}, coords=coords, attrs={"step_s": STEP_S})
        courses.append(Course(track, harvest, demand))
    decide(
        courses,
        courses[0],
        bank=Bank(chemistry="lifepo4", nominal_v=12, capacity_ah=100.0, reserve_soc=0.3),
        engine=Engine(alternator_a=60.0, charging_l_per_h=2.0, motoring_l_per_h=3.0, tank_l=100.0),
        watches=[Watch(start="00:00", end="12:00", role="one"), Watch(start="12:00", end="00:00", role="other")],
        wishes=Wishes(),
        start_soc=0.6,
        ship_offset=timedelta(0),
        seed=1,
    )


if __name__ == "__main__":
    decide_a_day()
