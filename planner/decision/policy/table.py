"""The bank's answer to every choice, tabulated once: from each SOC, for each member, over each epoch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.decision.policy.choices import Choices, starts_of
from planner.decision.policy.full_charge import AGES, NEVER_ASKED, OVERDUE_MIN, FullCharges
from planner.decision.policy.program import ARRIVES, AT_SEA, GONE, Problem
from planner.decision.policy.rates import SOC_GRID, SUBSTEP_S, advance, gain_at_rest, rates_of
from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.errors import Fault, InputError
from planner.physics.bank import BankParams
from planner.physics.kernels import most_between
from planner.simulation.ledger.bus import AtBus

MOST_BYTES: Final = 4 * 2**30  # bytes of the bank's courses: with their prices, what a laptop of 8 GB can hold
DEPTH_PRICE_PER_H: Final = 1.0  # 1/h, an hour at one percent too low costs as much as charging one percent
UNSERVED_PRICE: Final = 10.0  # 1, load that an empty bank cannot serve costs so many times its charging
SLOWEST_SHARE: Final = 0.1  # 1, of the best charging rate, the slowest that counts in minutes owed
LEAST_GAIN: Final = 0.005  # 1, of SOC in half an hour of engine: a crew runs none for less (common practice)
OWED_PRICE: Final = 2.0  # 1, a minute owed on arrival costs so many run: else the wanted SOC would not be sought


class Courses(NamedTuple):
    """The bank's course over each epoch, from each grid SOC, for each choice and member.

    Attributes
    ----------
    soc_end : float array (epoch, choice, soc, member)
        SOC at the end of the epoch [0..1].
    path : float32 array (substep, choice, soc, member)
        SOC at the end of each substep of the passage [0..1].
    substep_h : float array (substep, member)
        How much of each substep each member is at sea [h].
    first_substep : int array (epoch + 1,)
        Where each epoch's substeps begin.
    unserved_wh : float array (epoch, choice, soc, member)
        Load that an empty bank could not serve [Wh].
    fills : bool array (epoch, choice, soc, member)
        Whether the bank is full at some time; empty where nobody asks.
    """

    soc_end: Floats
    path: npt.NDArray[np.float32]
    substep_h: Floats
    first_substep: Ints
    unserved_wh: Floats
    fills: Bools


@dataclass(frozen=True, eq=False)
class ChoiceTable:
    """What the bank does over each epoch, and what charging takes.

    Attributes
    ----------
    choices : Choices
        What was open.
    run_min : int array (epoch, choice, member)
        Minutes of running to charge alone [min].
    starts : int array (epoch, choice, 2, member)
        Engine starts, by whether it ran before the epoch.
    runs_on : bool array (epoch, choice, member)
        Whether it runs as the epoch ends.
    stay : int array (epoch, member)
        As ``Problem`` has it.
    courses : Courses
        The bank's.
    minutes_per_soc : float
        Minutes of alternator that lift SOC from 0 to 1 at its best rate [min].
    minutes_per_wh : float
        Minutes of alternator that put out a watt-hour [min/Wh].
    owed_min : float array (soc,)
        Minutes of alternator from each grid SOC to the SOC wanted on arrival [min].
    half_hour_gain : float array (soc,)
        SOC that half an hour of alternator adds, without sun and loads [0..1].
    full : FullCharges
        When the bank is to be full.
    """

    choices: Choices
    run_min: Ints
    starts: Ints
    runs_on: Bools
    stay: Ints
    courses: Courses
    minutes_per_soc: float
    minutes_per_wh: float
    owed_min: Floats
    half_hour_gain: Floats
    full: FullCharges


def tabulate(
    choices: Choices, bus: AtBus, *, params: BankParams, arrival_soc: float, full: FullCharges = NEVER_ASKED
) -> ChoiceTable:
    """Run the bank through every epoch from every grid SOC, for every choice and member.

    Parameters
    ----------
    choices : Choices
        What is open.
    bus : AtBus
        What the members bring, on the same steps.
    params : BankParams
        The one-state bank.
    arrival_soc : float
        SOC wanted on arrival [0..1].
    full : FullCharges
        When the bank is to be full.

    Returns
    -------
    ChoiceTable
        Means over substeps of half an hour drive the bank. Its size is a function of counts alone - epochs, substeps,
        choices, members - and of no power or capacity: levels of net power are at most ``MOST_LEVELS``.

    Raises
    ------
    InputError
        When the counts together ask for more than ``MOST_BYTES``.
    """
    epochs, count = choices.minutes.shape
    members = bus.steps.size
    refuse_too_large(choices, members)
    substeps, first_substep = _substeps(choices)
    begins = substeps[:, 0]
    at_sea = np.add.reduceat(bus.at_sea, begins, axis=1, dtype=np.int64)
    net_w = _means(bus.offered_w + bus.other_w - bus.demand_w, begins, at_sea)
    charging_w = np.zeros((begins.size, count, members))
    run_min = np.zeros((epochs, count, members), dtype=np.int64)
    for epoch in range(epochs):
        steps = slice(int(choices.first_step[epoch]), int(choices.end_step[epoch]))
        mine = slice(int(first_substep[epoch]), int(first_substep[epoch + 1]))
        for choice in np.flatnonzero(choices.minutes[epoch] >= 0).tolist():
            output = choices.running(epoch, choice) * bus.alternator_w[:, steps]
            charging_w[mine, choice] = _means(output, begins[mine] - steps.start, at_sea[:, mine])
            run_min[epoch, choice] = choices.charging_min(epoch, choice)
    best_w = float(bus.alternator_w.max(initial=0.0))
    highest_w = max(float(net_w.max()), 0.0) + best_w
    shape = (epochs, count, SOC_GRID.size, members)
    courses = Courses(
        soc_end=np.zeros(shape),
        path=np.zeros((begins.size, *shape[1:]), dtype=np.float32),
        substep_h=np.ascontiguousarray(at_sea.T * choices.step_s / 3600.0),
        first_substep=first_substep,
        unserved_wh=np.zeros(shape),
        fills=np.zeros(shape if full.asked else (0, 0, 0, 0), dtype=np.bool_),
    )
    rates = rates_of(float(net_w.min()), highest_w, best_w, choices.step_s, params)
    _run_bank(net_w, charging_w, choices.minutes, rates, courses, full.soc)
    gain = gain_at_rest(rates)
    minutes_per_soc, owed = _charging_minutes(gain, arrival_soc)
    starts, runs_on = starts_of(choices)
    return ChoiceTable(
        choices=choices,
        run_min=run_min,
        starts=starts,
        runs_on=runs_on,
        stay=_stay(choices, bus.steps),
        courses=courses,
        minutes_per_soc=minutes_per_soc,
        minutes_per_wh=60.0 / best_w if minutes_per_soc > 0.0 else 0.0,
        owed_min=owed,
        half_hour_gain=gain,
        full=full,
    )


def _means(values: Floats, begins: Ints, steps: Ints) -> Floats:
    """Return the means of values (member, time) over the steps at sea of each substep, (substep, member)."""
    means: Floats = (np.add.reduceat(values, begins, axis=1) / np.maximum(steps, 1)).T.copy()
    return means


def _stay(choices: Choices, steps: Ints) -> Ints:
    """Return whether each member is at sea as each epoch ends, arrives in it, or has arrived, (epoch, member)."""
    arrives = choices.end_step[:, None] >= steps
    gone = choices.first_step[:, None] >= steps
    return np.where(gone, GONE, np.where(arrives, ARRIVES, AT_SEA))


def priced(table: ChoiceTable, *, floor_soc: float, start_cost_min: float) -> Problem:
    """Put the prices on a table: running, starts, depth below a floor, unserved load, minutes owed.

    Parameters
    ----------
    table : ChoiceTable
        What the bank does.
    floor_soc : float
        Reserve and margin together [0..1].
    start_cost_min : float
        What one start is worth [min].

    Returns
    -------
    Problem
        For the program.
    """
    minutes = table.choices.minutes
    member_cost = np.empty_like(table.courses.soc_end)
    depth_price, unserved_price = DEPTH_PRICE_PER_H * table.minutes_per_soc, UNSERVED_PRICE * table.minutes_per_wh
    _price_members(table.courses, floor_soc, depth_price, unserved_price, member_cost)
    return Problem(
        minutes=minutes,
        run_cost=table.run_min[:, :, None] + start_cost_min * table.starts,
        runs_on=table.runs_on,
        stay=table.stay,
        soc_end=table.courses.soc_end,
        member_cost=member_cost,
        arrival_cost=OWED_PRICE * table.owed_min,
        fills=table.courses.fills,
        ticks=table.full.ticks,
        ages=AGES if table.full.asked else 1,
        overdue_cost=OVERDUE_MIN,
    )


def refuse_too_large(choices: Choices, members: int) -> None:
    """Refuse a table of so many members that memory cannot hold, before any of it is made; as ``tabulate``."""
    epochs, count = choices.minutes.shape
    substeps = len(_substeps(choices)[0])
    cells = count * SOC_GRID.size * members
    wanted = cells * (epochs * (2 * 8 + 1) + substeps * 4)  # as ``Courses`` has them: float64 twice, bool; float32
    if wanted <= MOST_BYTES:
        return
    raise InputError(
        [
            Fault(
                "passage",
                "watches",
                f"{epochs} watches in half-hours ({substeps} in all), up to {count} lengths of run in each and "
                f"{members} outcomes of the weather ask for a table of {wanted / 2**30:.0f} GB; "
                f"{MOST_BYTES / 2**30:.0f} GB is the most.",
                "Lower engine.max_run_min, model.lone_outcomes or the number of forecast members, stand watches of "
                "one to six hours, or plan the passage in two parts.",
            )
        ]
    )


def _substeps(choices: Choices) -> tuple[Ints, Ints]:
    """Return first and end step of every substep, and where each epoch's begin; none crosses a change of watch."""
    width = max(1, round(SUBSTEP_S / choices.step_s))
    pairs: list[tuple[int, int]] = []
    begins = [0]
    for first, end in zip(choices.first_step.tolist(), choices.end_step.tolist(), strict=True):
        pairs += [(step, min(step + width, end)) for step in range(first, end, width)]
        begins.append(len(pairs))
    return np.array(pairs, dtype=np.int64), np.array(begins, dtype=np.int64)


def _charging_minutes(half_hour_gain: Floats, arrival_soc: float) -> tuple[float, Floats]:
    """Return minutes from 0 to 1 at the best rate, and minutes from each grid SOC to the one wanted on arrival.

    Where the bank no longer takes what the alternator offers, its slower rate counts; a rate below a tenth of the
    best is held there, since a crew would not run the engine for the last trickle. An alternator that adds less than
    ``LEAST_GAIN`` at its best is as good as dead: both are 0, and no run is worth its minutes.
    """
    best = float(half_hour_gain.max())
    if best < LEAST_GAIN:
        return 0.0, np.zeros(SOC_GRID.size)
    per_soc = (SUBSTEP_S / 60.0) / np.maximum(half_hour_gain, SLOWEST_SHARE * best)
    from_empty = np.concatenate([[0.0], np.cumsum(np.diff(SOC_GRID) * 0.5 * (per_soc[1:] + per_soc[:-1]))])
    owed = np.maximum(np.interp(arrival_soc, SOC_GRID, from_empty) - from_empty, 0.0)
    return SUBSTEP_S / 60.0 / best, owed


@njit(cache=True)
def _parting(charging_w):  # type: ignore[no-untyped-def]
    """Return the first substep in which each run differs from the next shorter one, array (choice, member)."""
    substeps, choices, members = charging_w.shape
    parting = np.zeros((choices, members), dtype=np.int64)
    for choice in range(1, choices):
        for member in range(members):
            at = 0
            while at < substeps and charging_w[at, choice, member] == charging_w[at, choice - 1, member]:
                at += 1
            parting[choice, member] = at
    return parting


@njit(cache=True)
def _run_bank(  # type: ignore[no-untyped-def]  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    net_w, charging_w, minutes, rates, courses, full_soc
):
    """Fill the courses; a longer run shares the bank's course with the next shorter one until they part."""
    most = most_between(courses.first_substep)
    soc, lacking_wh = np.empty(most + 1), np.empty(most + 1)
    for epoch in range(minutes.shape[0]):
        begin, end = courses.first_substep[epoch], courses.first_substep[epoch + 1]
        parting = _parting(charging_w[begin:end])
        for node in range(SOC_GRID.size):
            for member in range(net_w.shape[1]):
                soc[0], lacking_wh[0] = SOC_GRID[node], 0.0
                for choice in range(minutes.shape[1]):
                    if minutes[epoch, choice] < 0:
                        break
                    for k in range(parting[choice, member], end - begin):
                        hours = courses.substep_h[begin + k, member]
                        gain, unserved_w = advance(
                            rates, net_w[begin + k, member], charging_w[begin + k, choice, member], soc[k]
                        )
                        soc[k + 1] = min(max(soc[k] + gain * hours * 3600.0 / SUBSTEP_S, 0.0), 1.0)
                        lacking_wh[k + 1] = lacking_wh[k] + hours * unserved_w
                    for k in range(end - begin):
                        courses.path[begin + k, choice, node, member] = soc[k + 1]
                    courses.soc_end[epoch, choice, node, member] = soc[end - begin]
                    courses.unserved_wh[epoch, choice, node, member] = lacking_wh[end - begin]
                    if courses.fills.size:
                        highest = 0.0
                        for k in range(end - begin + 1):
                            highest = max(highest, soc[k])
                        courses.fills[epoch, choice, node, member] = highest >= full_soc


@njit(cache=True)
def _price_members(courses, floor_soc, depth_price, unserved_price, member_cost):  # type: ignore[no-untyped-def]
    """Fill the members' cost: depth below the floor at each substep's end times its hours, and load unserved."""
    epochs, choices, nodes, members = member_cost.shape
    for epoch in range(epochs):
        for choice in range(choices):
            for node in range(nodes):
                for member in range(members):
                    cost = unserved_price * courses.unserved_wh[epoch, choice, node, member]
                    for substep in range(courses.first_substep[epoch], courses.first_substep[epoch + 1]):
                        short = floor_soc - courses.path[substep, choice, node, member]
                        if short > 0.0:
                            cost += depth_price * short * courses.substep_h[substep, member]
                    member_cost[epoch, choice, node, member] = cost
