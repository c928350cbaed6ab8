"""Each morning's question: the engine is dead from now, how long until the reserve, how long until lights out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numba import njit

from planner.decision.bill.dead.engine_dead import NEVER, after_shedding_w, poor
from planner.domain.arrays import Floats, Ints
from planner.domain.results.bill import Lasts, WithoutEngine
from planner.domain.voyage import Voyage, asked_demand_w, offered_solar_w, soc_course
from planner.physics.bank import BankParams, bank_step
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.demand import STEERING
from planner.simulation.ledger.sources import other_offered_w


def without_engine(voyage: Voyage, starts: Sequence[int]) -> tuple[WithoutEngine, ...]:
    """Return how long the bank lasts without engine from each of some steps on, in the poor tenth of the weather.

    Each member starts from its own SOC. The figures are those of the member that a tenth of the others do worse than.
    As for ``engine_dead``, how fast a lead bank's wells yield is left out.

    Parameters
    ----------
    voyage : Voyage
    starts : sequence of int
        Steps.

    Returns
    -------
    tuple of WithoutEngine
        One a start.
    """
    shed_w = after_shedding_w(voyage)
    steers = voyage.demand["load"].values == STEERING
    steered_w = voyage.demand["load_item_power_w"].values[:, steers].sum(axis=1)
    by_hand_w = np.maximum(shed_w - steered_w, 0.0)
    solar_w = offered_solar_w(voyage.ledger) + other_offered_w(voyage.track)
    soc, params = soc_course(voyage.ledger), bank_params(voyage.boat.bank)

    def lasts(demand_w: Floats, step: int) -> Lasts:
        low, empty = _left(
            soc[:, step], solar_w, demand_w, step, voyage.boat.bank.reserve_soc, voyage.step_s, params
        )  # fmt: skip
        return Lasts(_hours(voyage, step, poor(low)), _hours(voyage, step, poor(empty)))

    return tuple(
        WithoutEngine(
            start=voyage.at(step),
            as_it_is=lasts(asked_demand_w(voyage.ledger), step),
            shed=lasts(shed_w, step),
            by_hand=lasts(by_hand_w, step) if steered_w[step:].any() else None,
        )
        for step in starts
    )


def _hours(voyage: Voyage, start: int, step: int) -> float | None:
    return None if step == NEVER else (step - start) * voyage.step_h


@njit(cache=True)
def _left(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    start_soc: Floats,
    solar_w: Floats,
    demand_w: Floats,
    first: int,
    reserve: float,
    step_s: float,
    params: BankParams,
) -> tuple[Ints, Ints]:
    """Return the step that begins under the reserve, and the first in which a load goes dark, (member,) each."""
    members, steps = solar_w.shape
    low, empty = np.full(members, NEVER), np.full(members, NEVER)
    for member in range(members):
        soc = start_soc[member]
        for step in range(first, steps + 1):
            if soc < reserve and low[member] == NEVER:
                low[member] = step
            if step == steps:
                break
            outcome = bank_step(
                soc, solar_w[member, step], 0.0, 0.0, demand_w[member, step], step_s, params, np.inf, 0.0
            )
            if outcome.unserved_w > 0.0:
                empty[member] = step
                break
            soc = outcome.soc_next
    return low, empty
