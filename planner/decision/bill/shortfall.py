"""Where the reserve cannot be kept: when the bank falls under it, by how much, and what shedding saves it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from planner.decision.bill.case import Case, soc_course
from planner.decision.bill.engine_dead import after_shedding_w
from planner.decision.bill.summary import fuel
from planner.decision.policy.full_charge import full_soc
from planner.decision.policy.table import LEAST_GAIN, SUBSTEP_S
from planner.domain.arrays import Floats
from planner.domain.results.figures import ReserveKept
from planner.physics.bank import bank_step
from planner.simulation.ledger.simulate import alternator_limit_w, bank_params, simulate
from planner.simulation.track.under_sail import under_sail

DAY_H = 24.0  # h
_IN_WIND: Final = {"own": ", each in its own wind", "control": "", "forecast": ""}


def shortfall(case: Case, reserve_kept: ReserveKept) -> tuple[str, ...]:
    """Return warnings of a reserve not kept as surely as asked for, full charges missed, and fuel that may not last.

    Parameters
    ----------
    case : Case
    reserve_kept : ReserveKept
        As the decision found it: warned of when even the upper end of its interval misses the confidence, or when
        the planned course falls under the reserve.

    Returns
    -------
    tuple of str
        Empty when there is nothing to warn of.
    """
    return (*reserve_warnings(case, reserve_kept), *_full_charge(case), *_fuel(case))


def reserve_warnings(case: Case, reserve_kept: ReserveKept) -> tuple[str, ...]:
    """Return the warning of a reserve not kept as surely as asked for, or none.

    Parameters
    ----------
    case : Case
        Its ledgers tell when the members fall under the reserve, and what shedding saves it.
    reserve_kept : ReserveKept
        In whichever wind; as for ``shortfall``.
    """
    reserve = case.boat.bank.reserve_soc
    if reserve_kept.high >= reserve_kept.confidence and case.planned_soc.min() >= reserve:
        return ()
    words = [
        f"The reserve of {_percent(reserve)} cannot be kept as surely as asked: it was in {reserve_kept.kept} of "
        f"{reserve_kept.members} trials{_IN_WIND[reserve_kept.wind]}, {_percent(reserve_kept.confidence)} wanted."
        if reserve_kept.kept < reserve_kept.confidence * reserve_kept.members
        else f"In the forecast's mean weather the bank falls under the reserve of {_percent(reserve)}."
    ]
    if not case.boat.engine.available:
        words.append("The engine is out of service.")
    elif not worth_running(case):
        words.append("The alternator adds too little for any run to be worth it.")
    soc = soc_course(case.ledger)
    under = soc < reserve
    fell = int(under.any(axis=1).sum())
    if fell:
        first = int(np.flatnonzero(under.any(axis=0))[0])
        member, last = np.unravel_index(int(np.argmin(soc)), soc.shape)
        where = "On the control's track " if reserve_kept.wind == "own" else ""
        words.append(
            f"{where}{fell} of {soc.shape[0]} members fall under it, the first on {_moment(case, first)}, "
            f"the worst to {_percent(soc[member, last])} on {_moment(case, int(last))} (ship's time)."
        )
    if soc.shape[0] - fell < _members_wanted(case):
        words.append(_remedy(case))
    return (" ".join(words),)


def _remedy(case: Case) -> str:
    """Say which loads to shed, in the boat's order, and from which change of watch at the latest."""
    orders = sorted({load.shed_order for load in case.boat.load if load.shed_order is not None})
    for order in orders:
        shed = after_shedding_w(case, up_to_order=order)
        if not _kept_with_shedding(case, shed, 0):
            continue
        names = [load.name for load in sorted(case.boat.load, key=lambda load: load.shed_order or 0)
                 if load.shed_order is not None and load.shed_order <= order]  # fmt: skip
        latest = _latest_epoch(case, shed)
        begun = _moment(case, int(case.policy.first_step[latest]))
        return f"Shedding {_listed(names)} saves it, if begun by {begun}."
    if orders:
        return "Shedding every load that may be shed does not save it: it takes more engine, sun or bank."
    return "The boat file names no load that may be shed."


def _latest_epoch(case: Case, shed: Floats) -> int:
    """Return the last change of watch from which shedding saves the reserve, by bisection; 0 is known to."""
    saves, fails = 0, case.epochs
    while fails - saves > 1:
        middle = (saves + fails) // 2
        if _kept_with_shedding(case, shed, middle):
            saves = middle
        else:
            fails = middle
    return saves


def _kept_with_shedding(case: Case, shed: Floats, epoch: int) -> bool:
    """Return whether enough members keep the reserve if loads are shed from a change of watch on."""
    first = int(case.policy.first_step[epoch])
    power = case.demand["demand_power_w"].copy()
    power[:, first:] = shed[:, first:]
    ledger = simulate(
        case.harvest,
        case.demand.assign(demand_power_w=power),
        case.track,
        bank=case.boat.bank,
        engine=case.boat.engine,
        policy=case.policy,
        start_soc=case.passage.start.state_of_charge,
    )
    kept = (soc_course(ledger) >= case.boat.bank.reserve_soc).all(axis=1)
    return int(kept.sum()) >= _members_wanted(case)


def _members_wanted(case: Case) -> int:
    """Return how many members must keep the reserve for the wanted confidence."""
    return math.ceil(round(case.passage.wishes.confidence * case.ledger.sizes["member"], 9))


def _full_charge(case: Case) -> tuple[str, ...]:
    """Say where the planned course goes longer without a full charge than wanted; departure counts as one."""
    days = case.passage.wishes.full_charge_every_days
    if days is None:
        return ()
    first, end = longest_without_full(case, case.planned_soc)
    longest_d = (end - first) * case.step_h / DAY_H
    if longest_d <= days:
        return ()
    return (
        f"Full charge: wanted every {days:g} days, but the plan goes {longest_d:.1f} days without, from "
        f"{_moment(case, first)} to {_moment(case, end)} (ship's time): runs long enough cost more than they are "
        "worth, or nothing allows them.",
    )


def longest_without_full(case: Case, soc: Floats) -> tuple[int, int]:
    """Return the first and last step of the longest stretch without a full charge on a course (time + 1,)."""
    full = np.flatnonzero(soc >= full_soc(bank_params(case.boat.bank)))
    edges = np.unique(np.concatenate([[0], full, [case.steps]]))
    longest = int(np.argmax(np.diff(edges)))
    return int(edges[longest]), int(edges[longest + 1])


def worth_running(case: Case) -> bool:
    """Return whether half an hour of the alternator adds enough for a crew to start the engine."""
    params = bank_params(case.boat.bank)
    alternator_w = float(alternator_limit_w(under_sail(case.track), case.boat.engine, case.boat.bank).max())
    step = bank_step(0.5, 0.0, alternator_w, 0.0, 0.0, SUBSTEP_S, params)
    return float(step.soc_next) - 0.5 >= LEAST_GAIN


def _fuel(case: Case) -> tuple[str, ...]:
    engine = case.boat.engine
    burnt = fuel(case, slice(0, case.steps))
    spare = engine.tank_l - engine.landfall_l
    if burnt.p90 <= spare:
        return ()
    words = (
        f"Fuel: the plan burns {burnt.planned:.0f} L, {burnt.p90:.0f} L in the poor tenth of the weather, and the "
        f"tank holds {spare:.0f} L above what landfall needs"
    )
    used_up = np.flatnonzero(np.cumsum(case.planned_fuel_l[0]) > spare)
    if not used_up.size:
        return (f"{words}.",)
    charging_min = 60.0 * spare / engine.charging_l_per_h
    return (
        f"{words}: as planned it is used up on {_moment(case, int(used_up[0]))} (ship's time). It is enough for "
        f"{charging_min / 60.0:.1f} h of charging: take more, shed loads, or drive less.",
    )


def _percent(soc: float) -> str:
    return f"{round(100.0 * float(soc))} %"


def _moment(case: Case, step: int) -> str:
    ship = case.at(step) + case.ship_offset
    return f"{ship:%a} {ship.day} {ship:%b %H:%M}"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
