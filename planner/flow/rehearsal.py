"""What a plan would refuse, found out by its own stages before anything costly is computed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.decision.policy.by_clock import Rules, allowed_steps
from planner.decision.policy.choices import choices_of
from planner.decision.policy.table import refuse_too_large
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.given import Inputs
from planner.flow.recall import Recall
from planner.flow.stages import extended, sailed
from planner.simulation.clock import step_seconds
from planner.simulation.ship_time import ship_offset_along
from planner.simulation.sky.forecast_calendar import has_one_wind, wind_of
from planner.simulation.sky.weather import refuse_uncovered
from planner.simulation.track.sail import sail_on

if TYPE_CHECKING:
    import xarray as xr


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
        _refuse_beyond_memory(track, rules, members)
        on_control = passage.model.tracks == "control" or has_one_wind(forecast)
        for member in () if on_control else range(members):
            sail_on(passage, boat, inputs.route, wind_of(forecast, member=member))
    except InputError as error:
        return list(error.faults)
    return []


def _refuse_beyond_memory(track: xr.Dataset, rules: Rules, members: int) -> None:
    """Refuse a passage whose table of choices memory cannot hold, as the decision does."""
    first_step, end_step, _ = rules.changes_of_watch(track)
    choices = choices_of(
        first_step,
        end_step,
        allowed_steps(track, rules)[np.newaxis],
        track["under_engine"].to_numpy()[np.newaxis] > 0,
        step_s=step_seconds(track),
        min_run_min=rules.engine.min_run_min,
        max_run_min=rules.engine.max_run_min,
    )
    refuse_too_large(choices, members)
