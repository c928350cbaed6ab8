"""The sky that controllers share, where the answer is known: power as the product of index, lean and panel."""

from __future__ import annotations

import numpy as np
import pytest

from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.shared_sky import IN_SHADE, LOW_SUN, STEP, TAILS, USUAL_LEAN, shared_sky
from planner.studies.reconcile.sky.sky_states import States

STEPS = 6
WATTS = np.array([200.0, 120.0, 80.0])
BY_LEAN = np.array([0.0, 0.2, -0.1])  # by how much each controller's logarithm of power rises with the beam
INDEX = np.array([0.3, 0.5, 0.6, 0.8, 0.9, 1.0])


def states() -> States:
    """Controllers whose power is proportional to the clear-sky index and exponential in the lean."""
    index, lean = np.array([0.05, 0.2, 0.6, 1.25]), np.array([-1.0, 0.0, 1.0])
    log_w = np.log(index)[:, None, None, None] + lean[None, :, None, None] * BY_LEAN + np.log(WATTS)
    return States(index, lean, np.broadcast_to(log_w, (4, 3, STEPS, 3)).copy())


def judged(factor: tuple[float, ...] = (1.0, 1.0, 1.0), *, usable: np.ndarray | None = None) -> Judged:
    """Readings under the usual lean, each controller at its part of what it should give."""
    log_w = np.log(INDEX)[:, None] + USUAL_LEAN[0] * BY_LEAN + np.log(WATTS) + np.log(factor)
    no, yes = np.zeros((STEPS, 3), dtype=bool), np.ones((STEPS, 3), dtype=bool)
    return Judged(
        log_w=log_w,
        rounding=np.full((STEPS, 3), 0.001**2),
        usable=yes if usable is None else usable,
        fair=yes,
        full=no,
        clipped=no,
        shaded=no,
        lit=np.ones((STEPS, 3)),
        elevation_deg=np.full(STEPS, 40.0),
        toward=np.tile([0.0, 0.77, 0.64], (STEPS, 1)),
        step_h=1.0 / 6.0,
        bank_read=True,
    )


def found(readings: Judged, *, forecast: np.ndarray | None = None):
    prior = np.log(INDEX) if forecast is None else forecast
    return shared_sky(states(), readings, own=np.zeros((STEPS, 3)), prior=prior)


def test_between_the_lattices_knots_power_is_read_linearly_in_logarithms():
    log_w, by_index, by_lean = states().at(np.full(STEPS, np.log(0.35)), np.full(STEPS, 0.4))
    assert log_w[0] == pytest.approx(np.log(0.35) + 0.4 * BY_LEAN + np.log(WATTS))
    assert by_index[0] == pytest.approx(np.ones(3))
    assert by_lean[0] == pytest.approx(BY_LEAN)


def test_sound_controllers_tell_the_sky_that_was_and_lie_on_it():
    sky = found(judged())
    assert np.exp(sky.log_index) == pytest.approx(INDEX, rel=1e-3)
    assert sky.lean == pytest.approx(np.full(STEPS, USUAL_LEAN[0]), abs=1e-2)
    assert np.abs(sky.apart).max() < 2e-3


def test_the_forecast_gives_way_to_the_panels():
    """Of 80 % doubt about the forecast and 3 % about three panels, a forecast of half the light leaves under 1 %."""
    sky = found(judged(), forecast=np.log(0.5 * INDEX))
    assert np.exp(sky.log_index) == pytest.approx(INDEX, rel=0.01)


def test_a_standing_factor_is_taken_out_of_the_sky_and_left_in_the_controller():
    factor = np.log([1.0, 0.5, 1.0]) * np.ones((STEPS, 3))
    sky = shared_sky(states(), judged((1.0, 0.5, 1.0)), own=factor, prior=np.log(INDEX))
    assert np.exp(sky.log_index) == pytest.approx(INDEX, rel=1e-3)
    assert sky.apart[:, 1] == pytest.approx(np.full(STEPS, np.log(0.5)), abs=5e-3)


def test_what_is_not_usable_tells_of_nothing():
    usable = np.ones((STEPS, 3), dtype=bool)
    usable[2] = False
    usable[3, 1] = False
    sky = found(judged((1.0, 0.2, 1.0), usable=usable), forecast=np.full(STEPS, np.log(0.7)))
    assert sky.controllers_used.tolist() == [3, 3, 0, 2, 3, 3]
    assert np.isnan(sky.apart[2]).all()
    assert np.isnan(sky.apart[3]).tolist() == [False, True, False]
    assert np.exp(sky.log_index[2]) == pytest.approx(0.7)  # nothing but the forecast is left
    assert np.exp(sky.log_index[3]) == pytest.approx(INDEX[3], rel=0.01)


def test_a_step_that_lies_off_has_more_doubt_than_display_model_shade_and_low_sun_give_it():
    readings = judged()
    readings.lit[:, 2] = 0.5
    sky = found(readings)
    steady = STEP**2 + (LOW_SUN / np.sin(np.radians(40.0))) ** 2 + 0.001**2
    usual = np.array([steady, steady, steady + (0.5 * IN_SHADE) ** 2]) * TAILS / (TAILS + 1.0)
    assert sky.variance[0] == pytest.approx(usual, rel=0.05)
    readings.log_w[0, 1] += 0.5
    assert found(readings).variance[0, 1] > 10.0 * usual[1]
