"""A policy by the clock, on whatever track a boat comes to sail: what forbids a run is read from that track."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.decision.policy.choices import open_steps
from planner.domain.arrays import Bools, Ints
from planner.domain.inputs.passage import Watch, Wishes
from planner.domain.inputs.power import Engine
from planner.domain.policy import Policy
from planner.domain.ship_clock import ShipOffset
from planner.simulation.clock import changes_of_watch, in_spans, step_seconds, steps_by_clock

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class Rules:
    """What a track is to be read by: when watches change, and what forbids a run.

    Attributes
    ----------
    engine, watches, wishes, ship_offset
        As for ``decide``.
    """

    engine: Engine
    watches: Sequence[Watch]
    wishes: Wishes
    ship_offset: ShipOffset

    def changes_of_watch(self, track: xr.Dataset) -> tuple[Ints, Ints, Ints]:
        """Return the first and the end step of every watch along a track, and which of the day's it is."""
        return changes_of_watch(track["time"].values, self.watches, self.ship_offset)


def possible_steps(track: xr.Dataset, engine: Engine) -> Bools:
    """Return the steps in which the engine can run to charge: in order, and upright enough, (time,).

    Parameters
    ----------
    track : xarray.Dataset
        With ``heel_deg``.
    engine : Engine
        From the boat file.
    """
    upright: Bools = np.abs(track["heel_deg"].values) <= engine.max_heel_deg
    return upright & engine.available


def allowed_steps(track: xr.Dataset, rules: Rules) -> Bools:
    """Return the steps in which a ladder's run may take place, those under engine not among them, (time,).

    Parameters
    ----------
    track : xarray.Dataset
        With ``heel_deg`` and ``under_engine``.
    rules : Rules
    """
    quiet = in_spans(track["time"].values, rules.wishes.quiet_hours, rules.ship_offset)
    return open_steps(
        *rules.changes_of_watch(track)[:2],
        possible_steps(track, rules.engine) & ~quiet,
        track["under_engine"].values > 0,
        step_s=step_seconds(track),
        min_run_min=rules.engine.min_run_min,
    )


def by_clock(policy: Policy, track: xr.Dataset, rules: Rules) -> Policy:
    """Return a policy on the steps of one track, departure and clock the same.

    Each watch has the ladder and the stop that the bill has for it. Past the policy's end its last day's watches are
    stood again with their ladders; where it is shorter than a day, the last watch's fills the gap.

    Parameters
    ----------
    policy : Policy
        By the same clock.
    track : xarray.Dataset
        Begun at the same moment.
    rules : Rules
    """
    first_step, end_step, _ = rules.changes_of_watch(track)
    rows = steps_by_clock(track.sizes["time"], int(policy.end_step[-1]), step_s=step_seconds(track))
    watch = np.searchsorted(policy.first_step, rows[first_step], side="right") - 1
    standing = policy.standing
    return Policy(
        first_step=first_step,
        end_step=end_step,
        minutes=policy.minutes[watch],
        stop_soc=policy.stop_soc[watch],
        allowed=allowed_steps(track, rules),
        standing=replace(standing, allowed=possible_steps(track, rules.engine)) if standing else None,
    )
