"""The engine's runs on the planned course."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from planner.decision.bill.case import Case
from planner.decision.bill.reasons import propulsion_reason
from planner.decision.bill.summary import fuel
from planner.domain.results.note import Note
from planner.domain.results.plan import EngineWindow

OFF, CHARGES, DRIVES = 0, 1, 2


def engine_windows(case: Case, reasons: Sequence[Note]) -> tuple[EngineWindow, ...]:
    """Return each unbroken run of the engine, parted where it takes up or leaves driving the boat.

    Parameters
    ----------
    case : Case
    reasons : sequence of Note
        Why, one a watch; a charging run takes that of the watch in which it starts.

    Returns
    -------
    tuple of EngineWindow
        In order. A run may go on over a change of watch.
    """
    running = np.asarray(case.planned["engine_on"].values[0], dtype=bool)
    state = np.where(~running, OFF, np.where(case.under_engine, DRIVES, CHARGES))
    edges = [0, *(np.flatnonzero(np.diff(state)) + 1).tolist(), case.steps]
    return tuple(_window(case, first, end, reasons) for first, end in pairwise(edges) if state[first] != OFF)


def _window(case: Case, first: int, end: int, reasons: Sequence[Note]) -> EngineWindow:
    epoch = case.epoch_of(first)
    propels = bool(case.under_engine[first])
    current = case.planned["bank_current_a"].values[0, first:end]
    return EngineWindow(
        start=case.at(first),
        stop=case.at(end),
        role=case.role(epoch),
        propels=propels,
        expected_ah=float(np.clip(current, 0.0, None).sum() * case.step_h),
        fuel_l=fuel(case, slice(first, end)).planned,
        reason=propulsion_reason(case, first) if propels else reasons[epoch],
    )
