"""How much of the sky's diffuse light reaches a panel past the rig, and how much sea it sees."""

from __future__ import annotations

import numpy as np

from planner.physics.frames import Floats

GOLDEN_ANGLE_RAD = np.pi * (3.0 - np.sqrt(5.0))  # rad; turn between successive points of a sunflower spiral
CROWDING = 0.75  # exponent of height against rank: 1 spreads directions evenly over the sky, 1/2 evenly over its plan


def sky_directions(count: int) -> tuple[Floats, Floats]:
    """Return directions over the upper hemisphere on a spiral, and the solid angle that each stands for.

    Parameters
    ----------
    count : int
        How many.

    Returns
    -------
    direction : array (direction, 3)
        Unit vectors: ahead, to port, up, of a level boat [1].
    solid_angle_sr : array (direction,)
        They sum to 2 pi [sr].
    """
    rank = (np.arange(count) + 0.5) / count
    up = rank**CROWDING
    level = np.sqrt(1.0 - up**2)
    turn = np.arange(count) * GOLDEN_ANGLE_RAD
    share = CROWDING * rank ** (CROWDING - 1.0)
    direction = np.stack([level * np.cos(turn), level * np.sin(turn), up], axis=-1)
    return direction, 2.0 * np.pi * share / share.sum()


def open_view(normal_up: Floats) -> Floats:
    """Return the isotropic sky's view factor of an unobstructed plane, (1 + n_up)/2.

    Parameters
    ----------
    normal_up : array (...)
        Upward part of the plane's normal [1].

    References
    ----------
    Liu and Jordan, Solar Energy 4(3), 1960 (recalled); Hottel and Woertz 1942 (recalled).
    """
    return (1.0 + normal_up) / 2.0


def sea_view(normal_up: Floats) -> Floats:
    """Return the view factor of the sea from an unobstructed plane, (1 - n_up)/2, of ``normal_up`` (...) [1]."""
    return (1.0 - normal_up) / 2.0


def seen_part(*, direction: Floats, solid_angle_sr: Floats, normal: Floats, lit: Floats) -> Floats:
    """Return the part of the isotropic light that a panel would get without rig which it gets past the rig.

    Parameters
    ----------
    direction : array (time, direction, 3)
        Sky directions in the boat frame [1].
    solid_angle_sr : array (direction,)
        Solid angle of each [sr].
    normal : array (panel, 3)
        Out of each face, in the boat frame [1].
    lit : array (time, direction, panel)
        Light from each direction that reaches the panel [0..1].

    Returns
    -------
    array (time, panel)
        The mean of ``lit`` weighted by solid angle and cosine; 0 where the panel faces no sky [0..1].
    """
    facing = np.maximum(direction @ normal.T, 0.0) * solid_angle_sr[:, None]
    total = facing.sum(axis=1)
    return np.asarray((facing * lit).sum(axis=1) / np.where(total > 0.0, total, 1.0), dtype=np.float64)
