"""What a plan would refuse, found out by its own stages before anything costly is computed."""

from __future__ import annotations

from planner.decision.policy.by_clock import Rules
from planner.decision.policy.decide import refuse_beyond_memory
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.given import Inputs
from planner.flow.recall import Recall
from planner.flow.stages import extended, sailed
from planner.simulation.ship_time import ship_offset_along
from planner.simulation.sky.forecast_calendar import has_one_wind, wind_of
from planner.simulation.sky.weather import refuse_uncovered
from planner.simulation.track.sail import sail_on


def refusals(inputs: Inputs, recall: Recall) -> list[Fault]:
    """Return what planning refuses of inputs that are consistent: a track or a forecast that will not do.

    The control's track is sailed, then each member's own where the plan would; no shadow is cast.

    Parameters
    ----------
    inputs : Inputs
    recall : Recall
        Spares sailing again what was sailed.
    """
    passage, boat = inputs.passage, inputs.boat
    try:
        forecast = extended(inputs, recall)
        track = sailed(inputs, forecast, recall)
        refuse_uncovered(track, forecast)
        clock = ship_offset_along(passage, track, inputs.ship_offset)
        members = int(forecast.sizes["outcome"])
        rules = Rules(boat.engine, passage.watches, passage.wishes, clock)
        refuse_beyond_memory(track, rules, members=members)
        on_control = passage.model.tracks == "control" or has_one_wind(forecast)
        for member in () if on_control else range(members):
            sail_on(passage, boat, inputs.route, wind_of(forecast, member=member))
    except InputError as error:
        return list(error.faults)
    return []
