"""Where the reserve cannot be kept: when the bank falls under it, by how much, and what shedding saves it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from planner.decision.bill.engine_dead import after_shedding_w
from planner.decision.bill.summary import fuel
from planner.decision.policy.full_charge import full_soc
from planner.decision.policy.table import LEAST_GAIN, SUBSTEP_S
from planner.domain.arrays import Floats
from planner.domain.results.figures import ReserveKept
from planner.domain.voyage import Voyage, soc_course
from planner.physics.bank import bank_step
from planner.simulation.ledger.simulate import alternator_limit_w, bank_params, fuel_l, simulate
from planner.simulation.track.under_sail import under_sail

DAY_H = 24.0  # h
_IN_WIND: Final = {"own": ", each in its own wind", "control": "", "forecast": ""}


def shortfall(voyage: Voyage, reserve_kept: ReserveKept) -> tuple[str, ...]:
    """Return warnings of a reserve not kept as surely as asked for, full charges missed, and fuel that may not last.

    Parameters
    ----------
    voyage : Voyage
    reserve_kept : ReserveKept
        As the decision found it: warned of when even the upper end of its interval misses the confidence, or when
        the planned course falls under the reserve.

    Returns
    -------
    tuple of str
        Empty when there is nothing to warn of.
    """
    return (*reserve_warnings(voyage, reserve_kept), *_full_charge(voyage), *_fuel(voyage))


def reserve_warnings(voyage: Voyage, reserve_kept: ReserveKept) -> tuple[str, ...]:
    """Return the warning of a reserve not kept as surely as asked for, or none.

    Parameters
    ----------
    voyage : Voyage
        Its ledgers tell when the members fall under the reserve, and what shedding saves it.
    reserve_kept : ReserveKept
        In whichever wind; as for ``shortfall``.
    """
    reserve = voyage.boat.bank.reserve_soc
    if reserve_kept.high >= reserve_kept.confidence and voyage.planned_soc.min() >= reserve:
        return ()
    words = [
        f"The reserve of {_percent(reserve)} cannot be kept as surely as asked: it was in {reserve_kept.kept} of "
        f"{reserve_kept.members} trials{_IN_WIND[reserve_kept.wind]}, {_percent(reserve_kept.confidence)} wanted."
        if reserve_kept.kept < reserve_kept.confidence * reserve_kept.members
        else f"In the forecast's mean weather the bank falls under the reserve of {_percent(reserve)}."
    ]
    if not voyage.boat.engine.available:
        words.append("The engine is out of service.")
    elif not worth_running(voyage):
        words.append("The alternator adds too little for any run to be worth it.")
    soc = soc_course(voyage.ledger)
    under = soc < reserve
    fell = int(under.any(axis=1).sum())
    if fell:
        first = int(np.flatnonzero(under.any(axis=0))[0])
        member, last = np.unravel_index(int(np.argmin(soc)), soc.shape)
        where = "On the control's track " if reserve_kept.wind == "own" else ""
        words.append(
            f"{where}{fell} of {soc.shape[0]} members fall under it, the first on {_moment(voyage, first)}, "
            f"the worst to {_percent(soc[member, last])} on {_moment(voyage, int(last))} (ship's time)."
        )
    if soc.shape[0] - fell < _members_wanted(voyage):
        words.append(_remedy(voyage))
    return (" ".join(words),)


def _remedy(voyage: Voyage) -> str:
    """Say which loads to shed, in the boat's order, and from which change of watch at the latest."""
    orders = sorted({load.shed_order for load in voyage.boat.load if load.shed_order is not None})
    for order in orders:
        shed = after_shedding_w(voyage, up_to_order=order)
        if not _kept_with_shedding(voyage, shed, 0):
            continue
        names = [load.name for load in sorted(voyage.boat.load, key=lambda load: load.shed_order or 0)
                 if load.shed_order is not None and load.shed_order <= order]  # fmt: skip
        latest = _latest_epoch(voyage, shed)
        begun = _moment(voyage, int(voyage.policy.first_step[latest]))
        return f"Shedding {_listed(names)} saves it, if begun by {begun}."
    if orders:
        return "Shedding every load that may be shed does not save it: it takes more engine, sun or bank."
    return "The boat file names no load that may be shed."


def _latest_epoch(voyage: Voyage, shed: Floats) -> int:
    """Return the last change of watch from which shedding saves the reserve, by bisection; 0 is known to."""
    saves, fails = 0, voyage.epochs
    while fails - saves > 1:
        middle = (saves + fails) // 2
        if _kept_with_shedding(voyage, shed, middle):
            saves = middle
        else:
            fails = middle
    return saves


def _kept_with_shedding(voyage: Voyage, shed: Floats, epoch: int) -> bool:
    """Return whether enough members keep the reserve if loads are shed from a change of watch on."""
    first = int(voyage.policy.first_step[epoch])
    power = voyage.demand["demand_power_w"].copy()
    power[:, first:] = shed[:, first:]
    ledger = simulate(
        voyage.harvest,
        voyage.demand.assign(demand_power_w=power),
        voyage.track,
        bank=voyage.boat.bank,
        engine=voyage.boat.engine,
        policy=voyage.policy,
        start_soc=voyage.passage.start.state_of_charge,
    )
    kept = (soc_course(ledger) >= voyage.boat.bank.reserve_soc).all(axis=1)
    return int(kept.sum()) >= _members_wanted(voyage)


def _members_wanted(voyage: Voyage) -> int:
    """Return how many members must keep the reserve for the wanted confidence."""
    return math.ceil(round(voyage.passage.wishes.confidence * voyage.ledger.sizes["member"], 9))


def _full_charge(voyage: Voyage) -> tuple[str, ...]:
    """Say where the planned course goes longer without a full charge than wanted; departure counts as one."""
    days = voyage.passage.wishes.full_charge_every_days
    if days is None:
        return ()
    first, end = longest_without_full(voyage, voyage.planned_soc)
    longest_d = (end - first) * voyage.step_h / DAY_H
    if longest_d <= days:
        return ()
    return (
        f"Full charge: wanted every {days:g} days, but the plan goes {longest_d:.1f} days without, from "
        f"{_moment(voyage, first)} to {_moment(voyage, end)} (ship's time): runs long enough cost more than they are "
        "worth, or nothing allows them.",
    )


def longest_without_full(voyage: Voyage, soc: Floats) -> tuple[int, int]:
    """Return the first and last step of the longest stretch without a full charge on a course (time + 1,)."""
    full = np.flatnonzero(soc >= full_soc(bank_params(voyage.boat.bank)))
    edges = np.unique(np.concatenate([[0], full, [voyage.steps]]))
    longest = int(np.argmax(np.diff(edges)))
    return int(edges[longest]), int(edges[longest + 1])


def worth_running(voyage: Voyage) -> bool:
    """Return whether half an hour of the alternator adds enough for a crew to start the engine."""
    params = bank_params(voyage.boat.bank)
    alternator_w = float(alternator_limit_w(under_sail(voyage.track), voyage.boat.engine, voyage.boat.bank).max())
    step = bank_step(0.5, 0.0, alternator_w, 0.0, 0.0, SUBSTEP_S, params)
    return float(step.soc_next) - 0.5 >= LEAST_GAIN


def _fuel(voyage: Voyage) -> tuple[str, ...]:
    engine = voyage.boat.engine
    burnt = fuel(voyage, slice(0, voyage.steps))
    spare = engine.tank_l - engine.landfall_l
    if burnt.p90 <= spare:
        return ()
    words = (
        f"Fuel: the plan burns {burnt.planned:.0f} L, {burnt.p90:.0f} L in the poor tenth of the weather, and the "
        f"tank holds {spare:.0f} L above what landfall needs"
    )
    used_up = np.flatnonzero(np.cumsum(fuel_l(voyage.planned, voyage.track, voyage.boat.engine)[0]) > spare)
    if not used_up.size:
        return (f"{words}.",)
    charging_min = 60.0 * spare / engine.charging_l_per_h
    return (
        f"{words}: as planned it is used up on {_moment(voyage, int(used_up[0]))} (ship's time). It is enough for "
        f"{charging_min / 60.0:.1f} h of charging: take more, shed loads, or drive less.",
    )


def _percent(soc: float) -> str:
    return f"{round(100.0 * float(soc))} %"


def _moment(voyage: Voyage, step: int) -> str:
    ship = voyage.at(step) + voyage.ship_offset
    return f"{ship:%a} {ship.day} {ship:%b %H:%M}"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
