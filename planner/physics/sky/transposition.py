"""Sky to panel: light from the sun's quarter, from the rest of the sky and off the sea, and what glass turns away."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

SEA_ALBEDO: Final = (
    0.06  # 1, open sea under sun and cloud, Payne 1972, doi:10.1175/1520-0469(1972)029<0959:AOTSS>2.0.CO;2
)
LEAST_SIN_ELEVATION: Final = 0.01745  # 1, sine of one degree: Hay-Davies divides by no less, as pvlib does


def split_sky(
    dni_w_m2: Floats, dhi_w_m2: Floats, sun_elevation_deg: Floats, extraterrestrial: Floats
) -> tuple[Floats, Floats]:
    """Return the light that comes from the sun's direction and the light that comes from all of the sky.

    Hay and Davies (1980): the part DNI / extraterrestrial of the diffuse light is circumsolar. It is cast and shaded
    with the beam, so it is given here as an addition to DNI.

    Parameters
    ----------
    dni_w_m2, dhi_w_m2 : array (...)
        Direct normal and diffuse horizontal irradiance [W/m2].
    sun_elevation_deg : array (...)
        Above the horizon [degree].
    extraterrestrial : array (...)
        Normal irradiance above the atmosphere [W/m2].

    Returns
    -------
    beam, isotropic : array (...)
        Normal to the sun, and on open horizontal [W/m2]; both zero with the sun on or under the horizon.
    """
    up = sun_elevation_deg > 0.0
    anisotropy = np.clip(dni_w_m2 / extraterrestrial, 0.0, 1.0)
    sin_elevation = np.maximum(np.sin(np.radians(sun_elevation_deg)), LEAST_SIN_ELEVATION)
    beam = dni_w_m2 + dhi_w_m2 * anisotropy / sin_elevation
    return np.where(up, beam, 0.0), np.where(up, dhi_w_m2 * (1.0 - anisotropy), 0.0)


def beam_modifier(cos_incidence: npt.ArrayLike) -> Floats:
    """Return the part of the beam that the cover glass lets through, over that at normal incidence.

    Refraction and absorption of one pane: De Soto et al. 2006, doi:10.1016/j.solener.2005.06.010, with its glass
    (index 1.526, glazing 4 1/m, 2 mm), by pvlib.

    Parameters
    ----------
    cos_incidence : array_like (...)
        Cosine of the angle between sun and panel normal [1]; zero and less give zero.

    Returns
    -------
    array (...)
        [0..1].
    """
    from pvlib.iam import physical

    cosine = np.clip(np.asarray(cos_incidence, dtype=np.float64), 0.0, 1.0)
    passed = physical(np.degrees(np.arccos(cosine)), n=1.526, K=4.0, L=0.002)
    return np.where(cosine > 0.0, passed, 0.0)


def diffuse_modifiers(sea_view: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return the parts of sky light and of sea light that the cover glass lets through.

    The beam's relation at the effective angles of Brandemuehl and Beckman 1980, doi:10.1016/0038-092X(80)90453-7.

    Parameters
    ----------
    sea_view : array_like (...)
        View of the sea, (1 - cosine of tilt) / 2 [0..1].

    Returns
    -------
    sky, sea : array (...)
        [0..1].
    """
    tilt = np.degrees(np.arccos(np.clip(1.0 - 2.0 * np.asarray(sea_view, dtype=np.float64), -1.0, 1.0)))
    # The fits were made for 0 to 90 degrees; a panel that looks down is read at 90.
    tilt = np.minimum(tilt, 90.0)
    sky_angle = 59.7 - 0.1388 * tilt + 0.001497 * tilt**2
    sea_angle = 90.0 - 0.5788 * tilt + 0.002693 * tilt**2
    return beam_modifier(np.cos(np.radians(sky_angle))), beam_modifier(np.cos(np.radians(sea_angle)))
