"""Beam and diffuse: closure, night, the horizon, and the order of clear and cloudy."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sky.decomposition import beam_and_diffuse

EXTRA = 1361.0


def parts(ghi: float, elevation: float) -> tuple[float, float]:
    dni, dhi = beam_and_diffuse(np.array([ghi]), np.array([elevation]), np.array([EXTRA]))
    return float(dni[0]), float(dhi[0])


def test_beam_and_diffuse_close_on_global() -> None:
    elevation = np.array([0.5, 3.0, 10.0, 45.0, 90.0])
    ghi = np.array([[2.0, 30.0, 90.0, 700.0, 1050.0], [1.0, 10.0, 40.0, 100.0, 0.0]])
    dni, dhi = beam_and_diffuse(ghi, elevation, np.full(5, EXTRA))
    assert np.allclose(dni * np.sin(np.radians(elevation)) + dhi, ghi, rtol=1e-12, atol=1e-12)
    assert np.all(dni >= 0.0)
    assert np.all(dhi >= 0.0)


def test_night_gives_nothing() -> None:
    assert parts(0.0, -3.0) == (0.0, 0.0)
    assert parts(0.0, 0.0) == (0.0, 0.0)


def test_overcast_is_nearly_all_diffuse_and_clear_mostly_beam() -> None:
    dni, dhi = parts(60.0, 45.0)
    assert dhi > 0.99 * 60.0
    assert dni < 1.0
    dni, dhi = parts(750.0, 45.0)
    assert dhi < 0.25 * 750.0
    assert 700.0 < dni < EXTRA


def test_beam_dies_away_at_the_horizon_without_a_step() -> None:
    elevation = np.linspace(1e-4, 8.0, 400)
    ghi = 0.55 * EXTRA * np.sin(np.radians(elevation))  # a constant clearness
    dni, _ = beam_and_diffuse(ghi, elevation, np.full(400, EXTRA))
    assert dni[0] < 0.1
    assert np.max(np.abs(np.diff(dni))) < 10.0
    assert np.all(dni < EXTRA)


def test_diffuse_fraction_has_no_jump_in_clearness() -> None:
    ghi = np.linspace(1.0, 1100.0, 2000)
    _, dhi = beam_and_diffuse(ghi, np.full(2000, 60.0), np.full(2000, EXTRA))
    assert np.max(np.abs(np.diff(dhi / ghi))) < 0.005


def test_members_are_independent() -> None:
    ghi = np.array([[200.0], [700.0]])
    dni, _ = beam_and_diffuse(ghi, np.array([50.0]), np.array([EXTRA]))
    assert dni[:, 0].tolist() == pytest.approx([parts(200.0, 50.0)[0], parts(700.0, 50.0)[0]])
