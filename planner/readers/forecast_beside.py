"""Currents and rain beside a forecast of sky and wind, brought from their own grid and times to the wind's."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from planner.readers.forecast_grid import Floats, Times

Values = npt.NDArray[np.float32]

CURRENTS = ("current_east_m_s", "current_north_m_s")
BESIDE = (*CURRENTS, "rain_mm_h")
"""Quantities that may come on a grid and at times of their own: rain has none at the start of a run."""


def brought_to(
    values: Values, own: tuple[Times, Floats, Floats], axes: tuple[Times, Floats, Floats], *, members: int
) -> Values:
    """Return a field on other axes: linear in time, latitude and longitude, held beyond its own.

    Parameters
    ----------
    values : array (member, time, lat, lon)
        Current [m/s] or rain [mm/h].
    own, axes : tuple of array
        Times, latitudes and longitudes that it has and that it shall have; rising, longitudes continuous [degree].
    members : int
        Wanted; a field without as many members is that of its first one for all.

    Returns
    -------
    array (members, time, lat, lon)
        In the units of ``values``.
    """
    hour = np.timedelta64(3600, "s")
    turn = 360.0 * np.round((axes[2].mean() - own[2].mean()) / 360.0)
    nodes = ((own[0] - own[0][0]) / hour, own[1], own[2] + turn)
    wanted = ((axes[0] - own[0][0]) / hour, axes[1], axes[2])
    result = values if values.shape[0] == members else np.repeat(values[:1], members, axis=0)
    for axis, (node, at) in enumerate(zip(nodes, wanted, strict=True), start=1):
        result = _along(result, node, at, axis)
    return result


def _along(values: Values, nodes: Floats, at: Floats, axis: int) -> Values:
    """Return values read linearly along one axis, held beyond its ends."""
    if nodes.size == 1:
        return np.repeat(values, at.size, axis=axis)
    place = np.clip(np.interp(at, nodes, np.arange(nodes.size, dtype=np.float64)), 0.0, nodes.size - 1.0)
    lower = np.minimum(place.astype(np.int64), nodes.size - 2)
    shape = [1] * values.ndim
    shape[axis] = at.size
    part = (place - lower).astype(np.float32).reshape(shape)
    result: Values = np.take(values, lower, axis=axis) * (1.0 - part) + np.take(values, lower + 1, axis=axis) * part
    return result
