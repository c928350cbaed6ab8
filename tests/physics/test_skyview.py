"""The sky that a panel sees."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.deck.skyview import (
    CLEAR_GRADATION,
    gradation,
    open_overcast_view,
    open_view,
    overcast_radiance,
    sea_view,
    seen_part,
    sky_directions,
)


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
        patches=np.array([1]),
    )
    assert part == 0.0


def test_each_patch_sees_what_its_panel_faces_of_its_own_light() -> None:
    direction, solid_angle = sky_directions(300)
    normal = np.array([[0.0, 0.0, 1.0], [0.6, 0.0, 0.8]])
    ahead = (direction[:, 0] > 0.0).astype(float)
    lit = np.stack([np.ones(300), ahead, np.ones(300), ahead, 1.0 - ahead], axis=-1)[None]
    part = seen_part(direction=direction[None], weight=solid_angle, normal=normal, lit=lit, patches=np.array([2, 3]))[
        0
    ]
    # 300 directions halve the sky to about a percent
    np.testing.assert_allclose(part[:3], [1.0, 0.5, 1.0], atol=0.01)
    assert part[3] + part[4] == pytest.approx(1.0)
    assert part[3] > 0.7  # the panel looks ahead


def test_an_overcast_skys_radiance_gives_level_ground_what_an_even_sky_gives() -> None:
    direction, solid_angle = sky_directions(4000)
    up = direction[:, 2]
    assert (overcast_radiance(up) * up) @ solid_angle == pytest.approx(up @ solid_angle, rel=1e-3)
    assert overcast_radiance(np.array([1.0, 0.0])) @ [1.0, -3.0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("tilt_deg", [0.0, 20.0, 60.0, 90.0, 130.0, 180.0])
def test_open_overcast_view_is_the_integral_of_its_radiance(tilt_deg: float) -> None:
    direction, solid_angle = sky_directions(20000)
    tilt = np.radians(tilt_deg)
    facing = np.maximum(direction @ [np.sin(tilt), 0.0, np.cos(tilt)], 0.0)
    integral = (overcast_radiance(direction[:, 2]) * facing) @ solid_angle / np.pi
    # 20,000 directions resolve the half sphere to about 0.1 %
    assert open_overcast_view(np.array(np.cos(tilt))) == pytest.approx(integral, abs=1e-3)


def test_gradation_goes_from_overcast_to_clear_with_the_beam() -> None:
    dni = np.array([0.0, 50.0, 200.0, 400.0, 800.0])
    dhi = np.array([150.0, 200.0, 200.0, 150.0, 90.0])
    graded = gradation(dni, dhi, np.full(5, 40.0))
    assert graded[0] == 1.0
    assert np.all(np.diff(graded) < 0.0)
    assert graded[-1] == pytest.approx(CLEAR_GRADATION)
    assert gradation(np.array(0.0), np.array(0.0), np.array(-10.0)) == 1.0
