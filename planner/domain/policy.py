"""A policy is data: for each epoch and each state of charge the meter may show, minutes of engine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

METER_READINGS = 101
"""Whole percents that a meter can show, 0 to 100."""


@dataclass(frozen=True, eq=False)
class Policy:
    """When the engine runs, on the steps of one track.

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
    allowed : bool array (time,)
        Steps in which the engine may run to charge.
    """

    first_step: npt.NDArray[np.int64]
    end_step: npt.NDArray[np.int64]
    minutes: npt.NDArray[np.int64]
    stop_soc: npt.NDArray[np.float64]
    allowed: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Trial:
    """A policy and the members that it was made without, on which it is tried.

    Attributes
    ----------
    policy : Policy
        Made of the other members.
    members : int array (member,)
        Those left out, by position.
    meter_offset : array (draw, member)
        What each of their meters adds to the true SOC, in each draw [0..1].
    """

    policy: Policy
    members: npt.NDArray[np.int64]
    meter_offset: npt.NDArray[np.float64]
