"""One passage on its way through the stages of the flow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.decision.bill.assemble import assemble
from planner.decision.bill.ladders.later import later_watches
from planner.decision.policy.by_clock import Rules, by_clock
from planner.decision.policy.decide import Decision, decide
from planner.decision.policy.scoring import try_out
from planner.domain.inputs.given import Inputs
from planner.domain.policy import Policy
from planner.domain.results.figures import ReserveKept, Wind
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipOffset
from planner.domain.voyage import Course, Voyage
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.stages import course_along, extended, own_courses, sailed
from planner.simulation.clock import changes_of_watch, roles_of_watches
from planner.simulation.doubts import doubts
from planner.simulation.failures import planned_without
from planner.simulation.harvest.array_checks import array_warnings
from planner.simulation.ledger.simulate import members_mean, simulate
from planner.simulation.ship_time import clock_warnings, ship_offset_along
from planner.simulation.sky.forecast_calendar import has_one_wind
from planner.simulation.sky.warnings import sky_warnings
from planner.simulation.track.under_sail import under_sail
from planner.simulation.track.warnings import route_warnings

if TYPE_CHECKING:
    import xarray as xr


def courses_of_all(
    control: Course, forecast: xr.Dataset, inputs: Inputs, *, ship_offset: ShipOffset, recall: Recall
) -> tuple[Course, ...]:
    """Return every member's course on its own track; sailed again only where the control's course is another.

    Parameters
    ----------
    control, forecast, inputs, ship_offset
        As for ``own_courses``.
    recall : Recall
    """
    return recall.of(
        (control.track, control.harvest, control.demand, forecast, ship_offset),
        own_courses,
        control,
        forecast,
        inputs,
        ship_offset=ship_offset,
        members=range(control.harvest.sizes["member"]),
    )


class Run:
    """One passage on its way through the stages.

    Parameters
    ----------
    inputs : Inputs
    recall : Recall
    progress : callable
        Told each stage as it begins.

    Attributes
    ----------
    control : Course
        Of all members along the control's track.
    forecast, ship_offset
        Extended; along the control's track.
    """

    def __init__(self, inputs: Inputs, recall: Recall, progress: Progress) -> None:
        self.inputs, self.recall, self._progress = inputs, recall, progress
        progress("sailing the track")
        self.forecast: xr.Dataset = extended(inputs, recall)
        track = sailed(inputs, self.forecast, recall)
        self.ship_offset: ShipOffset = ship_offset_along(inputs.passage, track, inputs.ship_offset)
        progress("casting shadows and collecting sunlight")
        self.control: Course = course_along(track, self.forecast, inputs, ship_offset=self.ship_offset, recall=recall)

    @property
    def own_winds(self) -> bool:
        """Whether each member sails by its own wind."""
        return self.inputs.passage.model.tracks == "own" and not has_one_wind(self.forecast)

    def counted_on(self, control: Course) -> Course:
        """Return the control's course as the decision counts on it where all members share its track.

        Which calms the engine drives through is the wind's doubt: it is counted on only where the passage says that
        the control's track will be sailed.
        """
        if self.inputs.passage.model.tracks == "control":
            return control
        return replace(control, track=self.recall(under_sail, control.track))

    def own_courses(self) -> tuple[Course, ...]:
        """Return every member's course on its own track."""
        return courses_of_all(
            self.control, self.forecast, self.inputs, ship_offset=self.ship_offset, recall=self.recall
        )

    def decided_for_all(self) -> Decision:
        """Return the ladders for members on tracks of their own, or on the control's where all have one wind."""
        if self.own_winds:
            return self.decided(self.own_courses(), self.control)
        counted_on = self.counted_on(self.control)
        return self.decided([counted_on], counted_on)

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

    def tried(self, policy: Policy) -> tuple[ReserveKept, float]:
        """Return who keeps the reserve by a policy on the courses decided for, and its mean running [min]."""
        passage = self.inputs.passage
        return try_out(
            policy,
            self.own_courses() if self.own_winds else [self.counted_on(self.control)],
            bank=self.inputs.boat.bank,
            engine=self.inputs.boat.engine,
            wishes=passage.wishes,
            start_soc=passage.start.state_of_charge,
            seed=passage.model.seed,
        )

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
        return replace(
            plan,
            warnings=(*planned_without(self.inputs), *plan.warnings),
            later_watches=later_watches(voyage, decision.policy),
        )
