"""What a plan in particular calls for caution in."""

from __future__ import annotations

import numpy as np

from planner.decision.bill.case import Case
from planner.domain.results.note import Note

ABAFT_DEG = 90.0  # degree, apparent wind angle beyond which exhaust may come aboard over the stern
SHOWN = 3  # watches named before the rest are counted


def cautions(case: Case) -> tuple[Note, ...]:
    """Return the cautions that a plan calls for; the standing ones are presentation's.

    Parameters
    ----------
    case : Case
    """
    bank = case.boat.bank
    if bank.chemistry != "lifepo4":
        return (*_exhaust(case), Note("hydrogen"))
    cold = (Note("lithium_cold", {"temp_c": bank.temp_c}),) if bank.temp_c <= 0.0 else ()
    return (*_exhaust(case), Note("lithium"), *cold)


def _exhaust(case: Case) -> tuple[Note, ...]:
    """Name the watches in which the engine runs on the planned course with the wind abaft the beam."""
    running = np.asarray(case.planned["engine_on"].values[0], dtype=bool)
    abaft = np.abs(case.track["apparent_wind_angle_deg"].values) > ABAFT_DEG
    watches = [epoch for epoch in range(case.epochs) if (running & abaft)[case.epoch_steps(epoch)].any()]
    if not watches:
        return ()
    moments = [case.ship_time(case.epoch_steps(epoch).start) for epoch in watches]
    if len(moments) <= SHOWN:
        return (Note("exhaust", {"watches": moments}),)
    return (Note("exhaust_often", {"watches": moments[:SHOWN], "more": len(moments) - SHOWN}),)
