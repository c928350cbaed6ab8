"""How often the promise is kept by boats that sail their own tracks, and what it costs beside habits.

Forecasts of ``promise_passages``, three oceans and three boats in turn: planned on 21 members, scored on truths that
no policy has seen, every meter with its own error, which drifts. "Made of the truths" are ladders for each watch made
of the very truths that they are scored on, which no crew can know: what is left to gain. Run from the project's root:
``python scripts/bench_promise.py [--known single|bulletin] [--mornings BOATS] [FORECASTS [TRUTHS [ASKED ...]]]``; 12,
200, and .80 .90 .95 take an hour. With ``--known`` plans are made of the control alone, as from a single run or
from a bulletin typed by hand, and scored on the same truths; with ``--mornings`` so many boats of each forecast plan
anew every morning.
"""

# ruff: noqa: E402 - the paths come before the imports that need them

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import NamedTuple, get_args

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "tests" / "decision")]

from baselines import Score, tuned_timetable, tuned_trigger
from promise_passages import OCEANS, Known, Passages, passages, planned_on

from planner.decision.policy.by_clock import Rules, allowed_steps, by_clock
from planner.decision.policy.calibrate import meter_offsets
from planner.decision.policy.choices import Choices, choices_of
from planner.decision.policy.decide import Decision, decide
from planner.decision.policy.full_charge import drift_of
from planner.decision.policy.program import optimise
from planner.decision.policy.rates import SOC_GRID
from planner.decision.policy.table import priced, tabulate
from planner.domain.arrays import Floats
from planner.domain.inputs.passage import Wishes
from planner.domain.inputs.route import Waypoint
from planner.domain.policy import Policy
from planner.domain.voyage import Course
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.bus import AtBus, side_by_side
from planner.simulation.ledger.simulate import at_bus, march
from planner.simulation.track.under_sail import under_sail

ASKED = (0.80, 0.90, 0.95)
EVENING_H = (19, 19)  # ship's hour of one run every evening
TWICE_H = (8, 18)
FLAT_SOC = 0.01  # 1, below it a bank is empty


class Outcome(NamedTuple):
    """Means over boats: shares kept and run flat, hours to charge, starts, share arriving as wanted, cost [min].

    And how many different ladders the crew reads.
    """

    kept: float
    flat: float
    hours: float
    starts: float
    as_wanted: float
    cost_min: float
    ladders: float


Rows = dict[tuple[str, float], list[Outcome]]


class Scored:
    """Boats on their own tracks, to be scored under any policy.

    Parameters
    ----------
    of : Passages
        For boat, passage and clock.
    courses : sequence of Course
        One a boat.
    wishes : Wishes
    seed : int
        Of the meters' errors.
    """

    def __init__(self, of: Passages, courses: Sequence[Course], wishes: Wishes, seed: int) -> None:
        self._of, self._courses, self._wishes = of, courses, wishes
        boat = of.inputs.boat
        self.rules = Rules(boat.engine, of.inputs.passage.watches, wishes, of.ship_offset)
        self.bus: AtBus = side_by_side([at_bus(course, bank=boat.bank, engine=boat.engine) for course in courses])
        self.offsets: Floats = meter_offsets(len(courses), 1, sd=wishes.meter_error, seed=seed)[0]

    def choices(self) -> Choices:
        """Return what is open to these boats."""
        engine, steps = self.rules.engine, self.bus.drives.shape[1]
        longest = max((course.track for course in self._courses), key=lambda track: track.sizes["time"])
        allowed = [allowed_steps(course.track, self.rules) for course in self._courses]
        return choices_of(
            *self.rules.changes_of_watch(longest)[:2],
            np.stack([np.pad(each, (0, steps - each.size)) for each in allowed]),
            self.bus.drives,
            step_s=self.bus.step_s,
            min_run_min=engine.min_run_min,
            max_run_min=engine.max_run_min,
        )

    def laid(self, policy: Policy) -> Policy:
        """Return a policy on the tracks of these boats: what forbids a run is read from each."""
        choices = self.choices()
        each = [by_clock(policy, course.track, self.rules) for course in self._courses]
        longest = max(each, key=lambda one: int(one.end_step[-1]))
        standing = policy.standing and replace(
            policy.standing,
            allowed=np.stack([
                np.pad(one.standing.allowed, (0, choices.allowed.shape[1] - one.standing.allowed.size))
                for one in each if one.standing
            ]),
        )  # fmt: skip
        return replace(longest, allowed=choices.allowed, standing=standing)

    def outcome(self, policy: Policy) -> Outcome:
        """Return how these boats fare under a policy on their tracks."""
        boat = self._of.inputs.boat
        _, soc, engine_on = march(
            self.bus,
            params=bank_params(boat.bank),
            engine=boat.engine,
            policy=policy,
            start_soc=np.clip(self._of.inputs.passage.start.state_of_charge - self.offsets, 0.0, 1.0),
            meter_offset=self.offsets,
            drift=drift_of(boat.bank, self._wishes),
        )
        running = engine_on.astype(bool)
        charging = running & ~self.bus.drives
        before = np.pad(running, ((0, 0), (1, 0)))[:, :-1]
        hours = charging.sum(axis=1) * self.bus.step_s / 3600.0
        starts = (charging & ~before).sum(axis=1)
        lowest = soc.min(axis=1)
        return Outcome(
            kept=float((lowest >= boat.bank.reserve_soc - 1e-9).mean()),
            flat=float((lowest < FLAT_SOC).mean()),
            hours=float(hours.mean()),
            starts=float(starts.mean()),
            as_wanted=float((soc[:, -1] >= self._wishes.arrival_soc).mean()),
            cost_min=float((60.0 * hours + self._wishes.start_cost_min * starts).mean()),
            ladders=len({(*row.tolist(), stop) for row, stop in zip(policy.minutes, policy.stop_soc, strict=True)}),
        )


def decided(of: Passages, courses: Sequence[Course], control: Course, wishes: Wishes, seed: int) -> Decision:
    """Decide for courses."""
    passage, boat = of.inputs.passage, of.inputs.boat
    return decide(
        courses,
        control,
        bank=boat.bank,
        engine=boat.engine,
        watches=passage.watches,
        wishes=wishes,
        start_soc=passage.start.state_of_charge,
        ship_offset=of.ship_offset,
        seed=seed,
    )


def hindsight(of: Passages, on: Scored, wishes: Wishes) -> float:
    """Return the mean cost of crews that know their weather and have true meters [min]."""
    boat = of.inputs.boat
    node = round(of.inputs.passage.start.state_of_charge * (SOC_GRID.size - 1))
    table = tabulate(on.choices(), on.bus, params=bank_params(boat.bank), arrival_soc=wishes.arrival_soc)
    problem = priced(table, floor_soc=boat.bank.reserve_soc, start_cost_min=wishes.start_cost_min)
    return float(np.mean([optimise(problem, np.array([m])).value[0, node, 0] for m in range(on.bus.steps.size)]))


def clock_hours(on: Scored, of: Passages) -> np.ndarray:
    """Return the ship's hour of each step of the longest track."""
    first = of.control.track["time"].values[0] + np.timedelta64(round(of.ship_offset.total_seconds()), "s")
    steps = first + np.arange(on.bus.drives.shape[1]) * np.timedelta64(round(on.bus.step_s), "s")
    hours: np.ndarray = steps.astype("datetime64[h]").astype(np.int64) % 24
    return hours


def habits(of: Passages, on: Scored, wishes: Wishes) -> dict[str, Policy]:
    """Return rules of thumb, tuned on the members that are planned on, each on its own track."""
    choices, clock_hour = on.choices(), clock_hours(on, of)

    def score(policy: Policy) -> Score:
        found = on.outcome(policy)
        return Score(kept=found.kept, minutes=found.cost_min)

    tuned = partial(tuned_timetable, choices, clock_hour, score, confidence=wishes.confidence)
    return {
        "trigger, tuned": tuned_trigger(choices, score, confidence=wishes.confidence),
        "every evening, tuned": tuned(hours=EVENING_H),
        "twice a day, tuned": tuned(hours=TWICE_H),
    }


def each_morning(of: Passages, truth: Course, wishes: Wishes, offset: float) -> tuple[Floats, Floats]:
    """Plan anew every 24 hours from where a truth is and what her meter shows, with the forecast as it was.

    Returns
    -------
    soc, charging : float array (time + 1,), bool array (time,)
    """
    boat, passage = of.inputs.boat, of.inputs.passage
    steps, step_s = truth.track.sizes["time"], float(truth.track.attrs["step_s"])
    a_day = round(86400.0 / step_s)
    soc, charging = [float(np.clip(passage.start.state_of_charge - offset, 0.0, 1.0))], []
    for first in range(0, steps, a_day):
        rest = Course(*(each.isel(time=slice(first, None)).assign_attrs(step_s=step_s)
                        for each in (truth.track, truth.harvest, truth.demand)))  # fmt: skip
        now = rest.track["time"].values[0]
        fix = Waypoint(name="fix", lat=float(rest.track["lat"][0]), lon=float(rest.track["lon"][0]))
        moment = passage.departure + timedelta(seconds=first * step_s)
        start = passage.start.model_copy(update={"state_of_charge": float(np.clip(soc[-1] + offset, 0.0, 1.0))})
        here = replace(
            of.inputs,
            passage=passage.model_copy(update={"departure": moment, "start": start, "wishes": wishes}),
            route=(fix, of.inputs.route[-1]),
            forecast=of.inputs.forecast.assign_attrs(issued=f"{np.datetime_as_string(now, unit='s')}Z"),
        )
        control, courses = planned_on(here, of.ship_offset)
        policy = decided(replace(of, inputs=here), courses, control, wishes, first).policy
        rules = Rules(boat.engine, passage.watches, wishes, of.ship_offset)
        bus = at_bus(rest, bank=boat.bank, engine=boat.engine)
        _, course, engine_on = march(
            bus,
            params=bank_params(boat.bank),
            engine=boat.engine,
            policy=by_clock(policy, rest.track, rules),
            start_soc=soc[-1],
            meter_offset=np.array([offset]),
        )
        soc += course[0, 1 : a_day + 1].tolist()
        charging += (engine_on[0].astype(bool) & ~bus.drives[0])[:a_day].tolist()
    return np.array(soc), np.array(charging)


def mornings(of: Passages, wishes: Wishes, boats: int) -> Outcome:
    """Return how the first truths fare that plan anew each morning; beside the same boats under one plan."""
    bank, offsets = of.inputs.boat.bank, meter_offsets(boats, 1, sd=wishes.meter_error, seed=3)[0]
    found = [each_morning(of, truth, wishes, off) for truth, off in zip(of.truths, offsets.tolist(), strict=False)]
    hours = np.array([on.sum() / 6.0 for _, on in found])
    starts = np.array([(on & ~np.concatenate([[False], on[:-1]])).sum() for _, on in found])
    lowest = np.array([soc.min() for soc, _ in found])
    return Outcome(
        kept=float((lowest >= bank.reserve_soc - 1e-9).mean()),
        flat=float((lowest < FLAT_SOC).mean()),
        hours=float(hours.mean()),
        starts=float(starts.mean()),
        as_wanted=float(np.mean([soc[-1] >= wishes.arrival_soc for soc, _ in found])),
        cost_min=float((60.0 * hours + wishes.start_cost_min * starts).mean()),
        ladders=np.nan,
    )


def one_forecast(
    number: int, truths: int, asked: Sequence[float], rows: Rows, *, known: Known, by_morning: int
) -> None:
    """Add a forecast's outcomes to the rows, and print them."""
    began = time.perf_counter()
    ocean = OCEANS[number % len(OCEANS)]
    of = passages(ocean, truths=truths, seed=5000 + number, known=known)
    sailed_s = time.perf_counter() - began
    for confidence in asked:
        wishes = of.inputs.passage.wishes.model_copy(update={"confidence": confidence})
        planned_on, unseen = Scored(of, of.planning, wishes, 1), Scored(of, of.truths, wishes, 2)
        decision = decided(of, of.planning, of.control, wishes, number)
        sailing = replace(of.control, track=under_sail(of.control.track))
        policies = {
            "this plan": decision.policy,
            "a ladder each watch": decided(
                of, of.planning, of.control, wishes.model_copy(update={"ladder": "watch"}), number
            ).policy,
            "control's ladders": decided(of, [sailing], sailing, wishes, number).policy,
            **habits(of, planned_on, wishes),
        }
        if (
            known == "members"
        ):  # of what no crew has: how much there is to gain by knowing the forecast's spread for certain
            of_truths = wishes.model_copy(update={"ladder": "watch"})
            policies["made of the truths"] = decided(of, of.truths, of.control, of_truths, number).policy
        for name, policy in policies.items():
            rows.setdefault((name, confidence), []).append(unseen.outcome(unseen.laid(policy)))
        if by_morning:
            rows.setdefault(("anew each morning", confidence), []).append(mornings(of, wishes, by_morning))
            few = Scored(of, of.truths[:by_morning], wishes, 3)
            rows.setdefault(("the same boats", confidence), []).append(few.outcome(few.laid(decision.policy)))
        least = hindsight(of, unseen, wishes)
        rows.setdefault(("hindsight", confidence), []).append(Outcome(1.0, 0.0, np.nan, np.nan, 1.0, least, np.nan))
        told = decision.reserve_kept
        rows.setdefault(("promised", confidence), []).append(
            Outcome(told.kept / told.members, 0.0, np.nan, np.nan, np.nan, np.nan, np.nan)
        )
        print(
            f"  {number + 1:2d} {ocean.name}, {ocean.boat}, {confidence:.2f} asked: "
            + ", ".join(f"{name} {each[-1].kept:.2f} {each[-1].cost_min:.0f}" for (name, at), each in rows.items()
                        if at == confidence),
            flush=True,
        )  # fmt: skip
    print(f"     {sailed_s:.0f} s to sail, {time.perf_counter() - began:.0f} s in all", flush=True)


def scored(
    forecasts: int, truths: int, asked: Sequence[float] = ASKED, *, known: Known = "members", by_morning: int = 0
) -> Rows:
    """Return the outcomes of every policy by name and confidence asked for, one a forecast."""
    rows: Rows = {}
    for number in range(forecasts):
        one_forecast(number, truths, asked, rows, known=known, by_morning=by_morning)
    return rows


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--known", choices=get_args(Known), default="members")
    parser.add_argument("--mornings", type=int, default=0, metavar="BOATS")
    parser.add_argument("forecasts", type=int, nargs="?", default=12)
    parser.add_argument("truths", type=int, nargs="?", default=200)
    parser.add_argument("asked", type=float, nargs="*", default=ASKED)
    given = parser.parse_args()
    rows = scored(given.forecasts, given.truths, given.asked, known=given.known, by_morning=given.mornings)
    print(f"{'':22s}asked  kept  worst  flat  hours  starts  as wanted  cost [min]  ladders")
    for (name, confidence), outcomes in sorted(rows.items(), key=lambda row: row[0][1]):
        mean = Outcome(*np.mean(outcomes, axis=0))
        print(
            f"{name:22s}{confidence:5.2f}  {mean.kept:.3f}  {min(each.kept for each in outcomes):.2f}  "
            f"{mean.flat:.3f}  {mean.hours:5.1f}  {mean.starts:6.1f}  {mean.as_wanted:9.2f}  {mean.cost_min:6.0f}  "
            f"{mean.ladders:7.1f}"
        )


if __name__ == "__main__":
    main()
