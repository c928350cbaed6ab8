"""A fan of headings from one moment of a plan on."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from planner.app.stages import HEADINGS, OnStage, along, unreported
from planner.app.typed_values import moment_of, read_moment
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.given import Inputs
from planner.domain.results.plan import Plan
from planner.domain.results.studies import HeadingFan
from planner.flow.plan import courses_of, plan_from
from planner.flow.recall import Recall
from planner.studies.headings.fan import half_days, headings_fan, some_of

MOST_HOURS = 48.0  # h; a heading held longer is a route
LEAST_STEP_DEG, MOST_STEP_DEG = 1.0, 90.0  # degree


def headings(
    inputs: Inputs,
    *,
    at: str | datetime | None = None,
    hours: float = 4.0,
    step_deg: float = 10.0,
    on_stage: OnStage = unreported,
    recall: Recall | None = None,
) -> HeadingFan:
    """Plan the passage and hold other headings over some of its hours.

    Parameters
    ----------
    inputs : Inputs
        From ``read_passage``.
    at : str or datetime, optional
        An aware datetime, ISO 8601 with an offset, or ship's time: '09:00', 'day 3 09:00'; departure when None.
    hours : float
        For so long [h]; cut at arrival.
    step_deg : float
        From one heading to the next [degree].
    on_stage : callable
        Told each stage as it begins, and how much is done.
    recall : Recall, optional
        Spares stages that have been run.

    Raises
    ------
    InputError
        When the input is wrong, or the moment lies outside the passage.
    """
    faults = []
    if not 0.0 < hours <= MOST_HOURS:
        remedy = "Give hours that a heading is held, such as 4."
        faults.append(Fault("--hours", "", f"{hours:g} is not above 0 and up to {MOST_HOURS:g}.", remedy))
    if not LEAST_STEP_DEG <= step_deg <= MOST_STEP_DEG:
        problem = f"{step_deg:g} is not {LEAST_STEP_DEG:g} to {MOST_STEP_DEG:g} degrees."
        faults.append(Fault("--step", "", problem, "10 is a helmsman's step."))
    progress, departure, recall = along(on_stage, HEADINGS), inputs.passage.departure, recall or Recall()
    try:
        said = read_moment(departure if at is None else at, option="--at")
    except InputError as error:
        faults += error.faults
    if faults:
        raise InputError(faults)
    plan = plan_from(inputs, progress=progress, recall=recall)
    moment = moment_of(said, departure=inputs.passage.days_from, ship_offset=plan.ship_offset, earliest=departure)
    first, end = _steps(plan, moment, hours)
    progress("holding other headings")
    own = courses_of(plan, recall)
    fan = headings_fan(plan, first=first, end=end, step_deg=step_deg, own=dict(enumerate(own)))
    return replace(fan, half_days=half_days(plan, int(plan.track["leg"].values[first]), some_of(own)))


def _steps(plan: Plan, moment: datetime, hours: float) -> tuple[int, int]:
    """Return the steps of so many hours from a moment, the first being the one that it falls in."""
    step = timedelta(seconds=float(plan.track.attrs["step_s"]))
    if not plan.passage.departure <= moment < plan.arrival:
        asked, departure, arrival = (
            f"{each.astimezone(UTC) + plan.ship_offset:%a %d %b %H:%M}"
            for each in (moment, plan.passage.departure, plan.arrival)
        )
        problem = f"{asked} ship's time is outside the passage, {departure} to {arrival}."
        raise InputError([Fault("--at", "", problem, "Check day and offset.")])
    first = int((moment - plan.passage.departure) / step)
    return first, min(first + max(1, round(timedelta(hours=hours) / step)), int(plan.track.sizes["time"]))
