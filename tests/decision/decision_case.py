"""The decision's own stages on a synthetic ensemble, short-hand for its tests."""

from __future__ import annotations

import numpy as np
from synthetic_ensemble import BANK, ENGINE, SHIP_OFFSET, STEP_S, WATCHES, WISHES, Ensemble

from planner.decision.policy.by_clock import Rules, allowed_steps
from planner.decision.policy.choices import Choices, choices_of
from planner.decision.policy.decide import Decision, decide
from planner.decision.policy.program import optimise
from planner.decision.policy.table import SOC_GRID, ChoiceTable, priced, tabulate
from planner.domain.inputs.passage import Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.simulate import at_bus


def rules_for(*, engine: Engine = ENGINE, wishes: Wishes = WISHES) -> Rules:
    """Return when watches change and what forbids a run."""
    return Rules(engine, WATCHES, wishes, SHIP_OFFSET)


def choices_for(ensemble: Ensemble, *, engine: Engine = ENGINE, wishes: Wishes = WISHES) -> Choices:
    """Return what is open at each change of watch."""
    rules = rules_for(engine=engine, wishes=wishes)
    drives = at_bus(ensemble.course, bank=BANK, engine=engine).drives
    return choices_of(
        *rules.changes_of_watch(ensemble.track)[:2],
        np.broadcast_to(allowed_steps(ensemble.track, rules), drives.shape),
        drives,
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
        at_bus(ensemble.course, bank=bank, engine=engine),
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
        [ensemble.course],
        ensemble.course,
        bank=bank,
        engine=engine,
        watches=WATCHES,
        wishes=wishes,
        start_soc=start_soc,
        ship_offset=SHIP_OFFSET,
        seed=seed,
    )
