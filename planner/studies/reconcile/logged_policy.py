"""The logged engine as a policy: one epoch a run, the same minutes at any state of charge."""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr

from planner.domain.arrays import Bools
from planner.domain.glossary import TRACK
from planner.domain.policy import METER_READINGS, Policy
from planner.domain.schema import attributes
from planner.simulation.clock import step_seconds

RUNNING_FROM: Final = 0.5  # 1, part of a step from which the engine counts as running in it
NEVER_STOPS: Final = 2.0  # 1, a state of charge that no meter shows


def ran(steps: xr.Dataset, track: xr.Dataset) -> Bools:
    """Return the steps in which the engine ran: by the log, and where it does not say, as the track has it.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on the track's steps; ``read_engine_on`` is a part of the step, NaN where not read.
    track : xarray.Dataset
        For ``under_engine``.

    Returns
    -------
    bool array (time,)
    """
    read = steps["read_engine_on"].values
    logged: Bools = np.where(np.isnan(read), track["under_engine"].values, read) >= RUNNING_FROM
    return logged


def track_of_record(track: xr.Dataset, engine_ran: Bools) -> xr.Dataset:
    """Return the track with the engine driving her only where it was to and did run by the log.

    Parameters
    ----------
    track : xarray.Dataset
        As sailed by the model.
    engine_ran : bool array (time,)
        From ``ran``.
    """
    driving = (track["under_engine"].values > 0) & engine_ran
    quantity = TRACK["under_engine"]
    return track.assign(under_engine=(quantity.dims, driving.astype(np.float64), attributes(quantity)))


def policy_of_record(engine_ran: Bools, track: xr.Dataset) -> Policy:
    """Return the policy that runs the engine in just these steps.

    Simulated on the track of ``track_of_record``, with an engine that is available, it gives a ledger whose
    ``engine_on`` is the record.

    Parameters
    ----------
    engine_ran : bool array (time,)
        Steps in which it ran.
    track : xarray.Dataset
        Whose steps they are.

    Returns
    -------
    Policy
        One epoch a run; none where it never ran.
    """
    edges = np.diff(np.concatenate([[0], engine_ran.astype(np.int64), [0]]))
    first, end = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    step_min = step_seconds(track) / 60.0
    minutes = np.rint((end - first) * step_min).astype(np.int64)
    return Policy(
        first_step=first.astype(np.int64),
        end_step=end.astype(np.int64),
        minutes=np.repeat(minutes[:, None], METER_READINGS, axis=1),
        stop_soc=np.full(first.size, NEVER_STOPS),
        allowed=np.asarray(engine_ran, dtype=np.bool_),
    )
