"""What every reader of a plan must be told, and what this plan in particular calls for."""

from __future__ import annotations

import numpy as np

from planner.domain.voyage import Voyage

ABAFT_DEG = 90.0  # degree, apparent wind angle beyond which exhaust may come aboard over the stern
SHOWN = 3  # watches named before the rest are counted

# Standards are named as the design names them; the rest is common practice.
STANDING = (
    "A planning aid, not for navigation. Forecasts err: read the meter, keep a lookout, and trust what you see.",
    "Electrical work to ISO 13297, ISO/TS 23625 (lithium), ABYC E-10, E-11 and E-13 or the local code, by a "
    "qualified person.",
    "Keep the start battery apart and charged.",
    "Ventilate while the engine runs: carbon monoxide has no smell.",
    "The limits of the engine's maker on heel and on running at low load come first.",
    "Before starting in gear look over the side for lines. Engine in gear, she is a power-driven vessel (COLREGs 3, "
    "23, 25): lights and day shape to match.",
    "Cover panels before disconnecting them, and disconnect them from the controller before the bank.",
    "Nobody goes on deck at night for watts.",
)
LITHIUM = (
    "The lithium bank's management system may disconnect while charging and black out the boat: know how to bring it "
    "back."
)
LITHIUM_COLD = (
    "Lithium must not be charged below 0 \N{DEGREE SIGN}C: the bank is given as {temp:.0f} \N{DEGREE SIGN}C."
)
HYDROGEN = "Charging lead gives off hydrogen: air the battery space, no spark or flame."
EXHAUST = (
    "Wind abaft the beam while the engine runs draws exhaust aboard under closed canvas: open up, watch the CO alarm "
    "({when}; ship's time)."
)


def cautions(voyage: Voyage) -> tuple[str, ...]:
    """Return the cautions of a plan.

    Parameters
    ----------
    voyage : Voyage

    Returns
    -------
    tuple of str
        Those that this plan calls for first, then the standing ones.
    """
    bank = voyage.boat.bank
    called_for = [*_exhaust(voyage)]
    if bank.chemistry == "lifepo4":
        called_for.append(LITHIUM)
        if bank.temp_c <= 0.0:
            called_for.append(LITHIUM_COLD.format(temp=bank.temp_c))
    else:
        called_for.append(HYDROGEN)
    return (*called_for, *STANDING)


def _exhaust(voyage: Voyage) -> tuple[str, ...]:
    """Name the watches in which the engine runs on the planned course with the wind abaft the beam."""
    running = np.asarray(voyage.planned["engine_on"].values[0], dtype=bool)
    abaft = np.abs(voyage.track["apparent_wind_angle_deg"].values) > ABAFT_DEG
    watches = [epoch for epoch in range(voyage.epochs) if (running & abaft)[voyage.epoch_steps(epoch)].any()]
    if not watches:
        return ()
    moments = [voyage.at(voyage.epoch_steps(epoch).start) + voyage.ship_offset for epoch in watches]
    named = ", ".join(f"{moment:%a} {moment.day} {moment:%b %H:%M}" for moment in moments[:SHOWN])
    more = f" and {len(watches) - SHOWN} more" if len(watches) > SHOWN else ""
    return (EXHAUST.format(when=f"watches from {named}{more}"),)
