"""The same passage with the engine never driving the boat: what a plan may count on where the wind is in doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr


def under_sail(track: xr.Dataset) -> xr.Dataset:
    """Return a track on which the engine never drives the boat, all else unchanged.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it.

    Returns
    -------
    xarray.Dataset
        With ``under_engine`` 0 throughout.
    """
    driving = track["under_engine"]
    return track.assign(under_engine=(driving.dims, np.zeros_like(driving.values), driving.attrs))
