"""Whether the card of the last plan still serves, tried beside a new one on the courses from the fix on."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.inputs.given import Inputs
from planner.domain.policy import METER_READINGS, Policy
from planner.domain.results.replan import LastCard, LastLadder, LastPlan
from planner.domain.utc import from_numpy
from planner.flow.progress import silent
from planner.flow.recall import Recall
from planner.flow.run import Run
from planner.simulation.clock import step_seconds

if TYPE_CHECKING:
    import xarray as xr

DAY: Final = timedelta(days=1)


def try_last_card(last: LastPlan, inputs: Inputs, recall: Recall) -> LastCard:
    """Try the ladders of the last plan beside those made anew.

    Parameters
    ----------
    last : LastPlan
    inputs : Inputs
        From the fix on.
    recall : Recall
        Of the plan that was made of them.
    """
    run = Run(inputs, recall, silent)
    anew = run.decided_for_all().policy
    kept, run_min = run.tried(policy_of(last, anew, run.control.track))
    kept_anew, run_anew_min = run.tried(anew)
    return LastCard(kept, kept_anew, run_min, run_anew_min)


def policy_of(last: LastPlan, anew: Policy, track: xr.Dataset) -> Policy:
    """Return the ladders of the last plan on the watches of a new one.

    A watch has the ladder that the last plan has for its beginning; past its end, that of the same time on its last
    day. ``track`` begins as the new ladders do.
    """
    step, departs = timedelta(seconds=step_seconds(track)), from_numpy(track["time"].values[0])
    begins = [departs + int(first) * step for first in anew.first_step]
    ladders = [_ladder_at(last, moment) for moment in begins]
    standing = anew.standing
    if standing is not None and last.standing is not None:
        standing = replace(standing, start_percent=last.standing[0], stop_percent=last.standing[1])
    return replace(
        anew,
        minutes=np.array([_by_reading(ladder) for ladder in ladders], dtype=np.int64),
        stop_soc=np.array([ladder.stop_percent / 100.0 for ladder in ladders]),
        standing=standing,
    )


def _ladder_at(last: LastPlan, moment: datetime) -> LastLadder:
    """Return the ladder in force at a moment, the last day's again where it is later than all."""
    while moment >= last.ladders[-1].end:
        moment -= DAY
    return next((each for each in reversed(last.ladders) if each.start <= moment), last.ladders[0])


def _by_reading(ladder: LastLadder) -> list[int]:
    """Return minutes for each whole percent."""
    rungs, readings = ladder.rungs, range(METER_READINGS)
    return [next(minutes for lowest, minutes in rungs if reading >= lowest) for reading in readings]
