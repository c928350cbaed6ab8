"""The one flow: sail, collect, decide, simulate."""

from __future__ import annotations

from functools import partial

from planner.decision.bill.assemble import assemble
from planner.decision.bill.stress import stresses
from planner.decision.policy.calibrate import reserve_kept
from planner.decision.policy.decide import Scorer, decide, tried
from planner.domain.inputs.given import Inputs
from planner.domain.results.plan import Plan, Stress
from planner.domain.voyage import Voyage
from planner.flow.own_tracks import follow, own_tracks, scored
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.stages import collected, extended, flow_along, sailed
from planner.simulation.clock import roles_of_watches, step_seconds, steps_by_clock
from planner.simulation.harvest.array_checks import array_warnings
from planner.simulation.ledger.demand import expected_surplus_w
from planner.simulation.ledger.simulate import members_mean, simulate
from planner.simulation.ship_time import clock_warnings, ship_offset_along
from planner.simulation.sky.forecast_calendar import has_one_wind, wind_of
from planner.simulation.sky.warnings import sky_warnings
from planner.simulation.sky.weather import within_reach
from planner.simulation.track.other_tack import on_the_other_tack
from planner.simulation.track.sail import sail_on
from planner.simulation.track.under_sail import under_sail
from planner.simulation.track.warnings import route_warnings


def stresses_of(plan: Plan, recall: Recall) -> tuple[Stress, ...]:
    """Try a plan in trouble; the recall spares what the plan was made of."""
    inputs = plan.voyage.inputs
    forecast = extended(inputs, recall)
    return stresses(plan, collected(on_the_other_tack(plan.track), forecast, inputs, recall))


def plan_from(inputs: Inputs, *, progress: Progress, recall: Recall | None = None) -> Plan:
    """Sail, collect, decide, simulate: the one flow, all members along the control's track.

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
    """
    recall = recall or Recall()
    passage, boat = inputs.passage, inputs.boat
    start_soc = passage.start.state_of_charge

    progress("sailing the track")
    forecast = extended(inputs, recall)
    track = sailed(inputs, forecast, recall)
    ship_offset = ship_offset_along(passage, track, inputs.ship_offset)

    progress("casting shadows and collecting sunlight")
    track, harvest, demand = flow_along(track, forecast, inputs, ship_offset=ship_offset, recall=recall)

    progress("deciding when the engine runs")
    # which calms the engine drives through is the wind's doubt: a plan for every member's own wind counts on none
    counted_on = recall(under_sail, track) if passage.model.tracks == "own" else track
    decision = recall(
        decide,
        harvest,
        demand,
        counted_on,
        bank=boat.bank,
        engine=boat.engine,
        watches=passage.watches,
        wishes=passage.wishes,
        start_soc=start_soc,
        ship_offset=ship_offset,
        seed=passage.model.seed,
    )

    progress("running the ledger")
    kept, _ = tried(Scorer(harvest, demand, track, boat.bank, boat.engine, start_soc), decision.trials)
    under_policy = partial(
        simulate,
        track=track,
        bank=boat.bank,
        engine=boat.engine,
        policy=decision.policy,
        start_soc=start_soc,
    )
    voyage = Voyage(
        inputs=inputs,
        ship_offset=ship_offset,
        track=track,
        harvest=harvest,
        demand=demand,
        ledger=under_policy(harvest, demand),
        planned=under_policy(*members_mean(harvest, demand)),
        policy=decision.policy,
        roles=roles_of_watches(decision.watch_index, passage.watches, passage.watchkeepers),
    )
    return assemble(
        voyage,
        reserve_kept=reserve_kept(
            int(kept.sum()),
            kept.size,
            confidence=passage.wishes.confidence,
            wind="forecast" if has_one_wind(forecast) else "control",
        ),
        trials=decision.trials,
        warnings=(
            *route_warnings(inputs.route, inputs.thinned),
            *array_warnings(boat.panel, boat.controller),
            *track.attrs["notes"],
            *clock_warnings(ship_offset),
            *sky_warnings(harvest, forecast),
        ),
    )


def with_own_tracks(plan: Plan, *, progress: Progress, recall: Recall | None = None) -> Plan:
    """Return a plan scored with every member on its own track, where the passage asks for that and the winds part.

    Parameters
    ----------
    plan : Plan
        From ``plan_from``.
    progress : callable
        Told the stage as it begins.
    recall : Recall, optional
        Spares laying out the forecast again.

    Returns
    -------
    Plan
        The plan itself where all sail the control's track, or the forecast has one wind for all.
    """
    inputs, passage, boat = plan.voyage.inputs, plan.passage, plan.boat
    if passage.model.tracks == "control" or plan.reserve_kept.wind == "forecast":
        return plan
    progress("sailing each forecast's own track")
    forecast = extended(inputs, recall or Recall())
    # loads that can wait go where the bill, drawn for the control's track, has them
    expected_w = expected_surplus_w(plan.harvest, plan.demand, boat.load)
    voyages = []
    for member in range(plan.ledger.sizes["member"]):
        track = within_reach(sail_on(passage, boat, inputs.route, wind_of(forecast, member=member)), forecast)
        same_time = steps_by_clock(track.sizes["time"], expected_w.size, step_s=step_seconds(track))
        track, harvest, demand = flow_along(
            track,
            forecast,
            inputs,
            ship_offset=plan.ship_offset,
            recall=Recall(),
            outcomes=(member,),
            surplus_w=expected_w[same_time],
        )
        voyages.append(follow(plan, track, harvest, demand, member=member))
    return scored(plan, own_tracks(plan, voyages))
