"""What was read and what was to be expected, step by step: what the figures of a reconciliation are drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

Use = Literal["judged", "not read", "no sun", "clipped", "full bank", "shaded", "unsure"]
"""How a controller's step is used; only the judged ones carry the verdict."""

SET_ASIDE: Final[tuple[tuple[Use, str], ...]] = (
    ("shaded", "shaded by the model"),
    ("clipped", "controller at its limit"),
    ("full bank", "bank full"),
    ("unsure", "sun low, or the sky not told well enough"),
    ("not read", "not read"),
)
"""Why a daylight step is not judged, in words."""


@dataclass(frozen=True, eq=False)
class ControllerCourse:
    """One controller along the track.

    Attributes
    ----------
    controller : str
    read_w : array (time,)
        As displayed, mean over the step; NaN where not read [W].
    expected_w, low_w, high_w : array (time,)
        What a sound one yields under the sky that was found, and the interval of it; NaN where no sky was found [W].
    use : array of str (time,)
        ``Use`` of each step.
    """

    controller: str
    read_w: Floats
    expected_w: Floats
    low_w: Floats
    high_w: Floats
    use: npt.NDArray[np.str_]


@dataclass(frozen=True, eq=False)
class Courses:
    """All that was read, along the steps of the track from the first reading to the last.

    Attributes
    ----------
    time : array of datetime64 (time,)
        Starts of the steps, UTC.
    step_s : float
        Their length [s].
    controllers : tuple of ControllerCourse
        In boat order.
    sun_elevation_deg : array (time,)
        For the nights [degree].
    engine_on : array (time,)
        Part of each step that the engine ran, by the log or, where it does not say, by the track [1].
    read_soc, model_soc : array (time,)
        State of charge as the monitor showed it, and by the ledger under the log's engine, the yields as read [1].
    read_v, model_v : array (time,)
        Volts, likewise [V].
    """

    time: npt.NDArray[np.datetime64]
    step_s: float
    controllers: tuple[ControllerCourse, ...]
    sun_elevation_deg: Floats
    engine_on: Floats
    read_soc: Floats
    model_soc: Floats
    read_v: Floats
    model_v: Floats
