"""One Gaussian linear model for all that is read, and what a named cause would gain it.

Figures ``value`` = what is not known + causes. What is not known (sky, levels, days, meters, the list's own doubt) is
the covariance of the figures; a cause is a column of known shape, begun at one of them, whose size has a usual value
and a spread. With all that is not known integrated out, a column ``h`` scores ``h' V^-1 value`` with the information
``h' V^-1 h``, and the odds of the cause against none follow in closed form (Rasmussen and Williams 2006, Gaussian
Processes for Machine Learning, section 2.7: explicit basis functions with a Gaussian prior).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.results.reconcile.findings import Interval

SIGMAS: Final = 1.645  # 1, half-width in standard deviations of an interval that holds nine cases in ten
TAME_FROM: Final = 2.5  # 1, standard deviations off what the others tell, from which a figure counts for less
NEVER: Final = -1e3  # 1, log odds of what cannot be
NOTHING: Final = 1e-12  # 1, information of a column that is nowhere


@dataclass(frozen=True, eq=False)
class Figures:
    """What was read, with the covariance of all that is not known of it.

    Attributes
    ----------
    value : array (figure,)
    covariance : array (figure, figure)
    """

    value: Floats
    covariance: Floats

    @cached_property
    def inverse(self) -> Floats:
        """Of the covariance (figure, figure)."""
        return np.asarray(np.linalg.inv(self.covariance), dtype=np.float64)

    @cached_property
    def pulled(self) -> Floats:
        """Inverse times value (figure,)."""
        return np.asarray(self.inverse @ self.value, dtype=np.float64)

    def tamed(self, free: Floats) -> Figures:
        """Return them with more variance for each that lies off what the others tell.

        Parameters
        ----------
        free : array (figure, figure)
            Covariance of what a cause may do to figures together: that is not held against them.
        """
        covariance = self.covariance.copy()
        for _ in range(3):
            inverse = np.linalg.inv(covariance + free)
            own = np.diag(inverse)
            far = (inverse @ self.value) ** 2 / own / TAME_FROM**2
            covariance[np.diag_indices(own.size)] += np.maximum(far - 1.0, 0.0) / own
        return replace(self, covariance=covariance)

    def given(self, column: Floats, spread: float) -> Figures:
        """Return them with a cause of unknown size taken in.

        Parameters
        ----------
        column : array (figure,)
        spread : float
            Standard deviation of its size about none; wide.
        """
        return replace(self, covariance=self.covariance + spread**2 * np.outer(column, column))

    def told(self, shared: Floats, prior_sd: float) -> tuple[float, float]:
        """Return mean and standard deviation of an unknown that is in the covariance.

        Parameters
        ----------
        shared : array (figure,)
            Its covariance with the figures.
        prior_sd : float
            Its standard deviation before anything was read.
        """
        left = prior_sd**2 - float(shared @ self.inverse @ shared)
        return float(shared @ self.pulled), float(np.sqrt(max(left, NOTHING)))

    def without(self, column: Floats, out: Bools) -> tuple[float, float]:
        """Return score and information of a column by all figures but some.

        Parameters
        ----------
        column : array (figure,)
        out : bool array (figure,)
            Figures left out.
        """
        kept = column[~out]
        across = self.inverse[np.ix_(~out, out)]
        own = self.inverse[np.ix_(out, out)]
        weight = self.inverse[np.ix_(~out, ~out)] @ kept - across @ np.linalg.solve(own, across.T @ kept)
        return float(weight @ self.value[~out]), max(float(weight @ kept), NOTHING)


def onsets(figures: Figures, own: Ints, columns: Floats, starts: Ints) -> tuple[Floats, Floats]:
    """Return score and information of columns begun at each of some figures, (start, column).

    Parameters
    ----------
    figures : Figures
    own : int array (own,)
        Figures that the columns are over, in order of time.
    columns : array (own, column)
        Shapes.
    starts : int array (start,)
        Positions in ``own``.
    """
    inverse, pulled = figures.inverse[np.ix_(own, own)], figures.pulled[own]
    score, information = np.empty((2, starts.size, columns.shape[1]))
    for row, start in enumerate(starts):
        after = columns[start:]
        score[row] = after.T @ pulled[start:]
        information[row] = np.maximum((after * (inverse[start:, start:] @ after)).sum(axis=0), NOTHING)
    return score, information


def log_odds(
    score: Floats | float, information: Floats | float, usual: Floats | float, spread: Floats | float
) -> Floats:
    """Return the logarithm of the likelihood of a column of normally distributed size over that of none.

    Parameters
    ----------
    score, information : array or float
        Of ``onsets``.
    usual, spread : array or float
        Mean and standard deviation of the size.
    """
    held = 1.0 / np.square(spread)
    gained = np.square(score + usual * held) / (information + held)
    return np.asarray(0.5 * (gained - np.square(usual) * held - np.log1p(information / held)), dtype=np.float64)


def about(value: float, sd: float) -> Interval:
    """Return a figure with its interval."""
    return Interval(value, value - SIGMAS * sd, value + SIGMAS * sd)


def times(log_value: float, sd: float) -> Interval:
    """Return the figure of a logarithm with its interval."""
    return Interval(*(float(np.exp(log_value + k * sd)) for k in (0.0, -SIGMAS, SIGMAS)))
