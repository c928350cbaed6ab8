"""Print what departures side by side take in one process and in two, and how pairing members narrows a difference.

Run by ``scripts/bench``; the number of departures may be given, an hour apart: 24 take some 200 s of processor.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

from planner.app.inputs import read_inputs
from planner.app.verbs.compare import compare
from planner.domain.results.figures import Spread

DEMO = Path(__file__).parents[1] / "data" / "demo" / "passage.toml"
FEW = 4  # departures


def width(spread: Spread) -> float:
    """Return how far the middle eight tenths of the members reach."""
    return spread.p90 - spread.p10


def measure(departures: int, jobs: int) -> None:
    """Compare departures and print time, memory and spreads."""
    began = time.perf_counter()
    comparison = compare(read_inputs(DEMO, ()), [f"departure=+1h..+{departures}h/1h"], jobs=jobs)
    wall_s = time.perf_counter() - began
    here, workers = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    cpu_s = sum(each.ru_utime + each.ru_stime for each in (here, workers))
    print(
        f"{departures} departures, {jobs} at once: {wall_s:.0f} s, {cpu_s:.0f} s of processor; "
        f"{here.ru_maxrss // 1024} MiB here"
        + (f", {workers.ru_maxrss // 1024} MiB the larger worker" if jobs > 1 else "")
    )
    base = comparison.base.figures
    for row in comparison.rows[:: max(departures - 1, 1)] if jobs == 1 else ():
        if row.figures is not None and row.difference is not None and base is not None:
            apart_h = (width(row.figures.charging_h) ** 2 + width(base.charging_h) ** 2) ** 0.5
            print(
                f"  {row.name}: the middle eight tenths of the difference in charging are "
                f"{width(row.difference.charging_h):.1f} h wide; unpaired, {apart_h:.1f} h"
            )


if __name__ == "__main__":
    asked = [int(word) for word in sys.argv[1:]]
    if len(asked) == 2:
        measure(*asked)
    else:
        for processes in (1, 2):  # each from the start, so that memory is its own
            subprocess.run([sys.executable, __file__, str(asked[0] if asked else FEW), str(processes)], check=True)
