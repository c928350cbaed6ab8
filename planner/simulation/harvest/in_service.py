"""What is left of a harvest when controllers or panels are out of service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.solar import Controller, Panel

if TYPE_CHECKING:
    import xarray as xr

POWERS: Final = ("panel_power_w", "controller_power_w", "wire_loss_power_w")
"""What goes with a controller or a string."""


def all_sound(
    panels: Sequence[Panel], controllers: Sequence[Controller]
) -> tuple[tuple[Panel, ...], tuple[Controller, ...]]:
    """Return panels and controllers as if all were in service: what is collected once, whatever fails."""
    return (
        tuple(panel.model_copy(update={"available": True}) for panel in panels),
        tuple(controller.model_copy(update={"available": True}) for controller in controllers),
    )


def in_service(harvest: xr.Dataset, *, panels: Sequence[Panel], controllers: Sequence[Controller]) -> xr.Dataset:
    """Return a harvest without what is out of service; itself where all is sound.

    A panel out of service takes its string with it, as a broken circuit does, until the crew bridge it; it still
    throws its shadow. What other strings of the controller bring is their part of what all its strings brought, so
    a limit that held before goes on holding in proportion.

    Parameters
    ----------
    harvest : xarray.Dataset
        As ``collect`` gives it for all of them sound.
    panels, controllers : sequence
        In boat order, those of the harvest.
    """
    if all(panel.available for panel in panels) and all(each.available for each in controllers):
        return harvest
    left = left_of({name: harvest[name].values for name in POWERS}, panels=panels, controllers=controllers)
    return harvest.assign({name: (harvest[name].dims, left[name], harvest[name].attrs) for name in POWERS})


def left_of(
    powers: Mapping[str, Floats], *, panels: Sequence[Panel], controllers: Sequence[Controller]
) -> dict[str, Floats]:
    """Return the same as arrays, (member, time, panel or controller), with what else the mapping holds.

    Parameters
    ----------
    powers : mapping of str to array
        By the names of ``POWERS`` and others [W].
    panels, controllers
        As for ``in_service``.
    """
    names = [panel.name for panel in panels]
    works = {panel.name: panel.available for panel in panels}
    left = {**powers, **{name: powers[name].copy() for name in POWERS}}
    panel_w, controller_w, wire_w = (left[name] for name in POWERS)
    for place, controller in enumerate(controllers):
        strings = [[names.index(name) for name in string] for string in controller.strings]
        alive = [controller.available and all(works[name] for name in string) for string in controller.strings]
        if all(alive):
            continue
        power = np.stack([np.maximum(panel_w[..., string].sum(axis=-1), 0.0) for string in strings], axis=-1)
        part = _part(power[..., alive].sum(axis=-1), power.sum(axis=-1))
        controller_w[..., place] *= part
        wire_w[..., place] *= part
        for string, works_on in zip(strings, alive, strict=True):
            panel_w[..., string] *= float(works_on)
    return left


def _part(left_w: Floats, all_w: Floats) -> Floats:
    return np.divide(left_w, all_w, out=np.zeros_like(all_w), where=all_w > 0.0)
