"""A policy is data: for each epoch and each state of charge the meter may show, minutes of engine."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

METER_READINGS = 101
"""Whole percents that a meter can show, 0 to 100."""


@dataclass(frozen=True, eq=False)
class StandingOrder:
    """What holds in every watch, whatever its ladder and the hour: a bank near the reserve is charged.

    Once the meter shows ``start_percent`` or less the engine runs until it shows ``stop_percent`` or more. Wishes
    yield to it, quiet hours among them; what the engine cannot stand does not.

    Attributes
    ----------
    start_percent, stop_percent : int
        Meter readings [%].
    allowed : bool array (time,) or (member, time)
        Steps in which the engine can run at all.
    """

    start_percent: int
    stop_percent: int
    allowed: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Policy:
    """When the engine runs, by the clock from departure on.

    At the first step of an epoch the meter is read to a whole percent; the table gives minutes of running. The run
    takes the epoch's steps from the first that is allowed, one after another where allowed, until the minutes are
    used or the meter shows ``stop_soc``. The decision puts no run under the engine's shortest in the table, but a
    stop may cut one under it: the reading at which a run stops earning its fuel comes before the shortest run. Steps
    under engine count as running. A fixed schedule repeats one figure over all readings; a logged record has one
    epoch a run.

    Attributes
    ----------
    first_step, end_step : int array (epoch,)
        Steps of each epoch, end exclusive; epochs do not overlap.
    minutes : int array (epoch, METER_READINGS)
        Minutes of engine by meter reading [min], multiples of the step.
    stop_soc : float array (epoch,)
        The run stops once the meter shows this or more [0..1].
    allowed : bool array (time,) or (member, time)
        Steps in which the engine may run by the table; by member where each has a track of its own.
    standing : StandingOrder or None
        What comes before the table; None where nothing does.
    """

    first_step: npt.NDArray[np.int64]
    end_step: npt.NDArray[np.int64]
    minutes: npt.NDArray[np.int64]
    stop_soc: npt.NDArray[np.float64]
    allowed: npt.NDArray[np.bool_]
    standing: StandingOrder | None = None

    @classmethod
    def never(cls, steps: int) -> Policy:
        """Return the policy of an engine that never runs to charge, over so many steps."""
        import numpy as np

        none = np.zeros(0, dtype=np.int64)
        return cls(
            first_step=none,
            end_step=none,
            minutes=np.zeros((0, METER_READINGS), dtype=np.int64),
            stop_soc=np.zeros(0),
            allowed=np.zeros(steps, dtype=np.bool_),
        )

    def rows(self, members: npt.NDArray[np.int64]) -> Policy:
        """Return the policy of chosen members, a row each time that one is named; itself where all share a track."""
        if self.allowed.ndim == 1:
            return self
        standing = self.standing and replace(self.standing, allowed=self.standing.allowed[members])
        return replace(self, allowed=self.allowed[members], standing=standing)
