"""Sails, boom and deck gear from a few dimensions."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.deck import rig

ONE = np.ones(1)


def main(*, boom_deg: float = 0.0, hoist: float = 1.0, side: float = 1.0) -> np.ndarray:
    return rig.mainsail(
        p_m=13.0,
        e_m=5.0,
        boom_height_m=2.0,
        boom_angle_deg=boom_deg * ONE,
        hoist_fraction=hoist * ONE,
        side=side * ONE,
    )[0]


def head(*, angle_deg: float = 15.0, part: float = 1.0, side: float = 1.0) -> np.ndarray:
    return rig.headsail(
        i_m=15.0,
        j_m=4.5,
        overlap=1.2,
        tack_height_m=0.5,
        headsail_angle_deg=angle_deg * ONE,
        set_fraction=part * ONE,
        side=side * ONE,
    )[0]


def area(triangles: np.ndarray) -> float:
    a, b = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    return float(np.linalg.norm(np.cross(a, b), axis=1).sum() / 2.0)


def test_a_full_mainsail_has_the_area_of_its_triangle_and_its_roach() -> None:
    # P E / 2, and under the parabola of the roach two thirds of its height, less what four flat bands cut off it
    full = 13.0 * 5.0 * (0.5 + 2.0 / 3.0 * rig.ROACH)
    assert full * 0.98 < area(main(boom_deg=5.0)) < full * 1.01


def test_the_boom_to_port_takes_the_leech_to_port() -> None:
    assert main(boom_deg=30.0)[..., 1].max() > 2.0
    assert main(boom_deg=-30.0, side=-1.0)[..., 1].min() < -2.0


def test_the_head_swings_farther_than_the_boom_but_no_farther_than_square() -> None:
    upper = main(boom_deg=30.0)[3, 1]  # leech of the topmost band's foot
    assert np.degrees(np.arctan2(upper[1], -upper[0])) == pytest.approx(30.0 + 0.75 * rig.MAINSAIL_TWIST_DEG)
    assert main(boom_deg=88.0)[..., 0].max() <= 1e-9


def test_a_reef_lowers_the_head_and_shortens_the_foot() -> None:
    reefed = main(boom_deg=20.0, hoist=0.7)
    assert reefed[..., 2].max() == pytest.approx(2.0 + 0.7 * 13.0)
    assert reefed[..., 2].min() == pytest.approx(2.0)
    assert area(reefed) < 0.7 * area(main(boom_deg=20.0))


def test_the_headsail_keeps_its_perpendicular_as_it_swings() -> None:
    stay = np.array([-4.5, 0.0, 14.5]) / np.hypot(4.5, 14.5)
    for angle in (-70.0, 0.0, 15.0, 60.0):
        clew = head(angle_deg=angle, side=np.sign(angle))[0, 1] - [4.5, 0.0, 0.5]
        assert np.linalg.norm(clew - (clew @ stay) * stay) == pytest.approx(1.2 * 4.5)


def test_a_sheeted_headsail_has_its_clew_low_and_to_leeward() -> None:
    clew = head(angle_deg=12.0)[0, 1]
    assert 0.5 < clew[2] < 3.0
    assert clew[0] < 0.0  # a 120 % sail reaches aft of the mast
    assert clew[1] > 0.5


def test_a_part_rolled_headsail_is_the_same_triangle_smaller() -> None:
    assert area(head(part=0.6)) == pytest.approx(0.36 * area(head(part=1.0)), rel=1e-9)


def test_a_sprayhood_is_made_of_flat_pieces() -> None:
    for piece in rig.sprayhood(front_x_m=-1.6, aft_x_m=-2.8, width_m=2.4, height_m=1.25):
        edges = piece[1:] - piece[0]
        assert abs(np.linalg.det(edges)) < 1e-12
    assert rig.sprayhood(front_x_m=-1.6, aft_x_m=-2.8, width_m=2.4, height_m=1.25)[..., 2].max() == 1.25


def test_a_mirrored_trim_gives_mirrored_sails() -> None:
    flip = np.array([1.0, -1.0, 1.0])
    np.testing.assert_allclose(main(boom_deg=-25.0, side=-1.0), main(boom_deg=25.0) * flip)
    np.testing.assert_allclose(head(angle_deg=-25.0, side=-1.0), head(angle_deg=25.0) * flip)


def test_a_drum_has_the_circles_area_from_above_and_nearly_its_breadth_from_the_side() -> None:
    pieces = rig.drum(centre_m=(-7.0, 1.0, 3.0), diameter_m=0.5, height_m=0.2)
    lid = pieces[8:]
    x, y = lid[..., 0], lid[..., 1]
    areas = 0.5 * np.abs((x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1)).sum(axis=1))
    assert areas.sum() == pytest.approx(np.pi * 0.25**2, rel=1e-12)
    assert np.ptp(pieces[..., 1]) == pytest.approx(0.5, rel=0.03)
    np.testing.assert_allclose((pieces[..., 2].min(), pieces[..., 2].max()), (2.9, 3.1))
