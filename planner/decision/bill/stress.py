"""The plan in trouble: three overcast days, a day more at sea, the wind on the other side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Ints
from planner.domain.policy import Policy
from planner.domain.results.plan import Plan, Stress, Trouble
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.utc import from_numpy
from planner.domain.voyage import soc_course
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.simulate import members_mean, simulate

if TYPE_CHECKING:
    import xarray as xr


DAY_H: Final = 24.0  # h
OVERCAST_DAYS: Final = 3
# 1, of a clear sky's light: F. Kasten and G. Czeplak, Solar Energy 24 (1980) 177-189, give 1 - 0.75 N^3.4 for a sky
# covered by N, doi:10.1016/0038-092X(80)90391-6 (recalled)
OVERCAST_SHARE: Final = 0.25
SOC_SLACK: Final = 1e-9  # 1, rounding that is no breach


@dataclass(frozen=True, eq=False)
class _Weather:
    """What a trouble changes: harvest, demand and track along the steps of a policy."""

    harvest: xr.Dataset
    demand: xr.Dataset
    track: xr.Dataset
    policy: Policy


def stresses(plan: Plan, other_tack: xr.Dataset | None) -> tuple[Stress, ...]:
    """Follow the plan's ladders through troubles that the forecast does not hold.

    Loads are those of the plan. The overcast days are the three in a row, begun at a change of passage day, that the
    fewest members stand, and of equals leave the planned course lowest; the sun is held to a quarter of the brightest
    that any member brings on any day at that time of day. A day more at sea is the last day once again, under sail,
    with its watches' ladders.

    Parameters
    ----------
    plan : Plan
    other_tack : xarray.Dataset, optional
        Harvest of the same members with the wind over the other side throughout.

    Returns
    -------
    tuple of Stress
        In that order.
    """
    as_planned = _Weather(
        harvest=plan.harvest[["controller_power_w"]],
        demand=plan.demand[["demand_power_w"]],
        track=plan.track,
        policy=plan.policy,
    )
    troubles = [_overcast(plan, as_planned), _outcome(plan, "day_longer", _day_longer(as_planned))]
    if other_tack is not None:
        turned = replace(as_planned, harvest=other_tack[["controller_power_w"]])
        troubles.append(_outcome(plan, "other_side", turned))
    return tuple(troubles)


def _overcast(plan: Plan, weather: _Weather) -> Stress:
    """Return the worst three days in a row."""
    step_h = step_seconds(weather.track) / SECONDS_PER_HOUR
    a_day = round(DAY_H / step_h)
    offered = weather.harvest["controller_power_w"]
    steps = offered.sizes["time"]
    of_day = np.arange(steps) % a_day
    brightest = np.zeros((a_day, offered.sizes["controller"]))
    np.maximum.at(brightest, of_day, offered.max("member").transpose("time", "controller").values)
    dull = np.minimum(offered.transpose("member", "time", "controller").values, OVERCAST_SHARE * brightest[of_day])
    last = max(steps - OVERCAST_DAYS * a_day, 0)
    outcomes = []
    for first in range(0, last + 1, a_day):
        days = slice(first, first + OVERCAST_DAYS * a_day)
        power = offered.transpose("member", "time", "controller").copy()
        power[:, days] = dull[:, days]
        begun = _moment(weather.track, first)
        harvest = weather.harvest.assign(controller_power_w=power)
        outcomes.append(_outcome(plan, "overcast", replace(weather, harvest=harvest), begun=begun))
    return min(outcomes, key=lambda outcome: (outcome.kept, outcome.lowest_soc))


def _day_longer(weather: _Weather) -> _Weather:
    """Return the passage with its last day once more, the engine not driving."""
    step_h = step_seconds(weather.track) / SECONDS_PER_HOUR
    steps = weather.track.sizes["time"]
    again = min(round(DAY_H / step_h), steps)
    rows = np.concatenate([np.arange(steps), np.arange(steps - again, steps)])
    driving = weather.track["under_engine"].values[rows].copy()
    driving[steps:] = 0
    policy = weather.policy
    begun = np.maximum(policy.first_step, steps - again) + again
    repeated = policy.end_step > steps - again
    longer = replace(
        policy,
        first_step=np.concatenate([policy.first_step, begun[repeated]]),
        end_step=np.concatenate([policy.end_step, policy.end_step[repeated] + again]),
        minutes=np.concatenate([policy.minutes, policy.minutes[repeated]]),
        stop_soc=np.concatenate([policy.stop_soc, policy.stop_soc[repeated]]),
        allowed=policy.allowed[rows],
        standing=policy.standing and replace(policy.standing, allowed=policy.standing.allowed[rows]),
    )
    track = _repeated(weather.track, rows)
    return _Weather(
        harvest=_repeated(weather.harvest, rows),
        demand=_repeated(weather.demand, rows),
        track=track.assign(under_engine=("time", driving, weather.track["under_engine"].attrs)),
        policy=longer,
    )


def _repeated(dataset: xr.Dataset, rows: Ints) -> xr.Dataset:
    """Return the rows of a dataset along its time, which runs on evenly."""
    step_s = step_seconds(dataset)
    time = dataset["time"].values[0] + np.arange(rows.size) * np.timedelta64(round(step_s * 1e9), "ns")
    return dataset.isel(time=rows).assign_coords(time=time).assign_attrs(step_s=step_s)


def _outcome(plan: Plan, trouble: Trouble, weather: _Weather, *, begun: datetime | None = None) -> Stress:
    """Run the ledgers through a trouble."""

    def ledger(harvest: xr.Dataset, demand: xr.Dataset) -> xr.Dataset:
        return simulate(
            harvest,
            demand,
            weather.track,
            bank=plan.boat.bank,
            engine=plan.boat.engine,
            policy=weather.policy,
            start_soc=plan.passage.start.state_of_charge,
        )

    planned = ledger(*members_mean(weather.harvest, weather.demand))
    soc = soc_course(planned)[0]
    charging = (planned["engine_on"].values[0] > 0) & ~(weather.track["under_engine"].values > 0)
    under = soc_course(ledger(weather.harvest, weather.demand)) < plan.boat.bank.reserve_soc - SOC_SLACK
    lost = np.flatnonzero(under.any(axis=0))
    at = int(np.argmin(soc))
    return Stress(
        trouble=trouble,
        begun=begun,
        lowest_soc=float(soc[at]),
        lowest_at=_moment(weather.track, at),
        charging_h=float(charging.sum()) * step_seconds(weather.track) / SECONDS_PER_HOUR,
        kept=int((~under.any(axis=1)).sum()),
        members=len(under),
        lost_from=_moment(weather.track, int(lost[0])) if lost.size else None,
    )


def _moment(track: xr.Dataset, step: int) -> datetime:
    """Return the start of a step; of the step after the last, arrival [UTC]."""
    return from_numpy(track["time"].values[0]) + timedelta(seconds=step_seconds(track) * step)
