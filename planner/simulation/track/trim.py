"""How the boat is trimmed along a track: sails and reefs, boom, headsail, heel and roll."""

from __future__ import annotations

from typing import Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.sailing import Sailing
from planner.physics.sailing.trim import headsail_side, heel_share, read_size
from planner.simulation.track.helm import AT_ANCHOR, HOVE_TO, UNDER_WAY

LEVEL_PITCH_DEG: Final = 0.0  # degree: the boat is taken to float on her lines
MAINSAIL_HEEL: Final = 0.5  # 1, of the heel under both sails: half of the cloth (common practice)


def trim_of(sailing: Sailing, marched: dict[str, Floats]) -> dict[str, Floats]:
    """Return sails, boom, heel and roll.

    Under engine the sails are down, or the mainsail stands with its boom amidships; at anchor they are down and the
    boom is stowed; hove-to the headsail is aback.

    Parameters
    ----------
    sailing : Sailing
        From the boat file.
    marched : dict of str to array (time,)
        With the glossary's ``tack``, ``under_engine``, true and apparent wind angle and apparent wind speed;
        ``lying`` where she may lie at anchor or hove-to.

    Returns
    -------
    dict of str to array (time,)
        By the glossary's names.
    """
    tack, motoring = marched["tack"], marched["under_engine"]
    lying = marched.get("lying", np.full(tack.size, UNDER_WAY))
    anchored = lying == AT_ANCHOR
    sails = np.where(anchored, 0.0, 1.0 - motoring)
    mainsail = sails + (motoring if sailing.motorsailing == "mainsail_amid" else 0.0)
    true, felt = marched["true_wind_angle_deg"], marched["apparent_wind_angle_deg"]
    wind = marched["apparent_wind_speed_kn"]
    roll, heel = sailing.roll_amplitude_deg, sailing.heel_deg
    boom, clew = sailing.boom_angle_deg, sailing.headsail_angle_deg
    side = headsail_side(tack, true, wing_on_wing_beyond_deg=sailing.wing_on_wing_beyond_deg)
    aback = np.where(lying == HOVE_TO, -1.0, 1.0)
    pressed = sails + MAINSAIL_HEEL * (mainsail - sails)
    return {
        "heel_deg": -tack * pressed * read_size(wind, heel.wind_kn, heel.value) * heel_share(felt),
        "pitch_deg": np.full(tack.size, LEVEL_PITCH_DEG),
        "roll_amplitude_deg": np.where(
            anchored, sailing.anchored.roll_amplitude_deg, read_size(true, roll.angle_deg, roll.value)
        ),
        "boom_angle_deg": np.where(
            anchored, sailing.anchored.boom_angle_deg, tack * sails * read_size(felt, boom.angle_deg, boom.value)
        ),
        "mainsail_hoist_fraction": mainsail * read_size(wind, sailing.hoist.wind_kn, sailing.hoist.value),
        "headsail_set_fraction": sails * read_size(wind, sailing.headsail_set.wind_kn, sailing.headsail_set.value),
        "headsail_angle_deg": aback * side * sails * read_size(felt, clew.angle_deg, clew.value),
    }
