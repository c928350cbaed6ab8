"""Sails, boom, heel and roll from tack and wind: signs by the table in DEVELOPERS.md, sizes by the boat's tables."""

from __future__ import annotations

import numpy as np
import pytest
from sailing_case import boat

from planner.domain.inputs.sailing import Sailing
from planner.simulation.track.helm import AT_ANCHOR, HOVE_TO, UNDER_WAY
from planner.simulation.track.trim import MAINSAIL_HEEL, trim_of

SAILING = boat(
    heel_deg={"wind_kn": [0.0, 40.0], "value": [0.0, 40.0]},
    boom_angle_deg={"angle_deg": [0.0, 180.0], "value": [0.0, 90.0]},
    headsail_angle_deg={"angle_deg": [0.0, 180.0], "value": [0.0, 60.0]},
    roll_amplitude_deg={"angle_deg": [0.0, 180.0], "value": [0.0, 18.0]},
    hoist={"wind_kn": [20.0, 40.0], "value": [1.0, 0.5]},
    headsail_set={"wind_kn": [20.0, 40.0], "value": [1.0, 0.0]},
    wing_on_wing_beyond_deg=160.0,
).sailing
"""Figures that rise straight with wind and angle, to be reckoned in the head."""


def trim(*, sailing: Sailing = SAILING, **marched: float) -> dict[str, float]:
    """Return the trim of one step, starboard tack in 20 kn on the beam under sail unless said otherwise."""
    given = {
        "tack": 1.0, "under_engine": 0.0, "lying": UNDER_WAY, "true_wind_angle_deg": 90.0,
        "apparent_wind_angle_deg": 30.0, "apparent_wind_speed_kn": 20.0, **marched,
    }  # fmt: skip
    made = trim_of(sailing, {name: np.array([float(value)]) for name, value in given.items()})
    return {name: float(values[0]) for name, values in made.items()}


@pytest.mark.parametrize("tack", [1.0, -1.0], ids=["starboard", "port"])
def test_boom_and_clew_go_to_leeward_and_she_heels_to_leeward(tack: float) -> None:
    made = trim(tack=tack, true_wind_angle_deg=90.0 * tack, apparent_wind_angle_deg=30.0 * tack)
    assert made["boom_angle_deg"] == pytest.approx(15.0 * tack)  # half of 30 degrees, to port on starboard tack
    assert made["headsail_angle_deg"] == pytest.approx(10.0 * tack)
    assert made["heel_deg"] == pytest.approx(-20.0 * tack)  # close-hauled, so all of the table's heel
    assert made["roll_amplitude_deg"] == pytest.approx(9.0)


def test_on_a_deep_run_the_headsail_is_poled_out_opposite_the_boom() -> None:
    made = trim(true_wind_angle_deg=170.0, apparent_wind_angle_deg=168.0)
    assert made["boom_angle_deg"] == pytest.approx(84.0)
    assert made["headsail_angle_deg"] == pytest.approx(-56.0)
    assert abs(made["heel_deg"]) < 4.0  # the wind drives and hardly presses sideways


def test_more_wind_reefs_both_sails() -> None:
    made = trim(apparent_wind_speed_kn=30.0)
    assert (made["mainsail_hoist_fraction"], made["headsail_set_fraction"]) == pytest.approx((0.75, 0.5))


def test_under_engine_the_sails_are_down_and_she_stands_upright() -> None:
    made = trim(under_engine=1.0)
    for name in ("heel_deg", "boom_angle_deg", "headsail_angle_deg", "mainsail_hoist_fraction"):
        assert made[name] == 0.0, name
    assert made["headsail_set_fraction"] == 0.0


def test_a_mainsail_left_up_under_engine_is_sheeted_amidships_and_heels_her_half_as_much() -> None:
    amid = SAILING.model_copy(update={"motorsailing": "mainsail_amid"})
    made = trim(sailing=amid, under_engine=1.0)
    assert (made["mainsail_hoist_fraction"], made["headsail_set_fraction"], made["boom_angle_deg"]) == (1.0, 0.0, 0.0)
    assert made["heel_deg"] == pytest.approx(MAINSAIL_HEEL * trim()["heel_deg"])


def test_at_anchor_sails_are_down_the_boom_is_stowed_and_she_rolls_as_in_an_anchorage() -> None:
    stowed = SAILING.anchored.model_copy(update={"boom_angle_deg": 20.0, "roll_amplitude_deg": 3.0})
    made = trim(sailing=SAILING.model_copy(update={"anchored": stowed}), lying=AT_ANCHOR)
    assert (made["boom_angle_deg"], made["roll_amplitude_deg"], made["heel_deg"]) == (20.0, 3.0, 0.0)
    assert made["mainsail_hoist_fraction"] == made["headsail_set_fraction"] == 0.0


def test_hove_to_the_headsail_is_aback() -> None:
    made = trim(lying=HOVE_TO)
    assert made["headsail_angle_deg"] == pytest.approx(-10.0)  # clew to windward
    assert made["boom_angle_deg"] == pytest.approx(15.0)
