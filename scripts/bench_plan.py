"""Time and memory of a plan: ten days, 10-minute steps, eight panels, one member and 51.

The demo's boat gets two more panels and a fixed speed that makes the passage last ten days; its forecast's members
are repeated with other clouds until there are 51. Each case is measured in a process of its own, warm after its first
plan. Run from the project's root: ``python scripts/bench_plan.py``.
"""

# ruff: noqa: E402 - the path comes before the imports that need it

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

PROJECT = Path(__file__).parents[1]
sys.path.insert(0, str(PROJECT))

from planner.domain.inputs.route import Waypoint
from planner.readers.route import read_route

DEMO = PROJECT / "data" / "demo"
DAYS = 10.0  # d
SPEED_KN = 4.43  # kn; the demo's route takes as long at it
DEPARTURE = "2027-05-08T13:00:00Z"

MEASURE = """
import json, resource, sys, time
from pathlib import Path
from contextlib import nullcontext
from planner.app.guarding import guard_with
from planner.app.inputs import read_inputs
from planner.flow.plan import plan_from
from planner.presentation.outputs import write
from planner.readers.config import parse_override

guard_with(lambda path: nullcontext())  # as in the command's child
overrides = [parse_override(each) for each in sys.argv[2:]]
start = time.perf_counter()
inputs = read_inputs(Path(sys.argv[1]), overrides)
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
start = time.perf_counter()
write(plan, Path(sys.argv[1]).parent / "out")
writing = time.perf_counter() - start
names = list(stages)
spans = {a: stages[b] - stages[a] for a, b in zip(names, names[1:])}
print(json.dumps({"read": read, "write": writing, "first": times[0], "computing": min(times), "stages": spans,
                  "steps": plan.track.sizes["time"], "members": plan.ledger.sizes["member"],
                  "peak_mib": peak}))
"""


def make_case(folder: Path, members: int, *, panels: int = 8, days: float = DAYS, waypoints: int = 0) -> Path:
    """Write the passage of the measurement and return its file; arguments as ``measured`` has them."""
    boat = (DEMO / "boat.toml").read_text(encoding="utf-8")
    blocks = boat.split("[[panel]]")
    deck = blocks[6].split("[[controller]]")[0]
    extra = ""
    for name, y in (("coachroof starboard", "-0.5"), ("foredeck", "0.0")):
        block = deck.replace('"coachroof"', f'"{name}"').replace("0.5, 0.45]", f"{y}, 0.45]")
        extra += "[[panel]]" + (block.replace("[-0.95", "[1.2") if name == "foredeck" else block)
        extra += f'[[controller]]\nname = "{name}"\nstrings = [["{name}"]]\n'
    (folder / "boat.toml").write_text(_first(boat + "\n" + extra, panels), encoding="utf-8")
    route = read_route(DEMO / "route.gpx")
    if waypoints:
        at = np.linspace(0.0, len(route) - 1.0, waypoints)
        lat, lon = (
            np.interp(at, np.arange(len(route)), axis)
            for axis in ([point.lat for point in route], np.unwrap([point.lon for point in route], period=360.0))
        )
        lon = (lon + 180.0) % 360.0 - 180.0
        route = tuple(Waypoint(name=f"w{n}", lat=y, lon=x) for n, (y, x) in enumerate(zip(lat, lon, strict=True)))
    rows = [f"{point.name},{point.lat:.6f},{point.lon:.6f}" for point in route]
    (folder / "route.csv").write_text("\n".join(["name,lat,lon", *rows]) + "\n", encoding="utf-8")
    text = (DEMO / "passage.toml").read_text(encoding="utf-8").replace("route.gpx", "route.csv")
    legs = "".join(
        f'\n[[legs]]\nfrom_waypoint = "{point.name}"\nspeed_kn = {SPEED_KN * DAYS / days}\n' for point in route[:-1]
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


def _first(boat: str, panels: int) -> str:
    """Return a boat file with the first so many of its panels, and the controllers that have no others."""
    tables = re.split(r"(?m)^(?=\[)", boat)
    names = re.findall(r'(?m)^name = "(.+?)"', "".join(each for each in tables if each.startswith("[[panel]]")))
    gone = [f'"{name}"' for name in names[panels:]]
    wired = ("[[panel]]", "[[controller]]")
    return "".join(each for each in tables if not (each.startswith(wired) and any(name in each for name in gone)))


def measured(
    members: int, *, overrides: Sequence[str] = (), panels: int = 8, days: float = DAYS, waypoints: int = 0
) -> dict[str, Any]:
    """Return what a plan takes.

    Parameters
    ----------
    members : int
    overrides : sequence of str
        ``KEY=VALUE``, as ``--set`` has them.
    panels : int
        Of eight, the first so many: 2, 5, 6 or 8, since some share a controller.
    days : float
        Length of the passage [d].
    waypoints : int
        Evenly along the demo's route; 0 for its own.

    Returns
    -------
    dict
        ``computing``, ``first``, ``read`` and ``write`` [s], ``peak_mib``, ``stages`` [s], ``steps``, ``members``.
    """
    with tempfile.TemporaryDirectory() as name:
        passage = make_case(Path(name), members, panels=panels, days=days, waypoints=waypoints)
        command = [sys.executable, "-c", MEASURE, str(passage), *overrides]
        done = subprocess.run(command, cwd=PROJECT, stdout=subprocess.PIPE, text=True, check=True)
        figures: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return figures


def main() -> None:
    """Print one block a case."""
    for members in (1, 51):
        figures = measured(members)
        print(
            f"plan, {figures['steps']} steps, {figures['members']} members: computing {figures['computing']:.2f} s "
            f"(first in its process {figures['first']:.2f}), reading {figures['read']:.2f} s, "
            f"writing {figures['write']:.2f} s, peak {figures['peak_mib']:.0f} MiB"
        )
        for stage, seconds in figures["stages"].items():
            print(f"    {stage}: {seconds:.2f} s")


if __name__ == "__main__":
    main()
