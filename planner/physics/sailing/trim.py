"""How the boat stands to the wind: which side the sails are on, how far out, how much of them, and the heel."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

CLOSE_HAULED_DEG: Final = 35.0  # degree of apparent wind: up to here the full heel stands (common practice)


def heel_share(apparent_angle_deg: npt.ArrayLike) -> Floats:
    """Return the part of the close-hauled heel that is left on another point of sail.

    It is whole up to 35 degrees of apparent wind and falls as a quarter cosine to none dead astern, where the sails
    drive and no longer press sideways (common practice).

    Parameters
    ----------
    apparent_angle_deg : array_like (...)
        Apparent wind off the bow, either sign [degree].

    Returns
    -------
    array (...)
        0..1 [1].
    """
    freed = np.maximum(np.abs(apparent_angle_deg) - CLOSE_HAULED_DEG, 0.0) / (180.0 - CLOSE_HAULED_DEG)
    return np.asarray(np.cos(0.5 * np.pi * freed), dtype=np.float64)


def read_size(at: npt.ArrayLike, axis: npt.ArrayLike, values: npt.ArrayLike) -> Floats:
    """Return a table's figure at the size of an angle or speed, linear between rows and held beyond the ends.

    Parameters
    ----------
    at : array_like (...)
        Either sign; its size is looked up [any].
    axis, values : array_like (n,)
        Rising axis and the figure at each of its nodes [any].

    Returns
    -------
    array (...)
        In the units of ``values``.
    """
    nodes, figures = np.asarray(axis, dtype=np.float64), np.asarray(values, dtype=np.float64)
    return np.asarray(np.interp(np.abs(np.asarray(at, dtype=np.float64)), nodes, figures), dtype=np.float64)


def headsail_side(tack: npt.ArrayLike, true_angle_deg: npt.ArrayLike, *, wing_on_wing_beyond_deg: float) -> Floats:
    """Return the side of the headsail's clew: to leeward with the boom, or poled out to windward on a deep run.

    Parameters
    ----------
    tack : array_like (...)
        +1 starboard, -1 port [1].
    true_angle_deg : array_like (...)
        True wind off the bow, either sign [degree].
    wing_on_wing_beyond_deg : float
        Deeper than this it is poled out [degree].

    Returns
    -------
    array (...)
        +1 to port, -1 to starboard [1].
    """
    return np.where(np.abs(true_angle_deg) > wing_on_wing_beyond_deg, -1.0, 1.0) * np.asarray(tack, dtype=np.float64)
