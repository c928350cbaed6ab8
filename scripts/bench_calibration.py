"""Check that on weathers never seen the reserve is kept as often as asked, and as often as the plan says.

For each size of ensemble, synthetic forecasts of three kinds; the decision plans on the members and 300 others of the
same forecast are run by its ladders, every meter with its own lasting error. Run from the project's root:
``python scripts/bench_calibration.py [FORECASTS]``.
"""

# ruff: noqa: E402 - the paths come before the imports that need them

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "tests" / "decision")]

from bench_decision import HELD_OUT, KINDS, decided, outcome, table_of
from synthetic_ensemble import WISHES, make_ensemble

from planner.decision.policy.calibrate import meter_offsets

SIZES = (11, 21, 51)  # members planned on


def main() -> None:
    """Print, for each size: what was promised, what was reported, what was kept, and at what cost."""
    forecasts = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    print(f"asked {WISHES.confidence:.0%}; {forecasts} forecasts, {HELD_OUT} held-out members each")
    print("members  margin  reported  kept (scatter; worst)  in its interval  hours with owed")
    for size in SIZES:
        rows = []
        for number in range(forecasts):
            array_w, gloom = list(KINDS.values())[number % len(KINDS)]
            whole = make_ensemble(seed=200 + number, members=size + HELD_OUT, array_w=array_w, gloom=gloom)
            planning, held_out = whole.members(slice(0, size)), whole.members(slice(size, None))
            decision = decided(planning, number)
            offsets = meter_offsets(HELD_OUT, 1, sd=WISHES.meter_error, seed=1000 + number)[0]
            result = outcome(held_out, decision.policy, offsets, table_of(planning)[1].owed_min)
            said = decision.reserve_kept
            rows.append(
                (
                    decision.margin,
                    said.kept / said.members,
                    result.kept,
                    float(said.low <= result.kept <= said.high),
                    result.hours + result.owed_h,
                )
            )
        margin, reported, kept, inside, hours = np.mean(rows, axis=0)
        each = [row[2] for row in rows]
        print(
            f"{size:7d}  {margin:6.1%}  {reported:8.1%}  {kept:5.1%} ({np.std(each):4.1%}; {min(each):4.0%})"
            f"{inside:17.0%}  {hours:15.2f}"
        )


if __name__ == "__main__":
    main()
