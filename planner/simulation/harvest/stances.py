"""Panels as the crew sets them: which stance each has at each step."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Floats, Ints
from planner.domain.inputs.power import Panel
from planner.domain.inputs.solar import Stance
from planner.physics.frames import wrap_180

if TYPE_CHECKING:
    import xarray as xr


AS_WRITTEN = -1  # the panel's own place and tilt
LYING = {"at_anchor": 1, "hove_to": 2}  # as the glossary numbers ``lying``


def stances_along(track: xr.Dataset, sun_azimuth_deg: Floats, panels: Sequence[Panel]) -> Ints:
    """Return which stance each panel has, (time, panel), ``AS_WRITTEN`` where none.

    Parameters
    ----------
    track : xarray.Dataset
        With the glossary's ``TRACK`` over ``time``, and ``lying`` where the passage has waits.
    sun_azimuth_deg : array (time,)
        The sun at mid-step [degree].
    panels : sequence of Panel
        In boat order.
    """
    count = track.sizes["time"]
    to_port = wrap_180(sun_azimuth_deg - track["heading_deg"].values) < 0.0
    tack = track["tack"].values
    lying = track["lying"].values if "lying" in track else np.zeros(count)
    holds = {
        "by_hand": np.zeros(count, dtype=np.bool_),
        "sun_to_port": to_port,
        "sun_to_starboard": ~to_port,
        "starboard_tack": tack > 0.0,
        "port_tack": tack < 0.0,
        **{occasion: lying == number for occasion, number in LYING.items()},
    }
    chosen = np.full((count, len(panels)), AS_WRITTEN, dtype=np.int64)
    for index, panel in enumerate(panels):
        kept = [number for number, stance in enumerate(panel.stances) if stance.name == panel.stance]
        if kept:
            chosen[:, index] = kept[0]
            continue
        for number, stance in reversed(list(enumerate(panel.stances))):
            chosen[holds[stance.when], index] = number
    return chosen


def panels_set(panels: Sequence[Panel], stances: Ints) -> list[Panel]:
    """Return the panels as they stand in given stances, (panel,)."""
    return [
        panel if number == AS_WRITTEN else panel_set(panel, panel.stances[number])
        for panel, number in zip(panels, stances, strict=True)
    ]


def panel_set(panel: Panel, stance: Stance) -> Panel:
    """Return a panel as it stands in a stance."""
    return panel.model_copy(
        update={
            "centre_m": panel.centre_m if stance.centre_m is None else stance.centre_m,
            "tilt_deg": stance.tilt_deg,
            "tilt_toward_deg": stance.tilt_toward_deg,
        }
    )
