"""How much of the sky's diffuse light reaches a panel past the rig, and how much sea it sees.

The sky apart from the sun's quarter is bright by height alone, linearly: overcast three times as bright overhead as
at the horizon, clear several times brighter at the horizon. So two views, under an even and under an overcast sky,
carry every state between, and one figure, the gradation, mixes them.
"""

from __future__ import annotations

import numpy as np

from planner.domain.arrays import Floats, Ints

GOLDEN_ANGLE_RAD = np.pi * (3.0 - np.sqrt(5.0))  # rad; turn between successive points of a sunflower spiral
OVERCAST_RISE = 2.0  # 1; radiance overhead over that at the horizon, less 1, Moon and Spencer 1942 (recalled)
CLEAR_GRADATION = (
    -2.1
)  # 1; of the linear sky whose upright and level planes get light in the ratio that the clear sky
# of ISO 15469:2004, type 12, gives them by its gradation alone, 1 - exp(-0.32 / up) (its constants recalled)
CLEAR_CLEARNESS = 6.2  # 1; Perez's clearness from which his skies are clear, Perez et al. 1990 (recalled)
CLEARNESS_ZENITH = 1.041  # 1/rad3; its correction for the sun's zenith angle, of the same paper (recalled)
LEAST_DIFFUSE_W_M2 = 1e-3  # W/m2; below it there is no sky to grade
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


def open_overcast_view(normal_up: Floats) -> Floats:
    """Return the view factor of an unobstructed plane under an overcast sky, over that of a level one.

    Radiance goes as 1 + 2 up; the integral over the part of the sky before a plane tilted by t is closed:
    3/7 (1 + cos t)/2 + 4/(7 pi) ((pi - t) cos t + sin t).

    Parameters
    ----------
    normal_up : array (...)
        Upward part of the plane's normal, cos t [1].

    References
    ----------
    Moon and Spencer, Illumination from a non-uniform sky, 1942 (recalled); the same form with another slope in
    Muneer, Solar Energy 45(3), 1990 (recalled).
    """
    cosine = np.clip(normal_up, -1.0, 1.0)
    tilt = np.arccos(cosine)
    raised = ((np.pi - tilt) * cosine + np.sqrt(1.0 - cosine**2)) / np.pi
    even, rise = 3.0 / (3.0 + 2.0 * OVERCAST_RISE), 2.0 * OVERCAST_RISE / (3.0 + 2.0 * OVERCAST_RISE)
    return np.asarray(even * open_view(cosine) + rise * raised, dtype=np.float64)


def overcast_radiance(up: Floats) -> Floats:
    """Return an overcast sky's radiance at sines ``up`` (...) of height, over an even sky's of the same light [1].

    The same light is that on level ground. Moon and Spencer: (1 + 2 up) over 7/3.
    """
    return (1.0 + OVERCAST_RISE * up) / (1.0 + 2.0 / 3.0 * OVERCAST_RISE)


def gradation(dni_w_m2: Floats, dhi_w_m2: Floats, sun_elevation_deg: Floats) -> Floats:
    """Return how the sky apart from the sun's quarter brightens with height: 1 overcast, 0 even, less when clear.

    The light on a plane is that under an even sky plus this times what an overcast sky gives more. It goes from 1 to
    ``CLEAR_GRADATION`` with the logarithm of Perez's clearness, which is 1 without sun.

    Parameters
    ----------
    dni_w_m2, dhi_w_m2 : array (...)
        Direct normal and diffuse horizontal irradiance [W/m2].
    sun_elevation_deg : array (...)
        Above the horizon [degree].

    Returns
    -------
    array (...)
        [1].

    References
    ----------
    Perez et al., Solar Energy 44(5), 1990, doi:10.1016/0038-092X(90)90055-H, for the clearness; the straight line
    over its logarithm is our own, near that paper's horizon coefficients.
    """
    bend = CLEARNESS_ZENITH * np.radians(90.0 - np.clip(sun_elevation_deg, 0.0, 90.0)) ** 3
    clearness = 1.0 + dni_w_m2 / np.maximum(dhi_w_m2, LEAST_DIFFUSE_W_M2) / (1.0 + bend)
    clear = np.clip(np.log(clearness) / np.log(CLEAR_CLEARNESS), 0.0, 1.0)
    return np.asarray(1.0 - (1.0 - CLEAR_GRADATION) * clear, dtype=np.float64)


def sea_view(normal_up: Floats) -> Floats:
    """Return the view factor of the sea from an unobstructed plane, (1 - n_up)/2, of ``normal_up`` (...) [1]."""
    return (1.0 - normal_up) / 2.0


def seen_part(*, direction: Floats, weight: Floats, normal: Floats, lit: Floats, patches: Ints) -> Floats:
    """Return the part of the sky's light that a patch of a panel would get without rig which it gets past the rig.

    Parameters
    ----------
    direction : array (time, direction, 3)
        Sky directions in the boat frame [1].
    weight : array (direction,)
        Solid angle of each times the sky's radiance there [any].
    normal : array (panel, 3)
        Out of each face, in the boat frame [1].
    lit : array (time, direction, patch)
        Light from each direction that reaches the patch [0..1].
    patches : int array (panel,)
        How many patches of each panel follow each other.

    Returns
    -------
    array (time, patch)
        The mean of ``lit`` weighted so and by cosine; 0 where the panel faces no sky [0..1].
    """
    facing = np.maximum(direction @ normal.T, 0.0) * weight[:, None]
    total = facing.sum(axis=1)
    part = np.empty((lit.shape[0], lit.shape[2]))
    first = 0
    for panel, count in enumerate(patches):
        of_panel = slice(first, first + count)
        # (time, 1, direction) times (time, direction, patch)
        part[:, of_panel] = (facing[:, None, :, panel] @ lit[:, :, of_panel])[:, 0]
        first += count
    return np.asarray(part / np.repeat(np.where(total > 0.0, total, 1.0), patches, axis=1), dtype=np.float64)
