"""The shade kernel against closed forms and against a plain ray caster."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.physics.deck.lattice import panel_axes, sample_points
from planner.physics.shade import Samples, Surfaces, Tubes, lit_fraction
from planner.physics.shade.occluders import SUN_DISC_RAD

POINTS = 480
EDGE = 1.0 / POINTS  # a straight edge across a panel of n points misplaces about one of them


def plate(
    *,
    length: float = 1.0,
    width: float = 1.0,
    tilt: float = 0.0,
    toward: float = 0.0,
    points: int = POINTS,
    strips: int = 1,
) -> tuple[Samples, np.ndarray]:
    """Return a panel about the origin whose patches are strips of its width, and its points in the boat frame."""
    chosen = sample_points(length, width, points=points // strips, places=np.array([(0, s) for s in range(strips)]))
    rows = int(chosen.row.max()) + 1
    word = np.zeros((strips, rows), dtype=np.uint64)
    np.bitwise_or.at(word, (chosen.patch, chosen.row), np.left_shift(np.uint64(1), chosen.place.astype(np.uint64)))
    axes = panel_axes(tilt, toward)
    samples = Samples(
        centre_m=np.zeros((1, 3)),
        axes=axes[None],
        half_m=np.array([[length / 2.0, width / 2.0]]),
        pitch_m=np.array([np.sqrt(length * width / chosen.row.size)]),
        to_row=chosen.to_row[None],
        rows=np.array([rows]),
        patch_first=np.array([0, strips]),
        patch_word=word,
    )
    return samples, ((chosen.along - 0.5) * (length, width)) @ axes[:2]


def surfaces(*groups: tuple[list[np.ndarray], float]) -> Surfaces:
    pieces = [np.asarray(piece, dtype=float) for group, _ in groups for piece in group]
    return Surfaces(
        corner_m=np.concatenate(pieces)[None],
        piece_first=np.concatenate([[0], np.cumsum([len(piece) for piece in pieces], dtype=np.int64)]).astype(
            np.int64
        ),
        surface_first=np.concatenate([[0], np.cumsum([len(group) for group, _ in groups])]).astype(np.int64),
        passed=np.array([[passed for _, passed in groups]], dtype=float).reshape(1, -1),
        shades=np.ones((len(groups), 1), dtype=bool),
    )


def tubes(*given_tubes: tuple[tuple[float, ...], tuple[float, ...], float]) -> Tubes:
    return Tubes(
        end_m=np.array([[[start, end] for start, end, _ in given_tubes]], dtype=float).reshape(1, -1, 2, 3),
        radius_m=np.array([[radius for _, _, radius in given_tubes]], dtype=float).reshape(1, -1),
        shades=np.ones((len(given_tubes), 1), dtype=bool),
    )


FAR_OFF = ([np.array([[99.0, 99.0, 1.0], [99.0, 98.0, 1.0], [98.0, 99.0, 1.0]])], 0.0)


def light_on(
    panel: Samples, sun: list[float], faces: Surfaces | None = None, rods: Tubes | None = None
) -> np.ndarray:
    ray = np.asarray(sun, dtype=float)
    ray = (ray / np.linalg.norm(ray))[None, None]
    lit: np.ndarray = lit_fraction(ray, faces or surfaces(FAR_OFF), rods or tubes(), panel)[0, 0]
    return lit


def wall(x: float, half: float, height: float) -> np.ndarray:
    return np.array([[x, -half, 0.0], [x, half, 0.0], [x, half, height], [x, -half, height]])


def test_an_open_panel_is_lit_and_one_turned_from_the_light_is_not() -> None:
    panel, _ = plate(tilt=40.0, toward=0.0)
    assert light_on(panel, [1.0, 0.0, 1.0]) == 1.0
    assert light_on(panel, [-1.0, 0.0, 0.5]) == 0.0


@pytest.mark.parametrize("height", [0.2, 0.55, 0.9])
def test_a_long_wall_shades_as_far_as_it_is_high(height: float) -> None:
    panel, _ = plate()
    lit = light_on(panel, [1.0, 0.0, 1.0], surfaces(([wall(0.5, 50.0, height)], 0.0)))
    assert lit == pytest.approx(1.0 - height, abs=EDGE)


def test_a_wall_within_the_panel_has_a_shadow_of_its_own_size() -> None:
    panel, _ = plate()
    # 0.3 m wide, 0.25 m high; light slants sideways too, so its shadow is a parallelogram of the same area
    lit = light_on(panel, [1.0, 0.6, 1.0], surfaces(([wall(0.2, 0.15, 0.25)], 0.0)))
    assert lit == pytest.approx(1.0 - 0.3 * 0.25, abs=2 * EDGE)


def test_a_disc_of_many_sides_shades_its_own_area() -> None:
    panel, _ = plate()
    turn = np.linspace(0.0, 2.0 * np.pi, 64, endpoint=False)
    disc = np.stack([0.35 + 0.3 * np.cos(turn), 0.3 * np.sin(turn), np.full(64, 0.7)], axis=1)
    lit = light_on(panel, [0.5, 0.0, 1.0], surfaces(([disc], 0.0)))
    # a round edge runs along every direction of the lattice in turn: a few points, not one
    assert lit == pytest.approx(1.0 - np.pi * 0.3**2, abs=5 * EDGE)


def test_a_thick_pole_over_a_plate_takes_its_breadth_times_its_shadow() -> None:
    panel, _ = plate()
    lit = light_on(panel, [1.0, 0.0, 1.0], rods=tubes(((0.0, 0.0, 0.0), (0.0, 0.0, 9.0), 0.06)))
    assert lit == pytest.approx(1.0 - 0.12 * 0.5, abs=2 * EDGE)


@pytest.mark.parametrize("height", [0.5, 5.0, 15.0])
def test_a_thin_stay_takes_the_same_light_from_any_height_and_never_all_of_it(height: float) -> None:
    panel, _ = plate(strips=6)
    stay = tubes(((-20.0, 0.0, height), (20.0, 0.0, height), 0.004))
    lit = light_on(panel, [0.3, 0.0, 1.0], rods=stay)
    assert lit.mean() == pytest.approx(1.0 - 0.008, abs=0.002)
    breadth = max(0.008, SUN_DISC_RAD * height, 1.0 / np.sqrt(POINTS))
    assert lit.min() >= 1.0 - 0.008 / breadth


def test_a_tube_that_points_at_the_light_casts_nothing() -> None:
    panel, _ = plate()
    assert light_on(panel, [0.0, 0.0, 1.0], rods=tubes(((0.0, 0.0, 0.1), (0.0, 0.0, 9.0), 0.2))) == 1.0


def test_what_lies_below_the_panels_plane_never_shades_it() -> None:
    panel, _ = plate(tilt=20.0, toward=90.0)
    normal = panel.axes[0, 2]
    sheet = np.array([[5.0, 5.0, 0.0], [-5.0, 5.0, 0.0], [-5.0, -5.0, 0.0], [5.0, -5.0, 0.0]]) @ panel.axes[0]
    assert light_on(panel, [0.2, 0.1, 1.0], surfaces(([sheet - 0.01 * normal], 0.0))) == 1.0
    assert light_on(panel, [0.2, 0.1, 1.0], surfaces(([sheet], 0.0))) == 1.0  # canvas it lies on, or its neighbour
    assert light_on(panel, [0.2, 0.1, 1.0], surfaces(([sheet + 0.01 * normal], 0.0))) == 0.0


def test_a_piece_through_the_plane_counts_for_its_upper_part() -> None:
    panel, _ = plate()
    through = wall(0.5, 50.0, 0.4) - [0.0, 0.0, 0.15]
    assert light_on(panel, [1.0, 0.0, 1.0], surfaces(([through], 0.0))) == pytest.approx(0.75, abs=EDGE)


def test_cloth_folded_on_itself_is_one_sheet_and_two_sails_are_two() -> None:
    panel, _ = plate()
    sheet = np.array([[5.0, 5.0, 1.0], [-5.0, 5.0, 1.0], [-5.0, -5.0, 1.0], [5.0, -5.0, 1.0]])
    other = sheet + np.array([0.0, 0.0, 1.0])
    assert light_on(panel, [0.0, 0.0, 1.0], surfaces(([sheet, other], 0.1))) == pytest.approx(0.1)
    assert light_on(panel, [0.0, 0.0, 1.0], surfaces(([sheet], 0.1), ([other], 0.1))) == pytest.approx(0.01)
    assert light_on(panel, [0.0, 0.0, 1.0], surfaces(([sheet], 0.1), ([other], 0.0))) == 0.0
    assert light_on(panel, [0.0, 0.0, 1.0], surfaces(([sheet], 1.0))) == 1.0


def test_each_patch_has_its_own_light() -> None:
    panel, _ = plate(strips=4)
    lit = light_on(panel, [0.0, 1.0, 1.0], surfaces(([wall(0.0, 50.0, 0.5)[:, [1, 0, 2]] + [0.0, 0.5, 0.0]], 0.0)))
    np.testing.assert_allclose(lit, [1.0, 1.0, 0.0, 0.0])  # from starboard to port; the wall stands to port


def struck(point: np.ndarray, ray: np.ndarray, triangle: np.ndarray) -> bool:
    """Whether a ray meets a triangle, by signs of volumes: nothing in common with the kernel."""
    a, b, c = triangle - point
    signs = [np.dot(ray, np.cross(a, b)), np.dot(ray, np.cross(b, c)), np.dot(ray, np.cross(c, a))]
    if not (min(signs) > 0.0 or max(signs) < 0.0):
        return False
    normal = np.cross(b - a, c - a)
    return bool(np.dot(normal, a) / np.dot(normal, ray) > 0.0)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), tilt=st.floats(0.0, 60.0), toward=st.floats(0.0, 360.0))
def test_random_triangles_shade_the_points_that_a_ray_caster_says(seed: int, tilt: float, toward: float) -> None:
    rng = np.random.default_rng(seed)
    panel, points = plate(length=1.3, width=0.6, tilt=tilt, toward=toward, points=24)
    triangles = rng.uniform([-1.5, -1.5, -0.5], [1.5, 1.5, 2.0], (6, 3))[:, None] + rng.normal(0.0, 0.5, (6, 3, 3))
    veils = rng.choice([0.0, 0.1, 0.5], 3)
    faces = surfaces(*(([triangles[2 * k], triangles[2 * k + 1]], veils[k]) for k in range(3)))
    ray = panel.axes[0, 2] + rng.normal(0.0, 0.4, 3)
    if ray @ panel.axes[0, 2] < 0.05:
        return
    light = []
    for point in points:
        behind = [any(struck(point, ray, triangles[2 * k + j]) for j in (0, 1)) for k in range(3)]
        light.append(np.prod([veil for veil, hit in zip(veils, behind, strict=True) if hit]))
    assert light_on(panel, list(ray), faces)[0] == pytest.approx(np.mean(light), abs=1e-12)
