"""A policy carried from the track that it was made for to another one: by the clock, not by the place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from planner.decision.policy.choices import choices_of
from planner.decision.policy.decide import permitted_steps
from planner.domain.inputs.passage import Watch, Wishes
from planner.domain.inputs.power import Engine
from planner.domain.policy import Policy
from planner.domain.ship_clock import ShipOffset
from planner.simulation.clock import changes_of_watch, step_seconds, steps_by_clock
from planner.simulation.track.under_sail import under_sail

if TYPE_CHECKING:
    import xarray as xr


def by_clock(
    policy: Policy,
    track: xr.Dataset,
    *,
    engine: Engine,
    watches: Sequence[Watch],
    wishes: Wishes,
    ship_offset: ShipOffset,
) -> Policy:
    """Return a policy on the steps of another track, departure and clock the same.

    Each watch has the ladder and the stop that the bill has for it. Past the planned arrival the last day's watches
    are stood again with their ladders; where less than a day was planned, the last watch's fills the gap. What
    forbids a run is read from the track that is sailed: heel, and quiet hours by the clock. Driving forbids none and
    is not counted on, as in the plan: the ledger lets it use up a ladder's minutes.

    Parameters
    ----------
    policy : Policy
        On the steps of the planned track.
    track : xarray.Dataset
        With ``heel_deg``, begun at the same moment.
    engine : Engine
        From the boat file.
    watches, wishes
        From the passage file.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC, as planned.

    Returns
    -------
    Policy
        On the track that it was made for, the policy itself, where it was made without counting on driving.
    """
    first_step, end_step, _ = changes_of_watch(track["time"].values, watches, ship_offset)
    rows = steps_by_clock(track.sizes["time"], policy.allowed.size, step_s=step_seconds(track))
    watch = np.searchsorted(policy.first_step, rows[first_step], side="right") - 1
    choices = choices_of(
        first_step,
        end_step,
        permitted_steps(track, engine=engine, wishes=wishes, ship_offset=ship_offset),
        under_sail(track)["under_engine"].values.astype(np.bool_),
        step_s=step_seconds(track),
        min_run_min=engine.min_run_min,
        max_run_min=engine.max_run_min,
    )
    return Policy(
        first_step=first_step,
        end_step=end_step,
        minutes=policy.minutes[watch],
        stop_soc=policy.stop_soc[watch],
        allowed=choices.allowed,
    )
