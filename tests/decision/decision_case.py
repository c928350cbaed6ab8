"""The decision's own stages on a synthetic ensemble, short-hand for its tests."""

from __future__ import annotations

import numpy as np
from synthetic_ensemble import BANK, ENGINE, SHIP_OFFSET, STEP_S, WATCHES, WISHES, Ensemble

from planner.decision.policy.choices import Choices, choices_of
from planner.decision.policy.decide import Decision, decide, permitted_steps
from planner.decision.policy.program import optimise
from planner.decision.policy.table import SOC_GRID, ChoiceTable, priced, tabulate
from planner.domain.inputs.passage import Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.simulation.clock import changes_of_watch
from planner.simulation.ledger.simulate import alternator_limit_w, bank_params


def choices_for(ensemble: Ensemble, *, engine: Engine = ENGINE, wishes: Wishes = WISHES) -> Choices:
    """Return what is open at each change of watch."""
    first, end, _ = changes_of_watch(ensemble.track["time"].values, WATCHES, SHIP_OFFSET)
    return choices_of(
        first,
        end,
        permitted_steps(ensemble.track, engine=engine, wishes=wishes, ship_offset=SHIP_OFFSET),
        ensemble.track["under_engine"].values.astype(np.bool_),
        step_s=STEP_S,
        min_run_min=engine.min_run_min,
        max_run_min=engine.max_run_min,
    )


def table_for(
    ensemble: Ensemble, *, bank: Bank = BANK, engine: Engine = ENGINE, wishes: Wishes = WISHES
) -> ChoiceTable:
    """Return the bank's answer to every choice."""
    return tabulate(
        choices_for(ensemble, engine=engine, wishes=wishes),
        solar_w=ensemble.harvest["controller_power_w"].values.sum(axis=2),
        demand_w=ensemble.demand["demand_power_w"].values,
        alternator_w=alternator_limit_w(ensemble.track, engine, bank),
        params=bank_params(bank),
        arrival_soc=wishes.arrival_soc,
    )


def least_cost(ensemble: Ensemble, *, margin: float = 0.03, bank: Bank = BANK, wishes: Wishes = WISHES) -> np.ndarray:
    """Return the least expected cost at departure from each whole percent, engine stopped [min]."""
    table = table_for(ensemble, bank=bank, wishes=wishes)
    problem = priced(table, floor_soc=bank.reserve_soc + margin, start_cost_min=wishes.start_cost_min)
    members = np.arange(table.courses.soc_end.shape[3])
    value: np.ndarray = optimise(problem, members).value[0, :, 0]
    assert value.size == SOC_GRID.size
    return value


def decision_for(
    ensemble: Ensemble,
    *,
    bank: Bank = BANK,
    engine: Engine = ENGINE,
    wishes: Wishes = WISHES,
    start_soc: float = 0.9,
    seed: int = 1,
) -> Decision:
    """Decide."""
    return decide(
        ensemble.harvest,
        ensemble.demand,
        ensemble.track,
        bank=bank,
        engine=engine,
        watches=WATCHES,
        wishes=wishes,
        start_soc=start_soc,
        ship_offset=SHIP_OFFSET,
        seed=seed,
    )
