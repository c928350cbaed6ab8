"""Where the reserve cannot be kept: when the bank falls under it, by how much, and what shedding saves it."""

from __future__ import annotations

import math

import numpy as np

from planner.decision.bill.dead.engine_dead import after_shedding_w
from planner.decision.bill.summary import fuel
from planner.decision.policy.full_charge import full_soc
from planner.decision.policy.rates import SUBSTEP_S
from planner.decision.policy.table import LEAST_GAIN
from planner.domain.arrays import Floats
from planner.domain.results.figures import Count, ReserveKept
from planner.domain.results.note import Note, together
from planner.domain.voyage import Voyage, soc_course
from planner.physics.bank import bank_step
from planner.simulation.ledger.bank import alternator_limit_w, bank_params
from planner.simulation.ledger.simulate import fuel_l, simulate
from planner.simulation.track.under_sail import under_sail

DAY_H = 24.0  # h
WEEK_D = 7.0  # d


def shortfall(voyage: Voyage, reserve_kept: ReserveKept) -> tuple[Note, ...]:
    """Return warnings of a reserve not kept as surely as asked for, full charges missed, and fuel that may not last.

    Parameters
    ----------
    voyage : Voyage
    reserve_kept : ReserveKept
        As the decision found it: warned of when even the upper end of its interval misses the confidence, or when
        the planned course falls under the reserve.

    Returns
    -------
    tuple of Note
        Empty when there is nothing to warn of.
    """
    return (
        *_reserve(voyage, reserve_kept),
        *_few_members(reserve_kept),
        *_full_charge(voyage),
        *_fuel(voyage),
        *(() if reserve_kept.wind == "own" else wants_warnings(voyage, _as_wanted(voyage))),
    )


def wants_warnings(voyage: Voyage, as_wanted: Count) -> tuple[Note, ...]:
    """Return the warning of an arrival with less in the bank than was wanted, or none.

    Parameters
    ----------
    voyage : Voyage
    as_wanted : Count
        Members that arrive with what was wanted, on whichever tracks they sail.
    """
    wishes = voyage.passage.wishes
    if as_wanted.k >= wishes.confidence * as_wanted.n:
        return ()
    return (
        Note(
            "arrives_short",
            {
                "wanted": wishes.arrival_soc,
                "as_wanted": as_wanted.k,
                "members": as_wanted.n,
                "confidence": wishes.confidence,
            },
        ),
    )


def _as_wanted(voyage: Voyage) -> Count:
    last = voyage.ledger["bank_soc_end"].values
    return Count(int((last >= voyage.passage.wishes.arrival_soc).sum()), last.size)


def _few_members(reserve_kept: ReserveKept) -> tuple[Note, ...]:
    """Return that more is asked than so many members could ever show."""
    if reserve_kept.can_show >= reserve_kept.confidence:
        return ()
    figures = {name: getattr(reserve_kept, name) for name in ("members", "can_show", "confidence")}
    return (Note("few_members", figures),)


def _reserve(voyage: Voyage, reserve_kept: ReserveKept) -> tuple[Note, ...]:
    """Return the warning of a reserve not kept as surely as asked for, or none."""
    reserve = voyage.boat.bank.reserve_soc
    if reserve_kept.high >= reserve_kept.confidence and voyage.planned_soc.min() >= reserve:
        return ()
    in_own_winds = reserve_kept.wind == "own"
    figures = {name: getattr(reserve_kept, name) for name in ("kept", "members", "confidence")}
    notes = [
        Note("reserve_missed_own" if in_own_winds else "reserve_missed", {"reserve": reserve, **figures})
        if not reserve_kept.as_asked
        else Note("reserve_missed_mean", {"reserve": reserve})
    ]
    if not voyage.boat.engine.available:
        notes.append(Note("engine_out_of_service"))
    elif not worth_running(voyage):
        notes.append(Note("alternator_small"))
    soc = soc_course(voyage.ledger)
    under = soc < reserve
    fell = int(under.any(axis=1).sum())
    if fell:
        first = int(np.flatnonzero(under.any(axis=0))[0])
        member, last = np.unravel_index(int(np.argmin(soc)), soc.shape)
        notes.append(
            Note(
                "members_under_control" if in_own_winds else "members_under",
                {
                    "under": fell,
                    "members": soc.shape[0],
                    "first": voyage.ship_time(first),
                    "worst": float(soc[member, last]),
                    "worst_at": voyage.ship_time(int(last)),
                },
            )
        )
    if soc.shape[0] - fell < _members_wanted(voyage):
        notes.append(_remedy(voyage))
    return (together(notes),)


def _remedy(voyage: Voyage) -> Note:
    """Return which loads to shed, in the boat's order, and from which change of watch at the latest."""
    loads = sorted(
        (load for load in voyage.boat.load if load.shed_order is not None), key=lambda load: load.shed_order or 0
    )
    for order in sorted({load.shed_order for load in loads if load.shed_order is not None}):
        shed = after_shedding_w(voyage, up_to_order=order)
        if not _kept_with_shedding(voyage, shed, 0):
            continue
        latest = voyage.ship_time(int(voyage.policy.first_step[_latest_epoch(voyage, shed)]))
        names = [load.name for load in loads if (load.shed_order or 0) <= order]
        return Note("shedding_saves", {"loads": names, "latest": latest})
    return Note("shedding_fails" if loads else "nothing_to_shed")


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


def _full_charge(voyage: Voyage) -> tuple[Note, ...]:
    """Return where the planned course goes longer without a full charge than wanted; departure counts as one.

    Where nothing is wanted, lead is warned of a week without: it sulphates (common practice).
    """
    wanted = voyage.passage.wishes.full_charge_every_days
    days = WEEK_D if wanted is None else wanted
    if wanted is None and voyage.boat.bank.chemistry == "lifepo4":
        return ()
    first, end = longest_without_full(voyage, voyage.planned_soc)
    longest_d = (end - first) * voyage.step_h / DAY_H
    if longest_d <= days:
        return ()
    figures = {
        "wanted_d": days,
        "longest_d": longest_d,
        "first": voyage.ship_time(first),
        "end": voyage.ship_time(end),
    }
    return (Note("lead_not_full" if wanted is None else "full_charge_missed", figures),)


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
    step = bank_step(0.5, 0.0, alternator_w, 0.0, 0.0, SUBSTEP_S, params, np.inf, 0.0)
    return float(step.soc_next) - 0.5 >= LEAST_GAIN


def _fuel(voyage: Voyage) -> tuple[Note, ...]:
    engine = voyage.boat.engine
    burnt = fuel(voyage, slice(0, voyage.steps))
    spare = engine.tank_l - engine.landfall_l
    if burnt.p90 <= spare:
        return ()
    figures = {"burnt_l": burnt.planned, "burnt_p90_l": burnt.p90, "spare_l": spare}
    used_up = np.flatnonzero(np.cumsum(fuel_l(voyage.planned, voyage.track, engine)[0]) > spare)
    if not used_up.size:
        return (Note("fuel_short", figures),)
    at = {"used_up": voyage.ship_time(int(used_up[0])), "charging_h": spare / engine.charging_l_per_h}
    return (Note("fuel_used_up", {**figures, **at}),)
