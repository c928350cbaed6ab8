"""The plan in trouble: overcast days, the wind on the other side, a day more or less at sea, a wait off landfall."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.decision.policy.scoring import SOC_SLACK
from planner.domain.arrays import Ints
from planner.domain.policy import Policy
from planner.domain.results.plan import Plan, Stress, Trouble
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.utc import from_numpy
from planner.domain.voyage import soc_course
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.demand import STEERING
from planner.simulation.ledger.simulate import fuel_l, members_mean, simulate

if TYPE_CHECKING:
    import xarray as xr


DAY_H: Final = 24.0  # h
OVERCAST_DAYS: Final = 3
WAIT_H: Final = 12.0  # h, the longest night outside a harbour in the lower latitudes
# 1, of a clear sky's light: F. Kasten and G. Czeplak, Solar Energy 24 (1980) 177-189, give 1 - 0.75 N^3.4 for a sky
# covered by N, doi:10.1016/0038-092X(80)90391-6 (recalled)
OVERCAST_SHARE: Final = 0.25


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
    with its watches' ladders; a day less is the passage without its last day. A wait off the landfall is half a day
    more of the last day's weather, hove-to.

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
    troubles = [_overcast(plan, as_planned), _outcome(plan, "day_longer", _once_more(as_planned, DAY_H))]
    if other_tack is not None:
        turned = replace(as_planned, harvest=other_tack[["controller_power_w"]])
        troubles.append(_outcome(plan, "other_side", turned))
    troubles += [
        _outcome(plan, "day_shorter", _day_shorter(as_planned)),
        _outcome(plan, "waits", _hove_to(plan, as_planned)),
    ]
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


def _once_more(weather: _Weather, hours: float) -> _Weather:
    """Return the passage with the first hours of its last day once more at its end, the engine not driving."""
    step_h = step_seconds(weather.track) / SECONDS_PER_HOUR
    steps = weather.track.sizes["time"]
    day = min(round(DAY_H / step_h), steps)
    begins, ends = steps - day, min(steps - day + round(hours / step_h), steps)
    rows = np.concatenate([np.arange(steps), np.arange(begins, ends)])
    driving = weather.track["under_engine"].values[rows].copy()
    driving[steps:] = 0
    policy = weather.policy
    again = (policy.end_step > begins) & (policy.first_step < ends)
    longer = replace(
        policy,
        first_step=np.concatenate([policy.first_step, np.maximum(policy.first_step[again], begins) + day]),
        end_step=np.concatenate([policy.end_step, np.minimum(policy.end_step[again], ends) + day]),
        minutes=np.concatenate([policy.minutes, policy.minutes[again]]),
        stop_soc=np.concatenate([policy.stop_soc, policy.stop_soc[again]]),
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


def _hove_to(plan: Plan, weather: _Weather) -> _Weather:
    """Return the passage with a wait before the landfall, hove-to: nothing steers."""
    waits = _once_more(weather, WAIT_H)
    steps = plan.voyage.steps
    items = plan.demand["load_item_power_w"].transpose("time", "load")
    steered_w = items.values[:, items["load"].values == STEERING].sum(axis=1)
    first = steps - min(round(DAY_H / plan.voyage.step_h), steps)
    demand = waits.demand["demand_power_w"].transpose("member", "time").copy()
    more = demand.sizes["time"] - steps
    demand[:, steps:] -= steered_w[first : first + more]
    return replace(waits, demand=waits.demand.assign(demand_power_w=demand))


def _day_shorter(weather: _Weather) -> _Weather:
    """Return the passage without its last day; half a day at least is left."""
    step_h = step_seconds(weather.track) / SECONDS_PER_HOUR
    steps = weather.track.sizes["time"]
    rows = np.arange(max(steps - round(DAY_H / step_h), min(round(WAIT_H / step_h), steps)))
    policy, stood = weather.policy, weather.policy.first_step < rows.size
    return _Weather(
        harvest=_repeated(weather.harvest, rows),
        demand=_repeated(weather.demand, rows),
        track=_repeated(weather.track, rows),
        policy=replace(
            policy,
            first_step=policy.first_step[stood],
            end_step=np.minimum(policy.end_step[stood], rows.size),
            minutes=policy.minutes[stood],
            stop_soc=policy.stop_soc[stood],
            allowed=policy.allowed[rows],
            standing=policy.standing and replace(policy.standing, allowed=policy.standing.allowed[rows]),
        ),
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
        arrival_soc=float(soc[-1]),
        fuel_l=float(fuel_l(planned, weather.track, plan.boat.engine).sum()),
        charging_h=float(charging.sum()) * step_seconds(weather.track) / SECONDS_PER_HOUR,
        kept=int((~under.any(axis=1)).sum()),
        members=len(under),
        lost_from=_moment(weather.track, int(lost[0])) if lost.size else None,
    )


def _moment(track: xr.Dataset, step: int) -> datetime:
    """Return the start of a step; of the step after the last, arrival [UTC]."""
    return from_numpy(track["time"].values[0]) + timedelta(seconds=step_seconds(track) * step)
