"""Every member on its own track: the one flow again in one member's wind, under the plan's ladders."""

from __future__ import annotations

from planner.app.inputs import Inputs
from planner.app.stages import Progress
from planner.app.verbs.plan import flow_along, laid_out
from planner.domain.results.plan import Plan
from planner.flow.recall import Recall


def with_own_tracks(plan: Plan, inputs: Inputs, *, progress: Progress, recall: Recall | None = None) -> Plan:
    """Return a plan scored with every member on its own track, where the passage asks for that and the winds part.

    Parameters
    ----------
    plan : Plan
        From ``plan_from``.
    inputs : Inputs
        That it was made from.
    progress : callable
        Told the stage as it begins.
    recall : Recall, optional
        Spares laying out the forecast again.

    Returns
    -------
    Plan
        The plan itself where all sail the control's track, or the forecast has one wind for all.
    """
    from planner.flow.own_tracks import follow, own_tracks, scored
    from planner.simulation.clock import step_seconds, steps_by_clock
    from planner.simulation.ledger.demand import expected_surplus_w
    from planner.simulation.sky.forecast_calendar import wind_of
    from planner.simulation.sky.weather import within_reach
    from planner.simulation.track.sail import sail_on

    passage, boat = inputs.passage, inputs.boat
    if passage.model.tracks == "control" or plan.reserve_kept.wind == "forecast":
        return plan
    progress("sailing each forecast's own track")
    forecast = laid_out(inputs, recall or Recall())
    # loads that can wait go where the bill, drawn for the control's track, has them
    expected_w = expected_surplus_w(plan.harvest, plan.demand, boat.load)
    voyages = []
    for member in range(plan.ledger.sizes["member"]):
        sailed = sail_on(passage, boat, inputs.route, wind_of(forecast, member=member))
        track = within_reach(sailed, forecast)
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
