"""The wind off a grid, the apparent wind against vectors drawn on the earth, and the held tack."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from planner.physics.sailing.wind import WindGrid, apparent_wind, held_tack, read_wind, wind_from

AXES = (np.array([0.0, 6.0]), np.array([-40.0, -30.0]), np.array([170.0, 190.0]))


def linear_grid() -> WindGrid:
    hours, lat, lon = np.meshgrid(*AXES, indexing="ij")
    return WindGrid(*AXES, 0.5 * hours + 0.1 * lat + 0.2 * lon, 1.0 * hours - 0.3 * lat - 0.1 * lon)


def test_a_linear_field_is_read_exactly_across_the_antimeridian() -> None:
    east, north = read_wind(linear_grid(), 4.0, -33.0, -175.0)
    assert east == pytest.approx(0.5 * 4.0 + 0.1 * -33.0 + 0.2 * 185.0)
    assert north == pytest.approx(4.0 + 0.3 * 33.0 - 0.1 * 185.0)


def test_beyond_the_grid_the_edge_is_held() -> None:
    grid = linear_grid()
    assert read_wind(grid, 99.0, -33.0, 175.0) == read_wind(grid, 6.0, -33.0, 175.0)
    assert read_wind(grid, 1.0, 0.0, 160.0) == read_wind(grid, 1.0, -30.0, 170.0)
    assert read_wind(grid, 1.0, -35.0, -165.0) == read_wind(grid, 1.0, -35.0, 190.0)


def test_a_grid_of_one_node_is_the_same_everywhere() -> None:
    one = np.array([0.0])
    grid = WindGrid(one, one, one, np.full((1, 1, 1), 3.0), np.full((1, 1, 1), -4.0))
    assert read_wind(grid, 5.0, 50.0, 120.0) == (3.0, -4.0)


@pytest.mark.parametrize(
    ("east", "north", "expected"), [(0, -5, 0.0), (-5, 0, 90.0), (0, 5, 180.0), (5, 0, 270.0), (-3, -3, 45.0)]
)
def test_the_wind_is_named_by_where_it_comes_from(east: float, north: float, expected: float) -> None:
    speed, direction = wind_from(float(east), float(north))
    assert direction == pytest.approx(expected)
    assert speed == pytest.approx(math.hypot(east, north))


@pytest.mark.parametrize("wind_angle", [-170.0, -120.0, -90.0, -45.0, -10.0, 0.0, 10.0, 45.0, 90.0, 120.0, 170.0])
@pytest.mark.parametrize("heading", [20.0, 110.0, 200.0, 290.0])
@pytest.mark.parametrize("leeway", [-5.0, 0.0, 5.0])
def test_the_apparent_wind_is_the_difference_of_velocities_over_the_sea(
    wind_angle: float, heading: float, leeway: float
) -> None:
    # Drawn on the sea as complex numbers, real east and imaginary north: where things go, not where they come from.
    def toward(bearing: float, speed: float) -> complex:
        return cmath.rect(speed, math.radians(90.0 - bearing))

    air = toward(heading + wind_angle + 180.0, 14.0)
    boat = toward(heading + leeway, 6.5)
    felt = air - boat
    comes_from = 90.0 - math.degrees(cmath.phase(-felt))
    speed, angle = apparent_wind(14.0, wind_angle, 6.5, leeway)
    assert speed == pytest.approx(abs(felt), abs=1e-12)
    assert (angle - (comes_from - heading) + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-10)


def test_apparent_wind_takes_arrays() -> None:
    angles = np.array([-60.0, 60.0, 170.0])
    speed, angle = apparent_wind(12.0, angles, 6.0, 0.0)
    assert speed.shape == angle.shape == (3,)
    assert angle[0] == -angle[1]
    assert abs(angle[2]) < 170.0


@pytest.mark.parametrize(
    ("tack", "angle", "expected"),
    [
        (0.0, 40.0, 1.0),
        (0.0, -40.0, -1.0),
        (1.0, -90.0, -1.0),
        (1.0, -176.0, 1.0),
        (1.0, -174.0, -1.0),
        (-1.0, 176.0, -1.0),
        (-1.0, 174.0, 1.0),
        (1.0, -4.0, 1.0),
        (-1.0, -177.0, -1.0),
    ],
)
def test_the_tack_is_held_until_the_wind_is_well_across(tack: float, angle: float, expected: float) -> None:
    assert held_tack(tack, angle, 5.0) == expected
