"""The sky that all panels share, step by step, from what every controller delivered.

Two unknowns a step, the clear-sky index and the lean of the beam, are fitted to the logarithms of what was read. The
lean is held by what is usual, the index loosely by the forecast. An outlier counts for less (Student's t). Each
controller is compared with the sky that the others show, so that a weak one does not excuse itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.sky_states import States

# standard deviations of a logarithm, the project's own
METER: Final = 0.02  # 1, of a controller's display
MODEL: Final = 0.025  # 1, of the model from step to step: roll, aim, air
IN_SHADE: Final = 0.5  # 1, times the part in shade by the model
LOW_SUN: Final = 0.004  # 1, over the sine of the sun's elevation
USUAL_LEAN: Final = (0.2, 0.6)  # 1, mean and standard deviation of the lean of the beam
LOOSE: Final = 0.8  # 1, standard deviation of ten minutes' index about the forecast's
TAILS: Final = 4.0  # 1, degrees of freedom of Student's t
ROUNDS: Final = 12  # 1, of Gauss and Newton's method
LARGEST_MOVE: Final = 0.5  # 1, of the index's logarithm or the lean in one round
LOWEST_INDEX, HIGHEST_INDEX = np.log(0.02), np.log(1.4)


@dataclass(frozen=True, eq=False)
class SharedSky:
    """The sky of every step.

    Attributes
    ----------
    log_index, log_index_sd : array (time,)
        Natural logarithm of the clear-sky index that all controllers share, and its standard deviation [1].
    lean : array (time,)
        Of the beam, as ``made_skies`` has it [1].
    controllers_used : int array (time,)
        By how many controllers.
    apart, apart_sd : array (time, controller)
        Logarithm of a controller's power over the expected under the sky of the others, and its standard deviation;
        NaN where it was not usable [1].
    """

    log_index: Floats
    log_index_sd: Floats
    lean: Floats
    controllers_used: npt.NDArray[np.int64]
    apart: Floats
    apart_sd: Floats


def own_variance(judged: Judged) -> Floats:
    """Return the variance of the logarithm of what was read about the model, (time, controller) [1]."""
    low = LOW_SUN / np.sin(np.radians(np.maximum(judged.elevation_deg, 1.0)))
    steady = METER**2 + MODEL**2 + low[:, None] ** 2
    return np.asarray(steady + judged.rounding**2 + (IN_SHADE * (1.0 - judged.lit)) ** 2, dtype=np.float64)


def shared_sky(
    states: States, judged: Judged, *, log_factor: Floats, forecast_log_index: Floats, start: SharedSky | None = None
) -> SharedSky:
    """Return the sky of every step, and each controller against that of the others.

    Parameters
    ----------
    states : States
        What controllers would deliver under every sky.
    judged : Judged
        What they did.
    log_factor : array (time, controller)
        Logarithm of each controller's standing part of the expected, 0 for one as expected [1].
    forecast_log_index : array (time,)
        Middle of the forecast's outcomes [1].
    start : SharedSky, optional
        Of much the same factors, to begin from.
    """
    variance = own_variance(judged)
    usable, many = judged.usable, judged.log_w.shape[1]
    read = np.where(usable, judged.log_w, 0.0) - log_factor
    # all together, then without each in turn
    taken = np.concatenate([usable[None], usable[None] & ~np.eye(many, dtype=np.bool_)[:, None, :]])
    index = np.repeat((forecast_log_index if start is None else start.log_index)[None], many + 1, axis=0)
    lean = np.repeat((np.full(read.shape[0], USUAL_LEAN[0]) if start is None else start.lean)[None], many + 1, axis=0)
    for _ in range(ROUNDS if start is None else ROUNDS // 3):
        expected, by_index, by_lean = states.at(index, lean)
        off = read[None] - expected
        heavy = (TAILS + 1.0) / (TAILS + off**2 / variance)
        weight = np.where(taken, heavy / variance, 0.0)
        a = (weight * by_index**2).sum(axis=2) + 1.0 / LOOSE**2
        b = (weight * by_index * by_lean).sum(axis=2)
        d = (weight * by_lean**2).sum(axis=2) + 1.0 / USUAL_LEAN[1] ** 2
        p = (weight * by_index * off).sum(axis=2) + (forecast_log_index - index) / LOOSE**2
        q = (weight * by_lean * off).sum(axis=2) + (USUAL_LEAN[0] - lean) / USUAL_LEAN[1] ** 2
        whole = a * d - b**2
        index = index + np.clip((d * p - b * q) / whole, -LARGEST_MOVE, LARGEST_MOVE)
        lean = np.clip(lean + np.clip((a * q - b * p) / whole, -LARGEST_MOVE, LARGEST_MOVE), -1.5, 1.5)
        index = np.clip(index, LOWEST_INDEX, HIGHEST_INDEX)
    expected, by_index, by_lean = states.at(index, lean)
    a, b, d, whole = (each[..., None] for each in (a, b, d, whole))
    spread = (d * by_index**2 - 2.0 * b * by_index * by_lean + a * by_lean**2) / whole
    own = np.arange(many)
    apart = read - expected[own + 1, :, own].T + log_factor
    apart_sd = np.sqrt(spread[own + 1, :, own].T + variance)
    return SharedSky(
        log_index=index[0],
        log_index_sd=np.sqrt(d[0, :, 0] / whole[0, :, 0]),
        lean=lean[0],
        controllers_used=usable.sum(axis=1),
        apart=np.where(usable, apart, np.nan),
        apart_sd=np.where(usable, apart_sd, np.nan),
    )
