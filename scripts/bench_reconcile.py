"""Show whether faults are found in made logs, and how often a healthy boat is called ill.

Logs come from the scalar reference with other physics than the planner's (tests/reference/made_log.py), as CSV, and
go through the whole of reconcile. Thresholds were set on logs of seeds from 5000 on (``--first 5000``), none of which
is in the figures that are told by default. Run from the project's root:
``python scripts/bench_reconcile.py [--faulty 30] [--healthy 100] [--months 30] [--jobs 2] [--boat 'each alone']``.
"""

# ruff: noqa: E402 - the settings and paths come before the imports that need them

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
import warnings
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the small systems solved here only lose by more
ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "reference")]

import numpy as np
from made_log import Aboard, Faults, MadeLog, Strays
from made_passage import BOATS, write_passage

from planner.app.inputs import read_inputs
from planner.app.verbs.reconcile import reconcile
from planner.domain.inputs.given import Inputs
from planner.domain.results.reconcile.findings import AMISS, Interval, Reconciliation
from planner.flow.recall import Recall

SPANS = {"two days": 2.0, "week": 7.0, "month": 28.0}
LADDER = (2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 14.0, 21.0, 28.0)  # days of log, for the day of detection
ALONE, LISTED = BOATS[1], BOATS[0]
SINCE_D = 1.0  # a fault on day 2
STRAYS = Strays(panels=0.03, light=0.04, loads=0.1)  # no boat is as listed, no sky as usual
CASES: dict[tuple[str, str], Faults] = {
    **{
        (boat, f"{panel} at {light:.0%}"): Faults(panel, light_fraction=light, since_days=SINCE_D)
        for boat, panel in ((ALONE, "bimini port"), (LISTED, "arch port"), (LISTED, "bimini port"))
        for light in (0.95, 0.9, 0.8)
    },
    (ALONE, "bimini port: substring out"): Faults("bimini port", substring_out=True, since_days=SINCE_D),
    (LISTED, "arch port: substring out"): Faults("arch port", substring_out=True, since_days=SINCE_D),
    (ALONE, "bimini port: new shadow"): Faults("bimini port", shadow=(280.0, 340.0, 60.0), since_days=SINCE_D),
    **{(boat, "25 W not on the list"): Faults(unlisted_w=25.0) for boat in (ALONE, LISTED)},
    **{(boat, "bank at 80%"): Faults(capacity_fraction=0.8) for boat in (ALONE, LISTED)},
    **{(boat, "clock an hour fast"): Faults(clock_fast_min=60.0) for boat in (ALONE, LISTED)},
}


@dataclass(frozen=True)
class Outcome:
    """What one log of one length came to.

    Attributes
    ----------
    days : float
        Of log.
    named : str
        Verdict on the controller at fault; empty without one.
    others : int
        Other controllers called amiss.
    load, tired, clock : bool
        Whether a load was found, the bank called tired, the clock set back.
    ratio, change, unexplained, capacity, fast : tuple of bool
        Whether each interval told covers the truth; empty where it is not told.
    seconds : float
        It took.
    """

    days: float
    named: str
    others: int
    load: bool
    tired: bool
    clock: bool
    ratio: tuple[bool, ...]
    change: tuple[bool, ...]
    unexplained: tuple[bool, ...]
    capacity: tuple[bool, ...]
    fast: tuple[bool, ...]
    seconds: float


@cache
def aboard(boat: str) -> tuple[Inputs, Aboard, dict[float, Recall]]:
    """Return what is read once a process: inputs, the boat, and for each length what reconcile may recall."""
    with tempfile.TemporaryDirectory() as folder:
        inputs = read_inputs(write_passage(Path(folder), boat))
    start = inputs.passage.start.state_of_charge
    return inputs, Aboard(boat, inputs.boat, inputs.passage.watches, start), {}


def outcomes(boat: str, faults: Faults, seed: int, ladder: Sequence[float]) -> list[Outcome]:
    """Return what the logs of one seed came to, length by length; between the spans only until the panel is named."""
    inputs, here, recalls = aboard(boat)
    log = here.log(seed, faults, strays=STRAYS)
    found: list[Outcome] = []
    for days in ladder:
        if days not in SPANS.values() and any(one.named in AMISS for one in found):
            continue
        began = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
            warnings.simplefilter("error")
            path = log.first_days(days).write(Path(folder) / "log.csv")
            recall = recalls.setdefault(days, Recall())
            told = reconcile(inputs, path, recall=recall)
        found.append(_outcome(told, log, faults, here, days=days, seconds=time.perf_counter() - began))
    return found


def _outcome(
    told: Reconciliation, log: MadeLog, faults: Faults, here: Aboard, *, days: float, seconds: float
) -> Outcome:
    ill = {c.name for c in here.boat.controller if any(faults.panel in string for string in c.strings)}
    at_fault = [one for one in told.controllers if one.controller in ill]
    others = [one for one in told.controllers if one.controller not in ill]
    truth = log.truth
    # a controller without a fault is held against its list, one with a fault against what it gave before
    ratios = [(one.ratio, truth.stray[one.controller]) for one in others]
    changes = [(one.change, truth.ratio) for one in at_fault if faults.shadow is None]
    return Outcome(
        days=days,
        named=at_fault[0].verdict if at_fault else "",
        others=sum(one.verdict in AMISS for one in others),
        load=told.loads.found,
        tired=told.bank.tired,
        clock=told.clock.corrected,
        ratio=_covered(*ratios),
        change=_covered(*changes),
        unexplained=_covered((told.loads.unexplained_w, truth.unexplained_w(days))),
        capacity=_covered((told.bank.capacity_ah, truth.capacity_ah)),
        fast=_covered((told.clock.fast_min, truth.clock_fast_min)),
        seconds=seconds,
    )


def _covered(*pairs: tuple[Interval | None, float]) -> tuple[bool, ...]:
    return tuple(told.low <= truth <= told.high for told, truth in pairs if told is not None)


def main() -> None:
    """Run the logs and print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--faulty", type=int, default=30, help="seeds a fault")
    parser.add_argument("--healthy", type=int, default=100, help="seeds without one")
    parser.add_argument("--months", type=int, default=1000, help="seeds of each that go on for a month")
    parser.add_argument("--first", type=int, default=0, help="first seed; faults begin a thousand later")
    parser.add_argument("--jobs", type=int, default=max((os.cpu_count() or 2) - 1, 1))
    parser.add_argument("--boat", choices=BOATS, help="one alone")
    parser.add_argument("--case", default="", help="only faults whose name holds this")
    options = parser.parse_args()
    boats = [options.boat] if options.boat else list(BOATS)
    began = time.perf_counter()
    with ProcessPoolExecutor(options.jobs) as pool:
        for boat in boats:
            print(f"\n{boat}")
            every: list[Outcome] = []
            print(f"{'':34s}{'hit rate after':>30s}{'days of log until named':>26s}{'others amiss':>16s}")
            heads = "".join(f"{name:>10s}" for name in SPANS)
            print(f"{'fault':34s}{heads}{'median':>13s}{'nine in ten':>13s}{'a panel-week':>16s}")
            for (whose, name), faults in CASES.items():
                if whose != boat or options.case not in name:
                    continue
                ladder = LADDER if faults.panel else tuple(SPANS.values())
                runs = _all(
                    pool,
                    boat,
                    faults,
                    seeds=range(options.first + 1000, options.first + 1000 + options.faulty),
                    ladder=ladder,
                    months=options.months,
                )
                every += [one for run in runs for one in run]
                print(f"{name:34s}{_row(name, runs, len(aboard(boat)[1].boat.controller))}", flush=True)
            if options.healthy:
                runs = _all(
                    pool,
                    boat,
                    Faults(),
                    seeds=range(options.first, options.first + options.healthy),
                    ladder=tuple(SPANS.values()),
                    months=options.months,
                )
                every += [one for run in runs for one in run]
                _healthy(runs, len(aboard(boat)[1].boat.controller))
            _coverage(every)
    print(f"\n{time.perf_counter() - began:.0f} s with {options.jobs} processes")


def _all(
    pool: ProcessPoolExecutor, boat: str, faults: Faults, *, seeds: range, ladder: Sequence[float], months: int
) -> list[list[Outcome]]:
    """Return the outcomes of every seed; all but the first so many end with the week."""
    ends = [SPANS["month" if n < months else "week"] for n in range(len(seeds))]
    work = [
        pool.submit(outcomes, boat, faults, seed, tuple(days for days in ladder if days <= end))
        for seed, end in zip(seeds, ends, strict=True)
    ]
    return [each.result() for each in work]


def _row(name: str, runs: list[list[Outcome]], controllers: int) -> str:
    def hit(one: Outcome) -> bool:
        if "not on the list" in name:
            return one.load
        if "bank" in name:
            return one.tired
        if "clock" in name:
            return one.clock
        return one.named in AMISS

    cells = ""
    for days in SPANS.values():
        hits = [hit(one) for run in runs for one in run if one.days == days]
        cells += f"{np.mean(hits):>10.0%}"
    first = [next((one.days for one in run if hit(one)), np.inf) for run in runs]
    days = sum(one.days for run in runs for one in run)
    others = sum(one.others for run in runs for one in run)
    healthy = controllers - any(one.named for run in runs for one in run)
    right = [one.named for run in runs for one in run if one.days == SPANS["month"] and one.named in AMISS]
    named = f"  as {', '.join(f'{word} {right.count(word)}' for word in sorted(set(right)))}" if right else ""
    quantiles = (np.quantile(first, q, method="higher") for q in (0.5, 0.9))
    return f"{cells}{''.join(f'{q:>13.0f}' for q in quantiles)}{others / (healthy * days / 7.0):>16.3f}{named}"


def _healthy(runs: list[list[Outcome]], controllers: int) -> None:
    print("\nno fault" + " " * 26 + "".join(f"{name:>10s}" for name in SPANS))
    for what, of in (
        ("controllers amiss a panel-week", lambda one: one.others / (controllers * one.days / 7.0)),
        ("logs with a controller amiss", lambda one: float(one.others > 0)),
        ("logs with a load found", lambda one: float(one.load)),
        ("logs with a tired bank", lambda one: float(one.tired)),
        ("logs with the clock set back", lambda one: float(one.clock)),
        ("seconds a log", lambda one: one.seconds),
    ):
        means = (np.mean([of(one) for run in runs for one in run if one.days == days]) for days in SPANS.values())
        print(f"{what:34s}" + "".join(f"{mean:>10.3f}" for mean in means))


def _coverage(every: list[Outcome]) -> None:
    print("\nintervals that cover the truth (they say 90%)" + "".join(f"{name:>12s}" for name in SPANS))
    for what in ("ratio", "change", "unexplained", "capacity", "fast"):
        cells = ""
        for days in SPANS.values():
            told = [hit for one in every if one.days == days for hit in getattr(one, what)]
            cells += f"{f'{np.mean(told):.0%} of {len(told)}' if told else 'none':>12s}"
        print(f"{what:45s}{cells}", flush=True)


if __name__ == "__main__":
    main()
