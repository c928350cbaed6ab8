"""What follows on the planned course if the run of one watch is skipped and the ladders are followed after."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.domain.voyage import Voyage, soc_course
from planner.simulation.ledger.simulate import members_mean, simulate

HOURS_WATCHED = 24.0  # h, over which the lowest SOC after a skipped run is looked for


@dataclass(frozen=True)
class Skipped:
    """The price of skipping a run.

    Attributes
    ----------
    later_min : int
        Minutes of charging after the watch, beyond the plan's [min].
    lowest_soc : float
        Lowest SOC in the 24 hours from the start of the watch [0..1].
    lowest_step : int
        When; the number of steps stands for arrival.
    """

    later_min: int
    lowest_soc: float
    lowest_step: int


def skipped_runs(voyage: Voyage) -> dict[int, Skipped]:
    """Skip, one at a time, each watch that has a run on the planned course.

    Parameters
    ----------
    voyage : Voyage

    Returns
    -------
    dict of int to Skipped
        By epoch.
    """
    mean_sun, mean_demand = members_mean(voyage.harvest, voyage.demand)
    results = {}
    for epoch in range(voyage.epochs):
        steps = voyage.epoch_steps(epoch)
        if not voyage.planned_charging[steps].any():
            continue
        minutes = voyage.policy.minutes.copy()
        minutes[epoch] = 0
        ledger = simulate(
            mean_sun,
            mean_demand,
            voyage.track,
            bank=voyage.boat.bank,
            engine=voyage.boat.engine,
            policy=replace(voyage.policy, minutes=minutes),
            start_soc=voyage.passage.start.state_of_charge,
        )
        charging = np.asarray(ledger["engine_on"].values[0], dtype=bool) & ~voyage.under_engine
        later = int(charging[steps.stop :].sum()) - int(voyage.planned_charging[steps.stop :].sum())
        soc = soc_course(ledger)[0]
        ahead = soc[steps.start : steps.start + round(HOURS_WATCHED / voyage.step_h) + 1]
        lowest = int(np.argmin(ahead))
        results[epoch] = Skipped(
            later_min=round(later * voyage.step_h * 60.0),
            lowest_soc=float(ahead[lowest]),
            lowest_step=steps.start + lowest,
        )
    return results
