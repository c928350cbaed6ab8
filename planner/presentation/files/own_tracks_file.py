"""own-tracks.nc: each member's own track and ledger, as CF trajectories in one contiguous ragged array."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.domain.file_format import STAMP
from planner.domain.glossary import OWN_TRACKS
from planner.domain.results.own_tracks import OwnTracks
from planner.domain.schema import attributes
from planner.presentation.files.dataset_file import CAUTION, CONVENTIONS, FLAGS, SOURCE

if TYPE_CHECKING:
    import xarray as xr


def to_ragged(own: OwnTracks) -> xr.Dataset:
    """Return all members' tracks as a contiguous ragged array of trajectories.

    Parameters
    ----------
    own : OwnTracks

    Returns
    -------
    xarray.Dataset
        ``row_size`` tells how many entries along ``obs`` belong to each trajectory in turn (CF-1.11, section H.4.3).
    """
    import numpy as np

    whole = own.tracks.copy()
    for name, quantity in OWN_TRACKS.items():
        if name in FLAGS:
            whole[name] = whole[name].astype("int8")
        whole[name].attrs = attributes(quantity)
        if "obs" in quantity.dims:
            whole[name].attrs |= {"coordinates": "time lat lon", "cell_methods": f"time: {quantity.over_step}"}
    whole = whole.set_coords(["lat", "lon"])
    for name in ("lat", "lon"):
        del whole[name].attrs["coordinates"], whole[name].attrs["cell_methods"]
    start, step = whole["time"].to_numpy(), np.timedelta64(int(own.tracks.attrs["step_s"]), "s")
    whole["time_bounds"] = (("obs", "bounds"), np.stack([start, start + step], axis=1))
    whole["time"].attrs = {"standard_name": "time", "long_name": "start of the step", "bounds": "time_bounds"}
    whole["trajectory"].attrs = {"cf_role": "trajectory_id", "long_name": "member of the forecast"}
    whole["row_size"].attrs = {"sample_dimension": "obs", "long_name": "steps of the member's track"}
    whole["arrival"].attrs = {"standard_name": "time", "long_name": "arrival; missing where it is not seen"}
    whole["arrival"].encoding = {"units": "seconds since 1970-01-01 00:00:00", "dtype": "float64"}
    whole.attrs = {
        "Conventions": CONVENTIONS,
        "featureType": "trajectory",
        "title": "Passage energy plan: each member of the forecast on its own track, by the plan's ladders",
        "source": SOURCE,
        **STAMP,
        "comment": CAUTION,
    }
    return whole
