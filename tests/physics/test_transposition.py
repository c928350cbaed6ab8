"""Light on a panel from the sky's figures."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.transposition import beam_modifier, diffuse_modifiers, split_sky


def test_nothing_with_the_sun_on_or_under_the_horizon():
    beam, isotropic = split_sky(
        np.array([50.0, 50.0]), np.array([10.0, 10.0]), np.array([0.0, -3.0]), np.array([1400.0, 1400.0])
    )
    assert np.all(beam == 0.0)
    assert np.all(isotropic == 0.0)


def test_light_on_open_horizontal_is_kept_whole():
    dni, dhi, elevation = np.array([700.0]), np.array([120.0]), np.array([40.0])
    beam, isotropic = split_sky(dni, dhi, elevation, np.array([1361.0]))
    horizontal = beam * np.sin(np.radians(elevation)) + isotropic
    assert horizontal == pytest.approx(dni * np.sin(np.radians(elevation)) + dhi, rel=1e-12)


def test_overcast_has_no_circumsolar_light():
    beam, isotropic = split_sky(np.array([0.0]), np.array([200.0]), np.array([30.0]), np.array([1361.0]))
    assert beam == 0.0
    assert isotropic == 200.0


def test_glass_passes_all_at_normal_incidence_and_nothing_edge_on_or_behind():
    passed = beam_modifier(np.array([1.0, 0.0, -0.5]))
    assert passed == pytest.approx([1.0, 0.0, 0.0])


def test_glass_passes_less_the_flatter_the_beam():
    assert np.all(np.diff(beam_modifier(np.linspace(0.0, 1.0, 50))) > 0.0)


def test_diffuse_glass_losses_of_a_level_panel_are_those_of_a_beam_at_sixty_degrees():
    sky, _ = diffuse_modifiers(0.0)
    assert sky == pytest.approx(beam_modifier(np.cos(np.radians(59.7))))


def test_a_panel_that_looks_down_is_read_as_upright():
    assert np.allclose(diffuse_modifiers(0.9), diffuse_modifiers(0.5), rtol=1e-12)
