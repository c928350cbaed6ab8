"""What a plan in particular calls for caution in."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.decision.policy.full_charge import drift_of
from planner.domain.inputs.power import Panel
from planner.domain.results.note import Note
from planner.domain.voyage import Voyage
from planner.physics.bank import meter_error
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.readings import USUAL, late_soc, low_volts
from planner.simulation.ledger.simulate import HOURS_PER_DAY

ABAFT_DEG = 90.0  # degree, apparent wind angle beyond which exhaust may come aboard over the stern
MOST_GUARDED = 24  # cells that one bypass diode guards (common practice)
SHOWN = 3  # watches named before the rest are counted


def cautions(voyage: Voyage) -> tuple[Note, ...]:
    """Return the cautions that a plan calls for; the standing ones are presentation's.

    Parameters
    ----------
    voyage : Voyage
    """
    bank = voyage.boat.bank
    own = (*_exhaust(voyage), *_hot_cells(voyage.boat.panel), _meter(voyage))
    if bank.chemistry != "lifepo4":
        return (*own, Note("hydrogen"))
    cold = (Note("lithium_cold", {"temp_c": bank.temp_c}),) if bank.temp_c <= 0.0 else ()
    return (*own, Note("lithium"), *_volts(voyage), *cold)


def _volts(voyage: Voyage) -> tuple[Note, ...]:
    """Say how late the low volts may ring where the bank's own have not been noted."""
    bank = voyage.boat.bank
    if bank.noted is not None:
        return ()
    low = low_volts(bank, demand_w=float(np.quantile(voyage.planned_demand_w, USUAL)))
    return (Note("low_volts_late", {"late": late_soc(bank, low)}),)


def _meter(voyage: Voyage) -> Note:
    """Say when the bank is full and sets the battery monitor right, and by how much it errs till then."""
    params, drift = bank_params(voyage.boat.bank), drift_of(voyage.boat.bank, voyage.passage.wishes)
    full = voyage.next_step_where(voyage.planned_soc[1:] >= drift.full_soc, 0)
    current_a = voyage.planned["bank_current_a"].values[0, :full]
    put_in = float(np.maximum(current_a, 0.0).sum()) * voyage.step_h / params.capacity_ah
    error = float(meter_error(put_in, full * voyage.step_h / HOURS_PER_DAY, drift, drift.at_start))
    if full == voyage.steps:
        return Note("meter_not_set", {"error": error})
    return Note("meter_set", {"at": voyage.ship_time(full), "error": error})


def _hot_cells(panels: Sequence[Panel]) -> tuple[Note, ...]:
    """Name the panels on which many cells may drive their current through a dark one, and heat it."""
    names = [
        panel.name for panel in panels if not panel.bypass_diodes or panel.cells > MOST_GUARDED * panel.substrings
    ]
    return (Note("hot_cells", {"panels": ", ".join(names), "most": MOST_GUARDED}),) if names else ()


def _exhaust(voyage: Voyage) -> tuple[Note, ...]:
    """Name the watches in which the engine runs on the planned course with the wind abaft the beam."""
    running = np.asarray(voyage.planned["engine_on"].values[0], dtype=bool)
    abaft = np.abs(voyage.track["apparent_wind_angle_deg"].values) > ABAFT_DEG
    watches = [epoch for epoch in range(voyage.epochs) if (running & abaft)[voyage.epoch_steps(epoch)].any()]
    if not watches:
        return ()
    moments = [voyage.ship_time(voyage.epoch_steps(epoch).start) for epoch in watches]
    if len(moments) <= SHOWN:
        return (Note("exhaust", {"watches": moments}),)
    return (Note("exhaust_often", {"watches": moments[:SHOWN], "more": len(moments) - SHOWN}),)
