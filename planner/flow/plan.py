"""The one flow: sail, collect, decide, simulate."""

from __future__ import annotations

from planner.decision.bill.stress import stresses
from planner.domain.inputs.given import Inputs
from planner.domain.results.figures import Wind
from planner.domain.results.plan import Plan, Stress
from planner.domain.voyage import Course
from planner.flow.own_tracks import beside_the_control, own_voyage
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.run import Run, courses_of_all
from planner.flow.stages import collected, extended
from planner.simulation.sky.forecast_calendar import has_one_wind
from planner.simulation.track.other_tack import on_the_other_tack


def stresses_of(plan: Plan, recall: Recall) -> tuple[Stress, ...]:
    """Try a plan in trouble; the recall spares what the plan was made of."""
    inputs = plan.voyage.inputs
    forecast = extended(inputs, recall)
    return stresses(plan, collected(on_the_other_tack(plan.track), forecast, inputs, recall))


def courses_of(plan: Plan, recall: Recall) -> tuple[Course, ...]:
    """Return each member's course on its own track, none where all sail the control's; the recall spares sailing.

    Parameters
    ----------
    plan : Plan
        As ``plan_from`` gives it.
    recall : Recall
    """
    if plan.own_tracks is None:
        return ()
    voyage = plan.voyage
    forecast = extended(voyage.inputs, recall)
    return courses_of_all(voyage.course, forecast, voyage.inputs, ship_offset=voyage.ship_offset, recall=recall)


def plan_from(inputs: Inputs, *, progress: Progress, recall: Recall | None = None) -> Plan:
    """Plan a passage for every member on its own track, or on the control's where that is asked for or all one wind.

    Parameters
    ----------
    inputs : Inputs
    progress : callable
        Told each stage as it begins.
    recall : Recall, optional
        Handed on from plan to plan, it spares the stages whose reading has not changed.

    Returns
    -------
    Plan
        Drawn for the control's track; the promise is that of the tracks that were sailed.
    """
    run = Run(inputs, recall or Recall(), progress)
    if not run.own_winds:
        wind: Wind = "forecast" if has_one_wind(run.forecast) else "control"
        return run.planned(run.decided_for_all(), wind=wind)
    progress("sailing each forecast's own track")
    courses, decision = run.own_courses(), run.decided_for_all()
    plan = run.planned(decision, wind="own")
    voyages = [own_voyage(plan, course, run.laid(decision.policy, course)) for course in courses]
    return beside_the_control(plan, voyages)
