"""How much of the clear-sky light gets through cloud, by relations that belong to a kind of cloud report.

Cover of a weather model, of an observer and of a sky imager are different quantities; each has its own constants.
Every relation is 1 under a cloudless sky, falls as cover grows, and never reaches 0. ``scripts/fit_cloud.py`` fits
the constants and prints how each relation scores on data that it was not fitted on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Floats


@dataclass(frozen=True)
class PowerLaw:
    """The part of the light that passes: 1 less depth times cover to the exponent.

    Attributes
    ----------
    depth : float
        What full cover takes [0..1).
    exponent : float
        How late a growing cover tells [1].
    """

    depth: float
    exponent: float

    def passes(self, cover: Floats) -> Floats:
        """Return the clear-sky index of a cover [0..1], in its shape."""
        return 1.0 - self.depth * np.clip(cover, 0.0, 1.0) ** self.exponent

    def cover_of(self, index: Floats) -> Floats:
        """Return the cover that lets an index through, [0..1], in its shape."""
        return np.clip((1.0 - index) / self.depth, 0.0, 1.0) ** (1.0 / self.exponent)


# All without unit, fitted by scripts/fit_cloud.py on NCEP_gfs.grb (6-hour means to 2011-10-11 00Z, 50 S to 50 N) in
# the odd blocks of 20 degrees of longitude (180 W begins block 0), and scored in the even ones.
MODEL_LOW: Final = PowerLaw(depth=0.538, exponent=1.540)
MODEL_MIDDLE: Final = PowerLaw(depth=0.602, exponent=1.482)
MODEL_HIGH: Final = PowerLaw(depth=0.227, exponent=8.0)  # the exponent at the fit's bound: only overcast cirrus tells
MODEL_TOTAL: Final = PowerLaw(depth=0.425, exponent=3.182)
# Fitted by scripts/fit_words.py on days of TMY2 12839 (an observer's cover, measured light) and of SRRL (a sky
# imager's), each station weighing the same: cloud takes in proportion to its cover, and more where it is closed. On
# halves that were not fitted it is 7 to 11 % too dark at the one and 5 to 14 % too bright at the other, as Reed's
# relation for days at sea is (1977, J. Phys. Oceanogr. 7, 482-485), to which it keeps within 2 %; what one station
# alone would tell errs by more.
OBSERVER_BROKEN: Final = PowerLaw(depth=0.357, exponent=1.0)
OBSERVER_CLOSED: Final = PowerLaw(depth=0.154, exponent=8.0)


def index_of_layers(low: Floats, middle: Floats, high: Floats) -> Floats:
    """Return the clear-sky index under a weather model's three layers: the product of what each lets through.

    Parameters
    ----------
    low, middle, high : array (...)
        Cover of each layer [0..1].

    Returns
    -------
    array (...)
        Global irradiance over that under a cloudless sky [0..1].
    """
    return MODEL_LOW.passes(low) * MODEL_MIDDLE.passes(middle) * MODEL_HIGH.passes(high)


def index_of_total(cover: Floats) -> Floats:
    """Return the clear-sky index under a weather model's total cover, where it does not distinguish layers.

    Parameters
    ----------
    cover : array (...)
        Total cover [0..1].

    Returns
    -------
    array (...)
        Global irradiance over that under a cloudless sky [0..1].
    """
    return MODEL_TOTAL.passes(cover)


def index_of_observer(cover: Floats) -> Floats:
    """Return the clear-sky index under the total cover that an observer states, in oktas or in words.

    Parameters
    ----------
    cover : array (...)
        Eighths of the sky over eight [0..1].

    Returns
    -------
    array (...)
        Global irradiance over that under a cloudless sky [0..1].
    """
    return OBSERVER_BROKEN.passes(cover) * OBSERVER_CLOSED.passes(cover)
