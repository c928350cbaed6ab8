"""What is left when something fails: the plan's own passage followed once more for each failure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

import numpy as np

from planner.decision.bill.dead.failure_line import Failing, shed_steps, sun_wh_per_day
from planner.decision.bill.dead.first_actions import assumed_of, first_action
from planner.domain.errors import InputError
from planner.domain.inputs.failure import BY_ONE_WORD, Failure, failures_named
from planner.domain.inputs.given import Inputs
from planner.domain.policy import Policy
from planner.domain.results.failures import Diversion, FailureCard, FailureLine
from planner.domain.results.figures import Spread
from planner.domain.results.plan import Plan
from planner.domain.units import M_PER_NM
from planner.domain.voyage import Course
from planner.flow.progress import silent
from planner.flow.recall import Recall
from planner.flow.run import Run
from planner.flow.stages import loaded, own_loads
from planner.physics.sailing.sailings import great_circle
from planner.simulation.failures import changes_something, without, worst_controller, worst_half
from planner.simulation.harvest.in_service import in_service

NO_SUN: Final = Spread(0.0, 0.0, 0.0, 0.0)
HOUR: Final = timedelta(hours=1)


def failing(inputs: Inputs, words: Sequence[str], recall: Recall) -> Inputs:
    """Return inputs as they are once what words name has failed.

    Parameters
    ----------
    inputs : Inputs
    words : sequence of str
        As ``failures_named`` takes them; 'panels' are the half that brings most on this passage.
    recall : Recall
        Keeps what is sailed and collected to tell which half.

    Raises
    ------
    InputError
        When a word names nothing aboard.
    """
    failures = failures_named(words, inputs.boat)
    if Failure("panels") in failures:
        half = worst_half(Run(inputs, recall, silent).control.harvest)
        failures = tuple(half if failure.kind == "panels" else failure for failure in failures)
    return without(inputs, failures)


def failures_of(plan: Plan, recall: Recall) -> FailureCard:
    """Return the failure card of a plan; the recall spares what the plan was made of.

    Every failure is followed on the tracks and members that the plan was decided for, under its ladders where the
    engine can charge. Without the engine she sails every calm: there all members follow the control's track sailed
    anew, which is what the decision does where they share one.

    Parameters
    ----------
    plan : Plan
    recall : Recall
    """
    inputs = plan.voyage.inputs
    run = Run(inputs, recall, silent)
    harvest = run.control.harvest
    one_each = [Failure(kind) for kind in BY_ONE_WORD if kind != "panels"]
    all_of_them = [*one_each[:3], worst_controller(harvest), worst_half(harvest), *one_each[3:]]
    lines = [_line(run, failure, plan) for failure in all_of_them if changes_something(inputs, failure)]
    return FailureCard(inputs.failed, tuple(lines), diversions(plan))


def _line(run: Run, failure: Failure, plan: Plan) -> FailureLine:
    failed = without(run.inputs, [failure])
    line = FailureLine(
        failure=failure,
        first=first_action(failure, run.inputs.boat),
        assumed=assumed_of(failure, failed),
        sun_wh_per_day=NO_SUN,
        steps=(),
        enough=False,
        wind=plan.reserve_kept.wind,
        later_h=0.0,
    )
    later_h = 0.0
    if failed.boat.sailing == run.inputs.boat.sailing:
        courses = _with_failure(run, failed)
    else:
        try:
            sailing = Run(failed, Recall(), silent)
        except InputError:  # under sail alone she does not arrive, or not within what the forecast serves
            return line
        courses = (sailing.control,)
        line = replace(line, wind="control")
        later_h = (len(sailing.control.track["time"]) - plan.voyage.steps) * plan.voyage.step_h
    charges = failed.boat.engine.available and failed.boat.engine.alternator_a > 0.0
    steps = max(course.track.sizes["time"] for course in courses)
    policy = run.decided_for_all().policy if charges else Policy.never(steps)
    fails = Failing(failed, courses, policy)
    shed, enough = shed_steps(fails)
    return replace(line, sun_wh_per_day=sun_wh_per_day(fails), steps=shed, enough=enough, later_h=later_h)


def _with_failure(run: Run, failed: Inputs) -> tuple[Course, ...]:
    """Return the courses that the decision counts on, with the harvest and the loads that a failure leaves."""
    boat, sound = failed.boat, run.inputs.boat
    own = run.own_courses() if run.own_winds else ()
    control = run.control
    if (boat.panel, boat.controller, boat.autopilot) != (sound.panel, sound.controller, sound.autopilot):
        lit = [
            (course.track, in_service(course.harvest, panels=boat.panel, controllers=boat.controller))
            for course in (control, *own)
        ]
        control = loaded(*lit[0], failed, ship_offset=run.ship_offset, recall=Recall())
        own = own_loads(control, lit[1:], failed, ship_offset=run.ship_offset)
    return own or (run.counted_on(control),)


def diversions(plan: Plan) -> tuple[Diversion, ...]:
    """Return the nearest port of refuge as each day begins, by the great circle from the track that is drawn.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of Diversion
        One a day; empty where the passage names no port of refuge.
    """
    refuges, track = plan.voyage.inputs.refuges, plan.track
    if not refuges:
        return ()
    found = []
    for day in plan.days:
        step = min(round((day.start - plan.voyage.at(0)) / HOUR / plan.voyage.step_h), plan.voyage.steps - 1)
        lat, lon = (track[name].values[step] for name in ("lat", "lon"))
        away_m = great_circle(lat, lon, [each.lat for each in refuges], [each.lon for each in refuges])[0]
        nearest = int(np.argmin(away_m))
        to_go_nm = float(track["distance_to_go_nm"].values[step])
        found.append(
            Diversion(day.day, day.start, to_go_nm, refuges[nearest].name, float(away_m[nearest]) / M_PER_NM)
        )
    return tuple(found)
