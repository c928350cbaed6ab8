"""What has failed on a boat, as a crew names it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

from planner.domain.errors import Fault, InputError, suggest
from planner.domain.inputs.boat import Boat

FailureKind = Literal["engine", "alternator", "autopilot", "controller", "panels", "bank", "meter"]

BY_ONE_WORD: Final[tuple[FailureKind, ...]] = tuple(kind for kind in get_args(FailureKind) if kind != "controller")


@dataclass(frozen=True)
class Failure:
    """One thing out of service.

    Attributes
    ----------
    kind : str
        One of ``FailureKind``: 'panels' is half of them; 'bank' one that its management, a fuse or a switch has taken
        off the bus.
    names : tuple of str
        Of the controller, or of the panels; none for panels that are still to be chosen, and for the rest.
    """

    kind: FailureKind
    names: tuple[str, ...] = ()


def failures_named(words: Sequence[str], boat: Boat) -> tuple[Failure, ...]:
    """Return the failures that words name.

    Parameters
    ----------
    words : sequence of str
        'engine', 'alternator', 'autopilot', 'panels', 'bank', 'meter', or the name of a controller.
    boat : Boat

    Raises
    ------
    InputError
        When a word names nothing aboard.
    """
    controllers = [controller.name for controller in boat.controller]
    aboard = {name: Failure("controller", (name,)) for name in controllers}
    aboard |= {kind: Failure(kind) for kind in BY_ONE_WORD}
    unknown = [word for word in words if word not in aboard]
    faults = [Fault("--failed", "", f"there is no '{word}'.", suggest(word, aboard)) for word in unknown]
    if faults:
        raise InputError(faults)
    return tuple(aboard[word] for word in words)
