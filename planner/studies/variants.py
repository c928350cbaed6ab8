"""Variants of a passage: a grid of settings, the boat that a variant asks for, and the order that shares most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

from planner.domain.errors import Fault, InputError, suggest
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.variants import Variant
from planner.domain.results.note import Note
from planner.studies.wiring import rewiring, without_panels

# settings that only the decision and the ledger read: run one after another, so that track and shade are kept
READ_LATE = ("boat.bank.", "boat.engine.", "wishes.", "start.", "boat.load.")

Axis = Sequence[tuple[str, Any]]
"""Values of one key, each with how it is written."""


def grid(axes: Mapping[str, Axis]) -> tuple[Variant, ...]:
    """Return every combination of settings, the last key varying fastest.

    Parameters
    ----------
    axes : mapping of str to axis
        Dotted key to its values.

    Returns
    -------
    tuple of Variant
        Named by the key's last word, where that distinguishes the keys, and the value as written.
    """
    short = [key.rsplit(".", 1)[-1] for key in axes]
    names = short if len(set(short)) == len(short) else list(axes)
    return tuple(
        Variant(
            name=", ".join(f"{key}={words}" for key, (words, _) in zip(names, chosen, strict=True)),
            set={key: value for key, (_, value) in zip(axes, chosen, strict=True)},
        )
        for chosen in product(*axes.values())
    )


def boat_of(variant: Variant, boat: Boat) -> Boat:
    """Return the boat with what the variant takes off and adds.

    Parameters
    ----------
    variant : Variant
    boat : Boat
        Whose settings are already the variant's.

    Raises
    ------
    InputError
        When what is to be taken off is not aboard, or no panel would be left.
    """
    panels = [panel.name for panel in boat.panel]
    loads = [load.name for load in boat.load]
    faults = [
        Fault(variant.name, key, f"there is no '{name}'.", suggest(name, aboard))
        for key, names, aboard in (
            ("without_panels", variant.without_panels, panels),
            ("without_loads", variant.without_loads, loads),
        )
        for name in names
        if name not in aboard
    ]
    if not faults and set(panels) <= set(variant.without_panels):
        faults = [Fault(variant.name, "without_panels", "no panel would be left.", "Keep one at least.")]
    if faults:
        raise InputError(faults)
    if variant.without_panels:
        boat = without_panels(boat, variant.without_panels)
    return boat.model_copy(
        update={
            "panel": (*boat.panel, *variant.panel),
            "controller": (*boat.controller, *variant.controller),
            "load": tuple(load for load in boat.load if load.name not in variant.without_loads),
        }
    )


def wiring_of(variant: Variant, boat: Boat) -> tuple[Note, ...]:
    """Return what is wired anew for the panels that a variant takes off; as for ``boat_of``, which accepts it."""
    taken = variant.without_panels
    return rewiring(boat, without_panels(boat, taken), taken) if taken else ()


def running_order(variants: Sequence[Variant]) -> list[int]:
    """Return the order in which variants share most: those alike in what track and shade read, together.

    Parameters
    ----------
    variants : sequence of Variant

    Returns
    -------
    list of int
        Positions; the order asked for is kept within a group, groups come as their first member does.
    """
    first: dict[str, int] = {}
    groups = []
    for position, variant in enumerate(variants):
        early = [(key, value) for key, value in variant.set.items() if not key.startswith(READ_LATE)]
        group = repr((early, variant.without_panels, variant.panel, variant.controller))
        groups.append(first.setdefault(group, position))
    return sorted(range(len(variants)), key=lambda position: groups[position])
