"""What meets at the bank's bus: members side by side, each as long as it is at sea."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from planner.domain.arrays import Bools, Floats, Ints


@dataclass(frozen=True, eq=False)
class AtBus:
    """Powers at the bus of members that left together.

    Attributes
    ----------
    offered_w, other_w, demand_w : float array (member, time)
        What the controllers and other sources could deliver, and what the loads ask for [W].
    alternator_w : float array (member, time)
        What the running alternator delivers by its mean over a run, as the decision takes it [W].
    drives : bool array (member, time)
        Whether the engine drives the boat.
    steps : int array (member,)
        For how many steps each is at sea; beyond them all is 0.
    step_s : float
        Length of a step [s].
    """

    offered_w: Floats
    alternator_w: Floats
    other_w: Floats
    demand_w: Floats
    drives: Bools
    steps: Ints
    step_s: float

    @property
    def at_sea(self) -> Bools:
        """Whether each is at sea in each step, (member, time)."""
        sailing: Bools = np.arange(self.drives.shape[1]) < self.steps[:, None]
        return sailing

    def rows(self, members: Ints) -> AtBus:
        """Return chosen members, one row each time that one is named."""
        return self._by_field(lambda values: np.ascontiguousarray(values[members]))

    def mean(self) -> AtBus:
        """Return one member of mean weather; all must sail one track."""
        return self._by_field(
            lambda values: values[:1] if values.dtype.kind in "bi" else values.mean(0, keepdims=True)
        )

    def padded(self, steps: int) -> AtBus:
        """Return the same with nothing more up to so many steps."""
        short = steps - self.drives.shape[1]
        return self._by_field(lambda values: np.pad(values, ((0, 0), (0, short))) if values.ndim == 2 else values)

    def _by_field(self, change: Callable[[Any], Any]) -> AtBus:
        return replace(self, **{name: change(getattr(self, name)) for name in MEMBERS_OWN})


MEMBERS_OWN = tuple(field.name for field in fields(AtBus) if field.name != "step_s")


def side_by_side(buses: Sequence[AtBus]) -> AtBus:
    """Return members of several tracks, left at one moment, as one."""
    longest = max(bus.drives.shape[1] for bus in buses)
    padded = [bus.padded(longest) for bus in buses]
    joined = {name: np.concatenate([getattr(bus, name) for bus in padded]) for name in MEMBERS_OWN}
    return AtBus(**joined, step_s=buses[0].step_s)
