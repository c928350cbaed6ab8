"""The sky that a panel sees."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.skyview import open_view, sea_view, seen_part, sky_directions


def test_directions_are_units_above_the_horizon_and_fill_the_half_sphere() -> None:
    direction, solid_angle = sky_directions(160)
    np.testing.assert_allclose(np.linalg.norm(direction, axis=1), 1.0)
    assert direction[:, 2].min() > 0.0
    assert solid_angle.sum() == pytest.approx(2.0 * np.pi)


def test_directions_weigh_a_level_panels_sky_as_a_half_sphere_does() -> None:
    direction, solid_angle = sky_directions(160)
    # the integral of the cosine over the half sphere is pi; 160 directions give it within half a percent
    assert direction[:, 2] @ solid_angle == pytest.approx(np.pi, rel=0.005)
    # and no side is favoured by more than 3 % of that
    np.testing.assert_allclose(direction[:, :2].T @ solid_angle, 0.0, atol=0.03 * np.pi)


@pytest.mark.parametrize("tilt_deg", [0.0, 15.0, 40.0, 90.0])
def test_sky_and_sea_fill_all_that_a_panel_sees(tilt_deg: float) -> None:
    up = np.array([[np.cos(np.radians(tilt_deg))]])
    assert open_view(up) + sea_view(up) == pytest.approx(1.0)


def test_a_panel_that_faces_no_sky_sees_none() -> None:
    direction, solid_angle = sky_directions(50)
    part = seen_part(
        direction=direction[None],
        weight=solid_angle,
        normal=np.array([[0.0, 0.0, -1.0]]),
        lit=np.ones((1, 50, 1)),
    )
    assert part == 0.0
