"""The same passage with the wind over the other side: what shade and heel would have been."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import xarray as xr

# of the track, what changes sign with the side that the wind comes over
SIDED: Final = (
    "tack",
    "true_wind_angle_deg",
    "apparent_wind_angle_deg",
    "leeway_deg",
    "heel_deg",
    "boom_angle_deg",
    "headsail_angle_deg",
)


def on_the_other_tack(track: xr.Dataset) -> xr.Dataset:
    """Return a track with the wind mirrored at the bow: same positions, headings and speeds, sails on the other side.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it.

    Returns
    -------
    xarray.Dataset
        Done twice, the track itself.
    """
    mirrored = {name: -track[name].assign_attrs(track[name].attrs) for name in SIDED}
    from_deg = (track["heading_deg"] - track["true_wind_angle_deg"]) % 360.0
    mirrored["true_wind_from_deg"] = from_deg
    turned = track.assign(mirrored)
    for name in mirrored:
        turned[name].attrs = dict(track[name].attrs)
    return turned
