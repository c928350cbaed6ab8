"""Sails, spars and deck gear as flat pieces and tubes in the boat frame, from the dimensions that sailmakers use.

Sails are flat in every horizontal section; their draft is left out, their twist and roach are not.
"""

from __future__ import annotations

import numpy as np

from planner.domain.arrays import Floats

STRIPS = 4  # horizontal bands of a sail; each is two triangles, the topmost one
ROACH = 0.08  # 1; leech's greatest bow beyond the straight line, over the foot (recalled)
MAINSAIL_TWIST_DEG = 10.0  # degree; how much farther the head swings than the boom (recalled)
HEADSAIL_TWIST_DEG = 10.0  # degree; the same for the headsail (recalled)
SQUARE_DEG = 90.0  # degree; shrouds stop any sail here
CLEW_RISE = 0.08  # 1; clew above the tack, over the foretriangle's height, sail full (recalled)
HOOD_RAKE = 0.4  # 1; part of a sprayhood's length taken by its raked windscreen (recalled)
HOOD_TUMBLE = 0.8  # 1; breadth of a sprayhood's top over its foot (recalled)


def mainsail(
    *, p_m: float, e_m: float, boom_height_m: float, boom_angle_deg: Floats, hoist_fraction: Floats, side: Floats
) -> Floats:
    """Return the mainsail as triangles between luff and leech.

    A reef lowers the sail: the part of the luff that stays set is the upper one, its chord at the reef lies on the
    boom. At height t of the full luff the chord is E ((1 - t) + 4 ROACH t (1 - t)).

    Parameters
    ----------
    p_m, e_m, boom_height_m : float
        Luff, foot, gooseneck above deck [m].
    boom_angle_deg : array (time,)
        From the centreline, positive to port [degree].
    hoist_fraction : array (time,)
        Part of the luff set [0..1].
    side : array (time,)
        +1 with the boom to port, -1 to starboard [1].

    Returns
    -------
    array (time, 7, 3, 3)
        Corners of each triangle [m].
    """
    up = np.linspace(0.0, 1.0, STRIPS + 1)  # of the luff that is set
    height = 1.0 - hoist_fraction[:, None] * (1.0 - up)  # of the full luff
    chord = e_m * ((1.0 - height) + 4.0 * ROACH * height * (1.0 - height))
    angle = np.radians(_eased(boom_angle_deg, side, MAINSAIL_TWIST_DEG * up))
    z = boom_height_m + p_m * hoist_fraction[:, None] * up
    luff = np.stack([np.zeros_like(z), np.zeros_like(z), z], axis=-1)
    leech = np.stack([-chord * np.cos(angle), chord * np.sin(angle), z], axis=-1)
    return _between(luff, leech)


def headsail(
    *,
    i_m: float,
    j_m: float,
    overlap: float,
    tack_height_m: float,
    headsail_angle_deg: Floats,
    set_fraction: Floats,
    side: Floats,
) -> Floats:
    """Return the headsail as triangles between luff and leech; it swings about the forestay and rolls up on it.

    Rolled in part it is the same triangle made smaller, its clew drawn straight in toward the stay.

    Parameters
    ----------
    i_m, j_m : float
        Foretriangle height above deck and base [m].
    overlap : float
        Perpendicular from luff to clew over J [1].
    tack_height_m : float
        Tack above deck [m].
    headsail_angle_deg : array (time,)
        Turn about the stay from the centreline, positive clew to port [degree].
    set_fraction : array (time,)
        Part of the perpendicular unrolled [0..1].
    side : array (time,)
        +1 with the clew to port, -1 to starboard [1].

    Returns
    -------
    array (time, 7, 3, 3)
        Corners of each triangle [m].
    """
    rise = i_m - tack_height_m
    stay = float(np.hypot(rise, j_m))
    sine, cosine = j_m / stay, rise / stay  # of the stay's rake from upright
    perpendicular = overlap * j_m
    clew_along = (CLEW_RISE * rise + perpendicular * sine) / cosine  # up the stay to the clew's square
    up = np.linspace(0.0, 1.0, STRIPS + 1)
    part = set_fraction[:, None]
    luff_along = clew_along * (1.0 - part) + stay * part * up
    leech_along = clew_along * (1.0 - up) + (clew_along + (stay - clew_along) * part) * up
    reach = perpendicular * part * (1.0 - up)
    angle = np.radians(_eased(headsail_angle_deg, side, HEADSAIL_TWIST_DEG * up))
    luff = np.stack(
        [j_m - sine * luff_along, np.zeros_like(luff_along), tack_height_m + cosine * luff_along], axis=-1
    )
    leech = np.stack(
        [
            j_m - sine * leech_along - cosine * np.cos(angle) * reach,
            np.sin(angle) * reach,
            tack_height_m + cosine * leech_along - sine * np.cos(angle) * reach,
        ],
        axis=-1,
    )
    return _between(luff, leech)


def boom_end(*, e_m: float, boom_height_m: float, boom_angle_deg: Floats) -> Floats:
    """Return the boom's after end.

    Parameters
    ----------
    e_m, boom_height_m : float
        Foot of the mainsail, which is the boom's length, and gooseneck above deck [m].
    boom_angle_deg : array (time,)
        From the centreline, positive to port [degree].

    Returns
    -------
    array (time, 3)
        Position [m].
    """
    angle = np.radians(boom_angle_deg)
    return np.stack([-e_m * np.cos(angle), e_m * np.sin(angle), np.full_like(angle, boom_height_m)], axis=-1)


def sprayhood(*, front_x_m: float, aft_x_m: float, width_m: float, height_m: float) -> Floats:
    """Return a sprayhood's windscreen, top, port and starboard side.

    Parameters
    ----------
    front_x_m, aft_x_m, width_m, height_m : float
        Foot of the windscreen, after edge, breadth at the foot, height above deck [m].

    Returns
    -------
    array (4, 4, 3)
        Corners of each flat piece [m].
    """
    brow = front_x_m - HOOD_RAKE * (front_x_m - aft_x_m)
    foot, top = width_m / 2.0, HOOD_TUMBLE * width_m / 2.0
    port = [[front_x_m, foot, 0.0], [brow, top, height_m], [aft_x_m, top, height_m], [aft_x_m, foot, 0.0]]
    starboard = [[x, -y, z] for x, y, z in port]
    screen = [port[0], port[1], starboard[1], starboard[0]]
    roof = [port[1], port[2], starboard[2], starboard[1]]
    return np.array([screen, roof, port, starboard], dtype=np.float64)


def awning(*, front_x_m: float, aft_x_m: float, width_m: float, height_m: float) -> Floats:
    """Return a flat awning such as a bimini as one rectangle.

    Parameters
    ----------
    front_x_m, aft_x_m, width_m, height_m : float
        Edges along x, breadth, height above deck [m].

    Returns
    -------
    array (1, 4, 3)
        Its corners [m].
    """
    half = width_m / 2.0
    plan = [(front_x_m, half), (aft_x_m, half), (aft_x_m, -half), (front_x_m, -half)]
    return np.array([[[x, y, height_m] for x, y in plan]], dtype=np.float64)


def arch(*, x_m: float, width_m: float, height_m: float) -> Floats:
    """Return the axes of an arch's port leg, crossbar and starboard leg.

    Parameters
    ----------
    x_m, width_m, height_m : float
        Position along x, breadth, height above deck [m].

    Returns
    -------
    array (3, 2, 3)
        Ends of each tube [m].
    """
    half = width_m / 2.0
    feet = [[x_m, half, 0.0], [x_m, -half, 0.0]]
    heads = [[x_m, half, height_m], [x_m, -half, height_m]]
    return np.array([[feet[0], heads[0]], heads, [feet[1], heads[1]]], dtype=np.float64)


def drum(*, centre_m: tuple[float, float, float], diameter_m: float, height_m: float) -> Floats:
    """Return an upright drum such as a radome: eight sides and a lid of the circle's area, no bottom.

    A ray that enters or leaves through the bottom meets a side or the lid as well, so none is missed.

    Parameters
    ----------
    centre_m : tuple of float
        Its middle [m].
    diameter_m, height_m : float
        Size [m].

    Returns
    -------
    array (11, 4, 3)
        Corners of each flat piece [m].
    """
    sides = 8
    radius = 0.5 * diameter_m * np.sqrt(2.0 * np.pi / sides / np.sin(2.0 * np.pi / sides))
    turn = (np.arange(sides) + 0.5) * 2.0 * np.pi / sides
    x, y = centre_m[0] + radius * np.cos(turn), centre_m[1] + radius * np.sin(turn)
    top = np.stack([x, y, np.full(sides, centre_m[2] + height_m / 2.0)], axis=1)
    foot = top - [0.0, 0.0, height_m]
    walls = np.stack([foot, top, np.roll(top, -1, axis=0), np.roll(foot, -1, axis=0)], axis=1)
    lid = top[np.array([[0, 1, 2, 3], [0, 3, 4, 7], [4, 5, 6, 7]])]
    return np.concatenate([walls, lid])


def _eased(angle_deg: Floats, side: Floats, twist_deg: Floats) -> Floats:
    """Return the chord's angle at each level: the foot's, opened by twist, never past square."""
    opened = angle_deg[:, None] + side[:, None] * twist_deg
    return np.asarray(np.clip(opened, -SQUARE_DEG, SQUARE_DEG), dtype=np.float64)


def _between(luff: Floats, leech: Floats) -> Floats:
    """Return triangles that fill the strips between two edges given level by level, the head a point."""
    lower = np.stack([luff[:, :-1], leech[:, :-1], luff[:, 1:]], axis=-2)
    upper = np.stack([leech[:, :-2], leech[:, 1:-1], luff[:, 1:-1]], axis=-2)
    return np.concatenate([lower, upper], axis=1)
