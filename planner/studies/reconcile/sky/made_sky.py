"""Skies of given clearness over a track, whatever the forecast says: what the panels would see under each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.glossary import SKY
from planner.domain.schema import to_dataset
from planner.physics.sky.decomposition import beam_and_diffuse, beam_of_direct
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.weather import middles

if TYPE_CHECKING:
    import xarray as xr


UNDER_CLOUD: Final = 0.3  # 1, clear-sky index in the shadow of broken cloud; the project's own
VEIL_TAKES: Final = 0.8  # 1, what an even veil takes of the beam beyond the usual, times the light it takes
VEIL_LEAST: Final = 0.2  # 1, of the usual beam that a veil leaves at least
LITTLE: Final = 0.1  # 1, by which the beam may differ from the usual in any sky
MOST_BEAM: Final = 0.93  # 1, of the global light: some is always diffuse


def made_skies(track: xr.Dataset, sky: xr.Dataset, *, clear_index: Floats, beam_lean: Floats) -> xr.Dataset:
    """Return skies of even clearness: sun as it stands, air and rain as the mean of a forecast's outcomes.

    The same global light may come with more or less beam. Halfway (0) is the usual share for it. Broken cloud (+1)
    lets the whole beam through part of the time; an even veil (-1) dims it all the time.

    Parameters
    ----------
    track, sky : xarray.Dataset
        As the glossary has them.
    clear_index : array (made,)
        Global light over that of the cloudless sky [1].
    beam_lean : array (made,)
        From -1, an even veil, to 1, broken cloud [1].

    Returns
    -------
    xarray.Dataset
        The glossary's sky, its ``member`` one of the made skies.
    """
    azimuth, elevation, clear, extra = clear_sky(*middles(track))
    ghi = clear_index[:, None] * clear
    height = np.sin(np.radians(np.maximum(elevation, 0.0)))
    usual = beam_and_diffuse(ghi, elevation, extra)[0] * height
    of_clear = beam_and_diffuse(clear[None], elevation, extra)[0] * height
    sunny = np.clip((clear_index - UNDER_CLOUD) / (1.0 - UNDER_CLOUD), 0.0, 1.0)[:, None]
    broken = np.minimum(np.maximum(sunny * of_clear, (1.0 + LITTLE) * usual), np.maximum(MOST_BEAM * ghi, usual))
    left = np.clip(1.0 - LITTLE - VEIL_TAKES * (1.0 - clear_index), VEIL_LEAST, 1.0 - LITTLE)[:, None]
    lean = beam_lean[:, None]
    direct = np.where(lean >= 0.0, usual + lean * (broken - usual), usual * (1.0 + lean * (1.0 - left)))
    dni, dhi = beam_of_direct(ghi, direct, elevation, extra)
    made = clear_index.size
    skies = to_dataset(
        {
            "sun_azimuth_deg": azimuth,
            "sun_elevation_deg": elevation,
            "cloud_cover": np.repeat(sky["cloud_cover"].mean("member").to_numpy()[None], made, axis=0),
            "ghi_w_m2": ghi,
            "dni_w_m2": dni,
            "dhi_w_m2": dhi,
            "air_temp_c": np.repeat(sky["air_temp_c"].mean("member").to_numpy()[None], made, axis=0),
            "rain_mm_h": np.repeat(sky["rain_mm_h"].mean("member").to_numpy()[None], made, axis=0),
            "beyond_forecast": sky["beyond_forecast"].to_numpy(),
        },
        SKY,
        coords={"member": np.arange(made), "time": track["time"]},
        door="made sky",
    )
    skies.attrs["step_s"] = track.attrs["step_s"]
    return skies
