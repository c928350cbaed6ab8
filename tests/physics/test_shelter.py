"""Wind in the lee of the sprayhood."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.deck.shelter import LEFT_IN_LEE, wind_left

HOOD = {"front_x_m": -1.6, "aft_x_m": -2.8, "width_m": 2.4, "height_m": 1.25}


def left(angle: float, *centre: float) -> float:
    return float(wind_left([angle], [centre], **HOOD)[0, 0])


def test_wind_from_ahead_leaves_a_panel_close_behind_the_hood_in_its_lee():
    assert left(0.0, -3.0, 0.0, 0.6) == pytest.approx(LEFT_IN_LEE, abs=0.03)


def test_the_same_panel_has_the_wind_from_astern():
    assert left(180.0, -3.0, 0.0, 0.6) == 1.0


def test_a_panel_ahead_of_the_hood_is_sheltered_from_astern_only():
    assert left(0.0, -0.9, 0.0, 0.45) == 1.0
    assert left(180.0, -0.9, 0.0, 0.45) < 0.6


@pytest.mark.parametrize(("angle", "side"), [(90.0, 1.0), (-90.0, -1.0)])
def test_wind_over_one_side_shelters_the_other(angle: float, side: float):
    # wind over the starboard side comes from minus y, so the lee lies to port
    assert left(angle, -2.2, side * 1.7, 0.5) < 0.6
    assert left(angle, -2.2, -side * 1.7, 0.5) == 1.0


def test_the_lee_ends_behind_and_above():
    assert left(0.0, -2.8 - 7.6, 0.0, 0.5) == 1.0
    assert left(0.0, -3.0, 0.0, 1.55) == 1.0
    assert 0.45 < left(0.0, -3.0, 0.0, 1.25) < 0.95


def test_the_lee_fades_evenly():
    distances = np.linspace(-2.9, -10.0, 20)
    wind = [left(0.0, x, 0.0, 0.5) for x in distances]
    assert np.allclose(np.diff(wind, 2), 0.0, atol=1e-12)
