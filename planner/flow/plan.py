"""The one flow: sail, collect, decide, simulate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.decision.bill.assemble import assemble
from planner.decision.bill.ladders.later import later_watches
from planner.decision.bill.stress import stresses
from planner.decision.policy.by_clock import Rules, by_clock
from planner.decision.policy.decide import Decision, decide
from planner.domain.inputs.given import Inputs
from planner.domain.policy import Policy
from planner.domain.results.figures import Wind
from planner.domain.results.plan import Plan, Stress
from planner.domain.ship_clock import ShipOffset
from planner.domain.voyage import Course, Voyage
from planner.flow.own_tracks import beside_the_control, own_voyage
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.stages import collected, course_along, extended, own_courses, sailed
from planner.simulation.clock import changes_of_watch, roles_of_watches
from planner.simulation.doubts import doubts
from planner.simulation.harvest.array_checks import array_warnings
from planner.simulation.ledger.simulate import members_mean, simulate
from planner.simulation.ship_time import clock_warnings, ship_offset_along
from planner.simulation.sky.forecast_calendar import has_one_wind
from planner.simulation.sky.warnings import sky_warnings
from planner.simulation.track.other_tack import on_the_other_tack
from planner.simulation.track.under_sail import under_sail
from planner.simulation.track.warnings import route_warnings

if TYPE_CHECKING:
    import xarray as xr


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
    return _own_courses(voyage.course, extended(voyage.inputs, recall), voyage.inputs, voyage.ship_offset, recall)


def _own_courses(
    control: Course, forecast: xr.Dataset, inputs: Inputs, ship_offset: ShipOffset, recall: Recall
) -> tuple[Course, ...]:
    """Return every member's course; sailed again only where the control's course is another."""
    return recall.of(
        (control.track, control.harvest, control.demand, forecast, ship_offset),
        own_courses,
        control,
        forecast,
        inputs,
        ship_offset=ship_offset,
        members=range(control.harvest.sizes["member"]),
    )


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
    run = _Run(inputs, recall or Recall(), progress)
    if inputs.passage.model.tracks == "control" or has_one_wind(run.forecast):
        return _on_control(run)
    progress("sailing each forecast's own track")
    courses = _own_courses(run.control, run.forecast, inputs, run.ship_offset, run.recall)
    decision = run.decided(courses, run.control)
    plan = run.planned(decision, wind="own")
    voyages = [own_voyage(plan, course, run.laid(decision.policy, course)) for course in courses]
    return beside_the_control(plan, voyages)


def _on_control(run: _Run) -> Plan:
    """Return the plan of members that share a track.

    Which calms the engine drives through is the wind's doubt: it is counted on only where the passage says that the
    control's track will be sailed.
    """
    counted_on = run.control
    if run.inputs.passage.model.tracks == "own":
        counted_on = replace(counted_on, track=run.recall(under_sail, counted_on.track))
    wind: Wind = "forecast" if has_one_wind(run.forecast) else "control"
    return run.planned(run.decided([counted_on], counted_on), wind=wind)


class _Run:
    """One passage on its way through the stages."""

    def __init__(self, inputs: Inputs, recall: Recall, progress: Progress) -> None:
        self.inputs, self.recall, self._progress = inputs, recall, progress
        progress("sailing the track")
        self.forecast: xr.Dataset = extended(inputs, recall)
        track = sailed(inputs, self.forecast, recall)
        self.ship_offset: ShipOffset = ship_offset_along(inputs.passage, track, inputs.ship_offset)
        progress("casting shadows and collecting sunlight")
        self.control: Course = course_along(track, self.forecast, inputs, ship_offset=self.ship_offset, recall=recall)

    def decided(self, courses: Sequence[Course], control: Course) -> Decision:
        """Return the ladders for members on one track or on many."""
        self._progress("deciding when the engine runs")
        passage, boat = self.inputs.passage, self.inputs.boat
        along = [(course.track, course.harvest, course.demand) for course in (*courses, control)]
        asked = boat.bank, boat.engine, passage.watches, passage.wishes, passage.start, passage.model.seed
        return self.recall.of(
            (along, *asked, self.ship_offset),
            decide,
            courses,
            control,
            bank=boat.bank,
            engine=boat.engine,
            watches=passage.watches,
            wishes=passage.wishes,
            start_soc=passage.start.state_of_charge,
            ship_offset=self.ship_offset,
            seed=passage.model.seed,
        )

    def laid(self, policy: Policy, course: Course) -> Policy:
        """Return a policy on the steps of a course."""
        passage = self.inputs.passage
        rules = Rules(self.inputs.boat.engine, passage.watches, passage.wishes, self.ship_offset)
        return by_clock(policy, course.track, rules)

    def planned(self, decision: Decision, *, wind: Wind) -> Plan:
        """Return the plan that is drawn for the control's track."""
        self._progress("running the ledger")
        passage, boat, control = self.inputs.passage, self.inputs.boat, self.control
        policy = self.laid(decision.policy, control)
        start_soc = passage.start.state_of_charge

        def followed(harvest: xr.Dataset, demand: xr.Dataset) -> xr.Dataset:
            return simulate(
                harvest,
                demand,
                control.track,
                bank=boat.bank,
                engine=boat.engine,
                policy=policy,
                start_soc=start_soc,
            )

        _, _, watch_index = changes_of_watch(control.track["time"].values, passage.watches, self.ship_offset)
        voyage = Voyage(
            inputs=self.inputs,
            ship_offset=self.ship_offset,
            track=control.track,
            harvest=control.harvest,
            demand=control.demand,
            ledger=followed(control.harvest, control.demand),
            planned=followed(*members_mean(control.harvest, control.demand)),
            policy=policy,
            roles=roles_of_watches(watch_index, passage.watches, passage.watchkeepers),
        )
        plan = assemble(
            voyage,
            reserve_kept=replace(decision.reserve_kept, wind=wind),
            card_dearer=decision.card_dearer,
            warnings=(
                *doubts(boat, passage, self.inputs.forecast),
                *route_warnings(self.inputs.route, self.inputs.thinned),
                *array_warnings(boat.panel, boat.controller),
                *control.track.attrs["notes"],
                *clock_warnings(self.ship_offset),
                *sky_warnings(control.harvest, self.forecast),
            ),
        )
        return replace(plan, later_watches=later_watches(voyage, decision.policy))
