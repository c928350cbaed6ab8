"""own-tracks.nc: each member's own track and ledger, as CF trajectories in one contiguous ragged array."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.domain.glossary import OWN_TRACKS
from planner.domain.results.own_tracks import OwnTracks
from planner.presentation.files.dataset_file import describe, head, with_bounds

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
    whole = own.tracks.copy()
    for name, quantity in OWN_TRACKS.items():
        describe(whole, name, quantity)
    whole = with_bounds(whole, "obs", step_s=int(own.tracks.attrs["step_s"]))
    whole["trajectory"].attrs = {"cf_role": "trajectory_id", "long_name": "member of the forecast"}
    whole["row_size"].attrs = {"sample_dimension": "obs", "long_name": "steps of the member's track"}
    whole["arrival"].attrs = {"standard_name": "time", "long_name": "arrival; missing where it is not seen"}
    whole["arrival"].encoding = {"units": "seconds since 1970-01-01 00:00:00", "dtype": "float64"}
    whole.attrs = head("Passage energy plan: each member of the forecast on its own track, by the plan's ladders")
    return whole
