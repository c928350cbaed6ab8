"""Time and memory of a plan: ten days, 10-minute steps, eight panels, one member and 51.

The demo's boat gets two more panels and a fixed speed that makes the passage last ten days; its forecast's members
are repeated with other clouds until there are 51. Each case is measured in a process of its own, warm after its first
plan. Run from the project's root: ``python scripts/bench_plan.py``.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import xarray as xr

PROJECT = Path(__file__).parents[1]
DEMO = PROJECT / "data" / "demo"
SPEED_KN = 4.43  # kn; the demo's route takes ten days at it
DEPARTURE = "2027-05-08T13:00:00Z"

MEASURE = """
import json, resource, sys, time
from pathlib import Path
from planner.app.inputs import read_inputs
from planner.flow.plan import plan_from
from planner.presentation.outputs import write

start = time.perf_counter()
inputs = read_inputs(Path(sys.argv[1]))
read = time.perf_counter() - start
times, peak = [], 0.0
for _ in range(3):
    start = time.perf_counter()
    plan = plan_from(inputs, progress=lambda stage: None)
    times.append(time.perf_counter() - start)
    peak = peak or resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
stages = {}
def note(stage):
    stages[stage] = time.perf_counter()
plan_from(inputs, progress=note)
note("end")
names = list(stages)
spans = {a: stages[b] - stages[a] for a, b in zip(names, names[1:])}
print(json.dumps({"read": read, "first": times[0], "computing": min(times), "stages": spans,
                  "steps": plan.track.sizes["time"], "members": plan.ledger.sizes["member"],
                  "peak_mib": peak}))
"""


def make_case(folder: Path, members: int) -> Path:
    """Write the passage of the measurement and return its file."""
    boat = (DEMO / "boat.toml").read_text(encoding="utf-8")
    blocks = boat.split("[[panel]]")
    deck = blocks[6].split("[[controller]]")[0]
    extra = ""
    for name, y in (("coachroof starboard", "-0.5"), ("foredeck", "0.0")):
        block = deck.replace('"coachroof"', f'"{name}"').replace("0.5, 0.45]", f"{y}, 0.45]")
        extra += "[[panel]]" + (block.replace("[-0.95", "[1.2") if name == "foredeck" else block)
        extra += f'[[controller]]\nname = "{name}"\nstrings = [["{name}"]]\n'
    (folder / "boat.toml").write_text(boat + "\n" + extra, encoding="utf-8")
    (folder / "route.gpx").write_bytes((DEMO / "route.gpx").read_bytes())
    text = (DEMO / "passage.toml").read_text(encoding="utf-8")
    legs = "".join(
        f'\n[[legs]]\nfrom_waypoint = "{name}"\nspeed_kn = {SPEED_KN}\n'
        for name in ("Opua", "off Cape Brett", "northing", "south of Tongatapu", "northwest approach")
    )
    (folder / "passage.toml").write_text(
        text.replace("2027-05-09T10:00:00+12:00", DEPARTURE) + legs, encoding="utf-8"
    )
    with xr.open_dataset(DEMO / "forecast.nc", engine="netcdf4") as on_disk:
        forecast = on_disk.load()
    rng = np.random.default_rng(1)
    chosen = np.arange(members) % forecast.sizes["member"]
    grown = forecast.isel(member=chosen).assign_coords(member=np.arange(members, dtype="int32"))
    again = np.arange(members) >= forecast.sizes["member"]
    for name in grown.data_vars:
        if grown[name].attrs.get("units") in {"1", "%"}:
            shift = np.where(again, rng.normal(0, 0.1, members), 0.0) * (
                100 if grown[name].attrs["units"] == "%" else 1
            )
            top = 100.0 if grown[name].attrs["units"] == "%" else 1.0
            moved = np.clip(grown[name].to_numpy() + shift[:, None, None, None], 0.0, top)
            grown[name] = (grown[name].dims, moved, grown[name].attrs)
    grown.to_netcdf(folder / "forecast.nc", engine="netcdf4")
    return folder / "passage.toml"


def main() -> None:
    """Print one block a case."""
    for members in (1, 51):
        with tempfile.TemporaryDirectory() as name:
            passage = make_case(Path(name), members)
            done = subprocess.run(
                [sys.executable, "-c", MEASURE, str(passage)], cwd=PROJECT, capture_output=True, text=True, check=True
            )
            figures = json.loads(done.stdout.splitlines()[-1])
            command = [
                sys.executable,
                "-m",
                "planner",
                "plan",
                str(passage),
                "--out",
                str(Path(name) / "out"),
                "--quiet",
            ]
            start = time.perf_counter()
            subprocess.run(command, cwd=PROJECT, check=True)
            whole = time.perf_counter() - start
        print(
            f"plan, {figures['steps']} steps, {figures['members']} members: computing {figures['computing']:.2f} s "
            f"(first in its process {figures['first']:.2f}), reading {figures['read']:.2f} s, "
            f"whole command {whole:.2f} s, peak {figures['peak_mib']:.0f} MiB"
        )
        for stage, seconds in figures["stages"].items():
            print(f"    {stage}: {seconds:.2f} s")


if __name__ == "__main__":
    main()
