"""The main job: route, departure, forecast and boat in; a plan out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.app.stages import PLANNING, OnStage, along, unreported
from planner.domain.inputs.given import Inputs
from planner.domain.results.plan import Plan
from planner.flow.failures import failing, failures_of
from planner.flow.plan import courses_of, plan_from, stresses_of
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.studies.headings.fan import headings_fan, some_of, sunniest_watch

FAN_STEP_DEG = 15.0  # degree, between the headings that the report shows


def plan(
    inputs: Inputs, *, failed: Sequence[str] = (), on_stage: OnStage = unreported, recall: Recall | None = None
) -> Plan:
    """Plan a passage, let one thing after the other fail, try the plan in trouble, and hold other headings.

    Parameters
    ----------
    inputs : Inputs
        From ``read_passage``.
    failed : sequence of str
        What has failed as she departs: engine, alternator, autopilot, panels (the half that brings most), bank (off
        the bus), meter, or a controller by its name.
    on_stage : callable
        Told each stage as it begins, and how much is done.
    recall : Recall, optional
        Spares the stages whose reading has not changed.

    Returns
    -------
    Plan
    """
    progress, recall = along(on_stage, PLANNING), recall or Recall()
    inputs = failing(inputs, failed, recall)
    return completed(plan_from(inputs, progress=progress, recall=recall), progress=progress, recall=recall)


def completed(found: Plan, *, progress: Progress, recall: Recall) -> Plan:
    """Return a plan with what its report says beyond it: failures, the plan in trouble, other headings in one watch.

    Parameters
    ----------
    found : Plan
        As ``plan_from`` gives it.
    progress : callable
        Told each stage as it begins.
    recall : Recall
        Spares what the plan was made of.
    """
    progress("letting things fail")
    whole = replace(found, failures=failures_of(found, recall))
    progress("trying it in trouble")
    whole = replace(whole, stresses=stresses_of(found, recall))
    hours = sunniest_watch(whole)
    if hours is None:
        return whole
    progress("holding other headings")
    own = some_of(courses_of(whole, recall))
    return replace(whole, fan=headings_fan(whole, first=hours[0], end=hours[1], step_deg=FAN_STEP_DEG, own=own))
