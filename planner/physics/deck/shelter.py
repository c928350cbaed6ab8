"""Wind on a panel in the lee of a sprayhood."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

LEFT_IN_LEE: Final = 0.4  # 1, wind left close behind a solid screen (common practice, recalled)
LEE_HEIGHTS: Final = 6.0  # 1, length of the lee over the screen's height, as short as a broad body's (recalled)
FULL_UNDER: Final = 0.8  # 1, part of the screen's height under which the lee is full
OPEN_ABOVE: Final = 1.2  # 1, part of the screen's height over which the wind is open


def wind_left(
    apparent_wind_angle_deg: npt.ArrayLike,
    centre_m: npt.ArrayLike,
    *,
    front_x_m: float,
    aft_x_m: float,
    width_m: float,
    height_m: float,
) -> Floats:
    """Return the part of the wind that reaches panels past a sprayhood.

    The hood is a box on deck. A panel is in its lee where the wind that comes to it has passed over the box; the lee
    ends, evenly, at ``LEE_HEIGHTS`` heights behind it, and between ``FULL_UNDER`` and ``OPEN_ABOVE`` of its height.

    Parameters
    ----------
    apparent_wind_angle_deg : array_like (time,)
        Off the bow, positive over the starboard side [degree].
    centre_m : array_like (panel, 3)
        Middle of each panel in the boat frame [m].
    front_x_m, aft_x_m, width_m, height_m : float
        The hood [m].

    Returns
    -------
    array (time, panel)
        [0..1].
    """
    angle = np.radians(np.asarray(apparent_wind_angle_deg, dtype=np.float64))[:, None]
    centre = np.asarray(centre_m, dtype=np.float64)
    # From the panel toward the wind: ahead for 0, to starboard (minus y) for 90 degrees.
    toward = np.stack(np.broadcast_arrays(np.cos(angle), -np.sin(angle)), axis=-1)
    low = np.array([aft_x_m, -0.5 * width_m]) - centre[:, :2]
    high = np.array([front_x_m, 0.5 * width_m]) - centre[:, :2]
    toward = np.where(np.abs(toward) < 1e-12, 1e-12, toward)
    enters = np.minimum(low / toward, high / toward).max(axis=-1)
    leaves = np.maximum(low / toward, high / toward).min(axis=-1)
    in_lee = (leaves > 0.0) & (enters < leaves)
    along = np.clip(np.maximum(enters, 0.0) / (LEE_HEIGHTS * height_m), 0.0, 1.0)
    up = np.clip((centre[:, 2] / height_m - FULL_UNDER) / (OPEN_ABOVE - FULL_UNDER), 0.0, 1.0)
    taken = (1.0 - LEFT_IN_LEE) * (1.0 - along) * (1.0 - up)
    return np.asarray(np.where(in_lee, 1.0 - taken, 1.0), dtype=np.float64)
