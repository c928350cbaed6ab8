"""The engine's runs on the planned course."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from planner.decision.bill.reasons import propulsion_reason
from planner.decision.bill.summary import fuel
from planner.domain.results.bill import EngineWindow
from planner.domain.results.note import Note
from planner.domain.voyage import Voyage

OFF, CHARGES, DRIVES = 0, 1, 2


def engine_windows(voyage: Voyage, reasons: Sequence[Note]) -> tuple[EngineWindow, ...]:
    """Return each unbroken run of the engine, parted where it takes up or leaves driving the boat.

    Parameters
    ----------
    voyage : Voyage
    reasons : sequence of Note
        Why, one a watch; a charging run takes that of the watch in which it starts.

    Returns
    -------
    tuple of EngineWindow
        In order. A run may go on over a change of watch.
    """
    running = np.asarray(voyage.planned["engine_on"].values[0], dtype=bool)
    state = np.where(~running, OFF, np.where(voyage.under_engine, DRIVES, CHARGES))
    edges = [0, *(np.flatnonzero(np.diff(state)) + 1).tolist(), voyage.steps]
    return tuple(_window(voyage, first, end, reasons) for first, end in pairwise(edges) if state[first] != OFF)


def _window(voyage: Voyage, first: int, end: int, reasons: Sequence[Note]) -> EngineWindow:
    epoch = voyage.epoch_of(first)
    propels = bool(voyage.under_engine[first])
    current = voyage.planned["bank_current_a"].values[0, first:end]
    return EngineWindow(
        start=voyage.at(first),
        stop=voyage.at(end),
        role=voyage.roles[epoch],
        propels=propels,
        expected_ah=float(np.clip(current, 0.0, None).sum() * voyage.step_h),
        fuel_l=fuel(voyage, slice(first, end)).planned,
        reason=propulsion_reason(voyage, first) if propels else reasons[epoch],
    )
