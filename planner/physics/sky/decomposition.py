"""Global horizontal irradiance parted into beam and diffuse."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

LEAST_COS_ZENITH = 0.065  # 1, floor under the clearness index's denominator (Driesse et al. 2024; sun 3.7 degrees up)


def beam_and_diffuse(
    ghi_w_m2: Floats, elevation_deg: npt.ArrayLike, extraterrestrial_w_m2: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Return direct normal and diffuse horizontal irradiance; both exactly 0 with the sun down.

    The diffuse fraction is that of Erbs, reworked by Driesse to be smooth in the clearness index. As the sun nears
    the horizon the floor under the clearness index lets all light become diffuse, so the beam ends without a step.

    Parameters
    ----------
    ghi_w_m2 : array (..., n)
        Global horizontal irradiance [W/m2].
    elevation_deg : array_like (n,)
        Apparent elevation of the sun [degree].
    extraterrestrial_w_m2 : array_like (n,)
        Normal to the sun above the air [W/m2].

    Returns
    -------
    dni_w_m2, dhi_w_m2 : array (..., n)
        With dni * sin(elevation) + dhi = ghi [W/m2].

    References
    ----------
    Driesse, Jensen and Perez (2024), A continuous form of the Perez diffuse sky model for forward and reverse
    transposition, Solar Energy 267, 112093, doi:10.1016/j.solener.2023.112093, after Erbs, Klein and Duffie (1982).
    """
    from pvlib.irradiance import erbs_driesse

    shape = np.shape(ghi_w_m2)
    elevation, extra = (np.asarray(x, dtype=np.float64) for x in (elevation_deg, extraterrestrial_w_m2))
    dni, dhi = np.zeros(shape), np.zeros(shape)
    up = elevation > 0.0
    if not up.any():
        return dni, dhi
    parts = erbs_driesse(
        ghi_w_m2[..., up],
        90.0 - elevation[up],
        dni_extra=extra[up],
        min_cos_zenith=LEAST_COS_ZENITH,
        max_zenith=90.0,
    )
    dni[..., up], dhi[..., up] = parts["dni"], parts["dhi"]
    return dni, dhi


def beam_of_direct(
    ghi_w_m2: Floats, direct_w_m2: Floats, elevation_deg: Floats, extraterrestrial_w_m2: Floats
) -> tuple[Floats, Floats]:
    """Return direct normal and diffuse horizontal irradiance where the direct part is known; 0 with the sun down.

    Parameters
    ----------
    ghi_w_m2, direct_w_m2 : array (..., n)
        Global, and the part straight from the sun, on the level [W/m2].
    elevation_deg : array (n,)
        Apparent elevation of the sun [degree].
    extraterrestrial_w_m2 : array (n,)
        Normal to the sun above the air; the beam stays below [W/m2].

    Returns
    -------
    dni_w_m2, dhi_w_m2 : array (..., n)
        With dni * sin(elevation) + dhi = ghi [W/m2].
    """
    height = np.sin(np.radians(np.maximum(elevation_deg, 0.0)))
    up = height > 0.0
    level = np.clip(direct_w_m2, 0.0, ghi_w_m2)
    dni = np.where(up, np.minimum(level / np.maximum(height, LEAST_COS_ZENITH), extraterrestrial_w_m2), 0.0)
    return dni, np.where(up, ghi_w_m2 - dni * height, 0.0)
