"""Wind as weather charts have it: a staff toward where it comes from, feathers for its speed."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.units import M_S_PER_KN
from planner.presentation.drawing.svg import add, dot, path, polyline, rings

STAFF_PX = 22.0
FEATHER_PX = 9.0
SLANT_PX = 3.5  # that a feather leans away from the station
APART_PX = 3.8  # from feather to feather
CALM_KN = 2.5  # kn, below which no feather is due
CALM_RADIUS_PX = 2.5


def draw_barbs(root: ET.Element, at: Floats, east_m_s: Floats, north_m_s: Floats, lat: Floats) -> None:
    """Append a barb a place: half a feather 5 kn, a whole one 10, a filled one 50, a ring for calm.

    Feathers stand on the side of the lower pressure: to the left looking downwind in northern latitudes, to the right
    in southern (WMO-No. 485, Manual on the Global Data-processing and Forecasting System, appendix II-4).

    Parameters
    ----------
    root : element
    at : array (n, 2)
        Places on the paper [px].
    east_m_s, north_m_s : array (n,)
        Wind toward east and north; NaN draws nothing [m/s].
    lat : array (n,)
        [degree].
    """
    group = add(root, "g", {"class": "barbs"})
    lines, filled = [], []
    for (x, y), east, north, latitude in zip(at, east_m_s, north_m_s, lat, strict=True):
        speed = float(np.hypot(east, north)) / M_S_PER_KN
        if not np.isfinite(speed):
            continue
        if speed < CALM_KN:
            dot(group, "barb", (float(x), float(y)), CALM_RADIUS_PX)
            continue
        from_way = -np.array([east, -north]) / np.hypot(east, north)  # on paper y points down
        strokes, pennants = _barb(np.array([x, y]), from_way, speed, southern=latitude < 0.0)
        lines += strokes
        filled += pennants
    staffs = "".join(map(polyline, lines))
    path(group, "barb halo", staffs)  # parts them from the hatch
    path(group, "barb", staffs)
    if filled:
        path(group, "barb fifty", rings(filled))


def _barb(place: Floats, from_way: Floats, speed_kn: float, *, southern: bool) -> tuple[list[Floats], list[Floats]]:
    """Return the strokes and the filled feathers of one barb."""
    side = np.array([-from_way[1], from_way[0]]) * (-1.0 if southern else 1.0)
    feather = FEATHER_PX * side + SLANT_PX * from_way
    tip = place + STAFF_PX * from_way
    strokes, pennants = [np.array([place, tip])], []
    fifties, rest = divmod(round(speed_kn / 5.0), 10)
    tens, five = divmod(rest, 2)
    root_at = tip
    for _ in range(fifties):
        base = root_at - APART_PX * from_way
        pennants.append(np.array([root_at, base + feather, base]))
        root_at = base - APART_PX / 2.0 * from_way
    for _ in range(tens):
        strokes.append(np.array([root_at, root_at + feather]))
        root_at = root_at - APART_PX * from_way
    if five:
        if not fifties and not tens:
            root_at = root_at - APART_PX * from_way  # alone, it stands off the tip so as not to be taken for ten
        strokes.append(np.array([root_at, root_at + 0.5 * feather]))
    return strokes, pennants
