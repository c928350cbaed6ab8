"""The sky that all controllers share, step by step: clear-sky index and lean of beam, by what each delivered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Floats, Ints
from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.sky.sky_states import States

# standard deviations of a logarithm, set on made readings
STEP: Final = 0.008  # 1, of display and model from step to step: roll, aim, air
IN_SHADE: Final = 0.12  # 1, times the part in shade by the model
LOW_SUN: Final = 0.004  # 1, over the sine of the sun's elevation
USUAL_LEAN: Final = (0.2, 0.5)  # 1, mean and standard deviation of the lean of the beam
LOOSE: Final = 0.8  # 1, standard deviation of a step's index about the forecast's
TAILS: Final = 4.0  # 1, degrees of freedom of Student's t
ROUNDS: Final = 12  # 1, of Gauss and Newton's method
LARGEST_MOVE: Final = 0.5  # 1, of the index's logarithm or the lean in one round
INDEX_SPAN: Final = (np.log(0.02), np.log(1.4))


@dataclass(frozen=True, eq=False)
class SharedSky:
    """The sky of every step.

    Attributes
    ----------
    log_index, log_index_sd : array (time,)
        Natural logarithm of the clear-sky index, and its standard deviation [1].
    lean : array (time,)
        Of the beam, as ``made_skies`` has it [1].
    by_lean : array (time, controller)
        Slope of the logarithm of power by the lean [1].
    controllers_used : int array (time,)
        By how many controllers.
    expected : array (time, controller)
        Logarithm of what a sound one gives under it [1].
    apart : array (time, controller)
        Logarithm of what was read less that; NaN where not usable [1].
    variance : array (time, controller)
        Of ``apart`` about the controller's own part, wider where a step lies off [1].
    """

    log_index: Floats
    log_index_sd: Floats
    lean: Floats
    by_lean: Floats
    controllers_used: Ints
    expected: Floats
    apart: Floats
    variance: Floats


def shared_sky(states: States, judged: Judged, *, own: Floats, prior: Floats) -> SharedSky:
    """Return the sky of every step by all controllers, an outlier counting for less (Student's t).

    Parameters
    ----------
    states : States
        What controllers would deliver under every sky.
    judged : Judged
        What they did.
    own : array (time, controller)
        Logarithm of each controller's own part of the expected [1].
    prior : array (time,)
        Logarithm of the forecast's clear-sky index [1].
    """
    low = LOW_SUN / np.sin(np.radians(np.maximum(judged.elevation_deg, 1.0)))
    variance = STEP**2 + low[:, None] ** 2 + judged.rounding**2 + (IN_SHADE * (1.0 - judged.lit)) ** 2
    read = np.where(judged.usable, judged.log_w, 0.0) - own
    index, lean = prior, np.full(prior.size, USUAL_LEAN[0])
    for moves in range(ROUNDS, -1, -1):
        expected, by_index, by_lean = states.at(index, lean)
        off = read - expected
        wide = variance * (TAILS + off**2 / variance) / (TAILS + 1.0)
        weight = np.where(judged.usable, 1.0 / wide, 0.0)
        a = (weight * by_index**2).sum(axis=1) + 1.0 / LOOSE**2
        b = (weight * by_index * by_lean).sum(axis=1)
        d = (weight * by_lean**2).sum(axis=1) + 1.0 / USUAL_LEAN[1] ** 2
        if not moves:
            break
        p = (weight * by_index * off).sum(axis=1) + (prior - index) / LOOSE**2
        q = (weight * by_lean * off).sum(axis=1) + (USUAL_LEAN[0] - lean) / USUAL_LEAN[1] ** 2
        whole = a * d - b**2
        index = np.clip(index + np.clip((d * p - b * q) / whole, -LARGEST_MOVE, LARGEST_MOVE), *INDEX_SPAN)
        lean = np.clip(lean + np.clip((a * q - b * p) / whole, -LARGEST_MOVE, LARGEST_MOVE), -1.5, 1.5)
    return SharedSky(
        log_index=index,
        log_index_sd=np.sqrt(d / (a * d - b**2)),
        lean=lean,
        by_lean=by_lean,
        controllers_used=judged.usable.sum(axis=1),
        expected=expected,
        apart=np.where(judged.usable, off + own, np.nan),
        variance=wide,
    )
