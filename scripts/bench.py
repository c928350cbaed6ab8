"""Print one table: what the design wants reached, what was measured here, and whether that meets it.

Usage: ``scripts/bench [--long] [--smallest] [--only WORD ...]``. Without options it runs what takes a few minutes in
all; ``--long`` adds what takes up to an hour each, ``--only`` chooses rows by a word of theirs, and ``--smallest``
tries that every row can be made, on figures too small to mean anything. Details are printed by each row's own script,
``scripts/bench_*.py``. Times want a machine that does nothing else.
"""

# ruff: noqa: E402 - the path comes before the imports that need it

from __future__ import annotations

import argparse
import io
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any, NamedTuple

PROJECT = Path(__file__).parents[1]
sys.path[:0] = [str(PROJECT), str(PROJECT / "scripts")]

import numpy as np

DEMO = PROJECT / "data" / "demo" / "passage.toml"
Found = tuple[str, bool | None]
"""What was measured, and whether it meets the goal; None where it cannot be told here."""

LIBRARIES = "import numpy, xarray, pandas, numba, pvlib"
OURS = f"""
{LIBRARIES}
import importlib, pkgutil, planner
for each in pkgutil.walk_packages(planner.__path__, "planner."):
    if not each.name.startswith(("planner.faces", "planner.__main__")):
        importlib.import_module(each.name)
"""
SIZE = {True: ("model.points=4", "model.roll_nodes=1"), False: ()}
LINEAR = (
    1.15  # 1, exponent of cost over size that still counts as linear: fixed parts pull it down, caches push it up
)


class Row(NamedTuple):
    """One of the design's figures: what it is of, the goal, and what measures it."""

    what: str
    goal: str
    measure: Callable[[bool], Found]
    long: bool = False


def plan_of_members(smallest: bool) -> Found:
    """Take time and memory of a whole ensemble."""
    from bench_plan import measured

    told = measured(3 if smallest else 51, overrides=SIZE[smallest])
    met = told["computing"] < 8.0 and told["peak_mib"] <= 1024.0
    return f"{told['computing']:.1f} s, {told['peak_mib']:.0f} MiB ({told['members']} members)", met


def plan_of_one_run(smallest: bool) -> Found:
    """Take the time of a single run with its outcomes."""
    from bench_plan import measured

    told = measured(1, overrides=SIZE[smallest])
    return f"{told['computing']:.1f} s ({told['members']} outcomes)", told["computing"] < 2.0


def warm_start(smallest: bool) -> Found:
    """Time imports, reading and writing beside the bare import of the libraries, in turn."""
    from bench_plan import measured

    times = {code: [_child(code)[0] for _ in range(1 if smallest else 5)] for code in (LIBRARIES, OURS)}
    bare, ours = (min(each) for each in times.values())
    told = measured(3, overrides=SIZE[smallest])
    put = told["read"] + told["write"]
    return f"imports {ours / bare:.2f}, reading and writing {put / bare:.2f} times {bare:.2f} s", max(
        ours, put
    ) <= 1.5 * bare


def first_run(smallest: bool) -> Found:
    """Take wall and processor time of the demo with no kernel compiled."""
    with tempfile.TemporaryDirectory() as folder:
        options = [word for each in SIZE[smallest] for word in ("--set", each)]
        command = [sys.executable, "-m", "planner", "plan", str(DEMO), "--out", f"{folder}/out", "--quiet", *options]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        began = time.perf_counter()
        subprocess.run(command, cwd=PROJECT, env=os.environ | {"NUMBA_CACHE_DIR": folder}, check=True)
        wall, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return f"{wall:.0f} s wall, {spent:.0f} s of processor", wall <= 45.0 and spent <= 80.0


def against_a_loop(smallest: bool) -> Found:
    """Time the harvest against a loop that calls pvlib for each step and panel."""
    import pandas as pd
    from bench_shade import control_harvest

    steps, panels, alone_s, members_s = control_harvest(runs=1 if smallest else 5)
    calls = 3 if smallest else 40
    began = time.perf_counter()
    for moment in pd.date_range("2027-05-10T22:00Z", periods=calls, freq="10min"):
        _one_call(moment)
    each_s = (time.perf_counter() - began) / calls
    loop_s = each_s * steps * panels
    words = f"{loop_s / alone_s:.0f} times, {51 * loop_s / members_s:.0f} with 51 members"
    return f"{words} ({1e3 * each_s:.1f} ms a call)", loop_s >= 100.0 * alone_s and 51 * loop_s >= 1000.0 * members_s


def _one_call(moment: Any) -> float:
    """Return the power of an unshaded panel at a moment, as a plain script has pvlib compute it [W]."""
    import pandas as pd
    import pvlib

    index = pd.DatetimeIndex([moment])
    sun = pvlib.solarposition.get_solarposition(index, -28.0, 178.0)
    sky = pvlib.clearsky.ineichen(sun["apparent_zenith"], pvlib.atmosphere.get_absolute_airmass(1.5), 3.0)
    light = pvlib.irradiance.get_total_irradiance(
        10.0, 0.0, sun["apparent_zenith"], sun["azimuth"], sky["dni"], sky["ghi"], sky["dhi"]
    )["poa_global"]
    cell = pvlib.temperature.faiman(light, 22.0, 5.0)
    diode = pvlib.pvsystem.calcparams_desoto(light, cell, 0.003, 5.5, 1e-9, 0.3, 300.0, 0.9)
    return float(pvlib.pvsystem.singlediode(*diode)["p_mp"].iloc[0])


def rays(smallest: bool) -> Found:
    """Time the shade kernel against Embree."""
    import bench_shade

    bench_shade.REPEATS = 1 if smallest else bench_shade.REPEATS
    places = bench_shade.cell_places_of(bench_shade.random_panels(1, np.random.default_rng(0))[0])
    ratios = quietly(lambda: bench_shade.against_embree(places, 4 if smallest else bench_shade.CELL_POINTS))
    words = ", ".join(f"{ratio:.1f}" for ratio in ratios) + " times on 12, 100, 1000 triangles"
    return words, None if np.isnan(ratios).any() else min(ratios) >= 4.0


def cells(smallest: bool) -> Found:
    """Test cells and strings against their full solution; the goal is asserted in the test."""
    tests = ["tests/external/test_shaded_cells.py"]
    only = ["-k", "leaves_of_a_panel" if smallest else "two_thousand or arrays"]
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests, *only]
    done = subprocess.run(command, cwd=PROJECT, capture_output=True, text=True, check=False)
    return done.stdout.strip().splitlines()[-1], done.returncode == 0


def promise(smallest: bool) -> Found:
    """Count how often the promise is kept on forecasts that no policy has seen."""
    rows = _scored(smallest)
    off, under, words = [], [], []
    for (name, asked), outcomes in rows.items():
        if name == "this plan":
            kept = [each.kept for each in outcomes]
            off.append(abs(np.mean(kept) - asked))
            under.append(asked - min(kept))
            words.append(f"{asked:.2f}: {np.mean(kept):.3f}, worst {min(kept):.2f}")
    return "; ".join(words), max(off) <= 0.04 and max(under) < 0.10


def engine_cost(smallest: bool) -> Found:
    """Set the engine's cost beside rules of thumb, the program's bound and a ladder a watch."""
    import bench_decision

    rows = _scored(smallest)
    cost = {key: float(np.mean([each.cost_min for each in outcomes])) for key, outcomes in rows.items()}
    asked = sorted({at for _, at in rows})
    rules = max(cost["this plan", at] / min(cost[name, at] for name, _ in rows if "tuned" in name) for at in asked)
    card = max(cost["this plan", at] / cost["a ladder each watch", at] for at in asked)
    size = (2.0, 5, 601) if smallest else (10.0, bench_decision.PLANNED_ON, 6_001)
    gap = quietly(lambda: bench_decision.certify(*size[:2], nodes=size[2]))
    words = f"{rules:.2f} of the best rule, {gap:.1%} over the bound, card {card - 1:+.1%}"
    return words, rules < 1.0 and gap <= 0.05 and card <= 1.025


def season(_: bool) -> Found:
    """Say whether there is such a verb; nothing measures it yet."""
    verbs = subprocess.run(
        [sys.executable, "-m", "planner", "season", "--help"], cwd=PROJECT, capture_output=True, check=False
    )
    return ("no verb 'season'", False) if verbs.returncode else ("measured by nothing here", None)


def doubling(smallest: bool) -> Found:
    """Count the panel-days that doubling a fineness moves by more than it may."""
    import bench_shade_accuracy as accuracy

    accuracy.POINTS = 4 if smallest else accuracy.POINTS
    moved = quietly(accuracy.doubled)
    return "panel-days moved by more: {} by points, {} by nodes, {} by step".format(*moved), not any(moved)


def sweeps(smallest: bool) -> Found:
    """Tell how cost grows with days, members, panels and waypoints, by the exponent between two sizes."""
    from bench_plan import measured

    cases: dict[str, list[tuple[float, dict[str, Any]]]] = {
        "members": [(n, {"members": n}) for n in ((2, 4) if smallest else (26, 51))],
        "panels": [(n, {"members": 3, "panels": n}) for n in (5, 8)],
        "days": [(days, {"members": 3, "days": days}) for days in ((5, 10))],
        "waypoints": [(n, {"members": 3, "waypoints": n}) for n in ((10, 20) if smallest else (250, 500))],
    }
    words, worst = [], 0.0
    for name, sizes in cases.items():
        (small, before), (large, after) = [
            (size, measured(**options, overrides=SIZE[smallest])["computing"]) for size, options in sizes
        ]
        exponent = float(np.log(after / before) / np.log(large / small))
        worst = max(worst, exponent)
        words.append(f"{name} {exponent:.2f}")
    return "cost as size to the power of: " + ", ".join(words), worst <= LINEAR


_kept: dict[bool, Any] = {}


def _scored(smallest: bool) -> Any:
    """Return the outcomes of the promise, sailed once for both rows that read them."""
    from bench_promise import scored

    if smallest not in _kept:
        _kept[smallest] = quietly(lambda: scored(1, 3, (0.9,)) if smallest else scored(12, 200))
    return _kept[smallest]


def _child(code: str) -> tuple[float, str]:
    began = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], cwd=PROJECT, capture_output=True, text=True, check=True)
    return time.perf_counter() - began, done.stdout


def quietly(call: Callable[[], Any]) -> Any:
    """Return what a detailed script gives, without what it prints."""
    with redirect_stdout(io.StringIO()):
        return call()


ROWS = (
    Row("plan, 10 days, 8 panels, 51 members on own tracks", "computing under 8 s, 1 GiB", plan_of_members),
    Row("the same, one run with its outcomes", "computing under 2 s", plan_of_one_run),
    Row("warm start beside the bare import of libraries", "imports 1.5, reading and writing 1.5", warm_start),
    Row("first run, empty kernel cache", "45 s wall, 80 s of processor", first_run),
    Row("harvest against a loop calling pvlib", "100 times, 1,000 with 51 members", against_a_loop),
    Row("shade kernel against Embree, one thread", "4 times on each", rays),
    Row("cells and strings against bishop88", "99 % within 2 % of rating, energy 0.5 %", cells, long=True),
    Row("promise, each in its own wind, unseen forecasts", "4 points on the mean, none 10 under", promise, long=True),
    Row("engine cost", "under every rule; 5 % over bound; card 2.5 %", engine_cost, long=True),
    Row("season", "5,000 passages an hour a core", season),
    Row("doubling points, roll nodes, time step", "each under 1 % or 5 Wh a panel-day", doubling),
    Row("cost against length, members, panels, waypoints", "linear", sweeps, long=True),
)
"""The design's numbers to reach, in its order."""


def main() -> None:
    """Print the table, a row as it is measured."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--long", action="store_true", help="rows of up to an hour, too")
    parser.add_argument("--smallest", action="store_true", help="try every row on next to nothing")
    parser.add_argument("--only", action="append", metavar="WORD", help="rows that hold it")
    options = parser.parse_args()
    load = f", load {os.getloadavg()[0]:.1f} before" if hasattr(os, "getloadavg") else ""
    print(f"{platform.platform()}, Python {platform.python_version()}, {os.cpu_count()} processors{load}\n")
    print("| what | goal | measured | met |\n| --- | --- | --- | --- |")
    for row in ROWS:
        if options.only and not any(word in row.what for word in options.only):
            continue
        if row.long and not (options.long or options.only):
            found, met = "not run; --long", "-"
        else:
            found, said = row.measure(options.smallest)
            met = {True: "yes", False: "NO", None: "cannot tell"}[said]
        print(f"| {row.what} | {row.goal} | {found} | {met} |", flush=True)


if __name__ == "__main__":
    main()
