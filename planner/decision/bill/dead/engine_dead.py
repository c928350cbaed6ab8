"""If the engine is dead from now: how long the bank lasts, and how late shedding still saves it."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.results.bill import EngineDead
from planner.domain.voyage import Voyage, asked_demand_w, offered_solar_w, soc_course
from planner.physics.bank import BankParams, bank_step
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.sources import other_offered_w

POOR_PART = 0.1  # part of the members that do worse than the figure shown
NEVER = np.iinfo(np.int64).max
TOO_LATE = -1
SOC_TOLERANCE = 1e-7  # 1, SOC to which the least SOC is solved


def engine_dead(voyage: Voyage) -> tuple[EngineDead, ...]:
    """Return, for each watch, what holds if neither engine nor alternator runs from its start.

    Each member starts from its own SOC at the change of watch. It reaches the reserve at the start of the first step
    at which its SOC is below. Having found out, the crew shed every load that has a shedding order, to arrival; the
    latest time to find out is the last step, before the reserve is reached, at which that still keeps it. Both
    figures are those of the member that a tenth of the others do worse than. The bank gives what its SOC holds: how
    fast a lead bank's wells yield it is left out, which loads far above a house's would call for.

    Parameters
    ----------
    voyage : Voyage

    Returns
    -------
    tuple of EngineDead
        One a watch.
    """
    params = bank_params(voyage.boat.bank)
    solar = offered_solar_w(voyage.ledger) + other_offered_w(voyage.track)
    demand = asked_demand_w(voyage.ledger)
    reserve = voyage.boat.bank.reserve_soc
    least = least_soc(solar, after_shedding_w(voyage), reserve, voyage.step_s, params)
    reached, find_out = _from_each_watch(
        soc_course(voyage.ledger),
        np.ascontiguousarray(voyage.ledger["engine_on"].values.astype(np.bool_)),
        solar,
        demand,
        least,
        voyage.policy.first_step,
        reserve,
        voyage.step_s,
        params,
    )
    return tuple(_dead(voyage, epoch, poor(reached[epoch]), poor(find_out[epoch])) for epoch in range(voyage.epochs))


def after_shedding_w(voyage: Voyage, *, up_to_order: float = math.inf) -> Floats:
    """Return what the loads ask for once those that may be shed are, (member, time) [W].

    Parameters
    ----------
    voyage : Voyage
    up_to_order : float
        Loads with a higher shedding order stay on.
    """
    shed = {load.name for load in voyage.boat.load if load.shed_order is not None and load.shed_order <= up_to_order}
    goes = [name in shed for name in voyage.demand["load"].values]
    saved = voyage.demand["load_item_power_w"].values[:, goes].sum(axis=1)
    left: Floats = np.maximum(asked_demand_w(voyage.ledger) - saved, 0.0)
    return left


@njit(cache=True)
def least_soc(solar_w: Floats, demand_w: Floats, reserve: float, step_s: float, params: BankParams) -> Floats:
    """Return the least SOC from which the reserve is kept to arrival with no engine.

    Marched back from arrival: the bank's step is undone by ``x <- x + (wanted - next(x))``, which settles because
    the next SOC rises with the SOC nearly one for one.

    Parameters
    ----------
    solar_w, demand_w : float array (member, time)
        Offered and asked for [W].
    reserve : float
        SOC to keep [0..1].
    step_s : float
        Length of a step [s].
    params : BankParams

    Returns
    -------
    float array (member, time + 1)
        SOC at the start of each step and at arrival [0..1]; infinite where even a full bank is not enough.
    """
    members, steps = solar_w.shape
    least = np.empty((members, steps + 1))
    for member in range(members):
        least[member, steps] = reserve
        for step in range(steps - 1, -1, -1):
            wanted = least[member, step + 1]
            soc = min(wanted, 1.0)
            short = np.inf
            for _ in range(100):
                after = bank_step(
                    soc, solar_w[member, step], 0.0, 0.0, demand_w[member, step], step_s, params, np.inf, 0.0
                )[0]
                short = wanted - after
                if abs(short) <= SOC_TOLERANCE or (soc >= 1.0 and short > 0.0) or (soc <= reserve and short < 0.0):
                    break
                soc = min(max(soc + short, reserve), 1.0)
            least[member, step] = np.inf if short > SOC_TOLERANCE else max(soc, reserve)
    return least


@njit(cache=True)
def _from_each_watch(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    soc: Floats,
    engine_on: Bools,
    solar_w: Floats,
    demand_w: Floats,
    least: Floats,
    first_step: Ints,
    reserve: float,
    step_s: float,
    params: BankParams,
) -> tuple[Ints, Ints]:
    """Return the step at which the reserve is reached and the last at which to find out, (epoch, member).

    Watches are taken from the last to the first: until the ledger's engine runs, a bank without engine follows the
    ledger, so at the next change of watch it goes on as that watch's own case does.
    """
    members, steps = solar_w.shape
    epochs = first_step.size
    reached = np.full((epochs, members), NEVER)
    find_out = np.full((epochs, members), TOO_LATE)
    for member in range(members):
        for epoch in range(epochs - 1, -1, -1):
            here = soc[member, first_step[epoch]]
            follows_ledger = True
            last = TOO_LATE
            for step in range(first_step[epoch], steps + 1):
                if epoch + 1 < epochs and step == first_step[epoch + 1] and follows_ledger:
                    reached[epoch, member] = reached[epoch + 1, member]
                    last = max(last, find_out[epoch + 1, member])
                    break
                if here < reserve:
                    reached[epoch, member] = step
                    break
                if here >= least[member, step]:
                    last = step
                if step < steps:
                    follows_ledger = follows_ledger and not engine_on[member, step]
                    if follows_ledger:
                        here = soc[member, step + 1]
                    else:
                        asked_w = demand_w[member, step]
                        here = bank_step(here, solar_w[member, step], 0.0, 0.0, asked_w, step_s, params, np.inf, 0.0)[
                            0
                        ]
            find_out[epoch, member] = NEVER if reached[epoch, member] == NEVER else last
    return reached, find_out


def poor(steps: npt.NDArray[np.int64]) -> int:
    """Return the figure that a tenth of the members do worse than, worse being sooner.

    Parameters
    ----------
    steps : int array (member,)
        At which each fails; ``NEVER`` where it does not.
    """
    return int(np.sort(steps)[int(POOR_PART * (steps.size - 1))])


def _dead(voyage: Voyage, epoch: int, reached: int, find_out: int) -> EngineDead:
    if reached == NEVER:
        return EngineDead(hours_left=None, find_out_by=None)
    first = int(voyage.policy.first_step[epoch])
    return EngineDead(
        hours_left=(reached - first) * voyage.step_h,
        find_out_by=None if find_out in (TOO_LATE, NEVER) else voyage.at(find_out),
    )
