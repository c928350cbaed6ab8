"""What a plan in particular calls for caution in."""

from __future__ import annotations

import numpy as np

from planner.domain.results.note import Note
from planner.domain.voyage import Voyage

ABAFT_DEG = 90.0  # degree, apparent wind angle beyond which exhaust may come aboard over the stern
SHOWN = 3  # watches named before the rest are counted


def cautions(voyage: Voyage) -> tuple[Note, ...]:
    """Return the cautions that a plan calls for; the standing ones are presentation's.

    Parameters
    ----------
    voyage : Voyage
    """
    bank = voyage.boat.bank
    if bank.chemistry != "lifepo4":
        return (*_exhaust(voyage), Note("hydrogen"))
    cold = (Note("lithium_cold", {"temp_c": bank.temp_c}),) if bank.temp_c <= 0.0 else ()
    return (*_exhaust(voyage), Note("lithium"), *cold)


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
