"""Cell temperature by mounting."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.array.cells import MOUNTINGS, cell_temperature_c


def temperature(mounting: str, poa: float = 900.0, air: float = 25.0, wind: float = 4.0) -> float:
    heat, wind_per_s_m, step = MOUNTINGS[mounting]
    return float(cell_temperature_c(poa, air, wind, heat=heat, wind_per_s_m=wind_per_s_m, cell_over_back_c=step))


@pytest.mark.parametrize("mounting", MOUNTINGS)
def test_unlit_cells_are_as_warm_as_the_air(mounting: str):
    assert temperature(mounting, poa=0.0) == 25.0


@pytest.mark.parametrize("mounting", MOUNTINGS)
def test_wind_cools(mounting: str):
    assert temperature(mounting, wind=10.0) < temperature(mounting, wind=2.0)


def test_less_air_behind_is_hotter():
    order = [temperature(mounting) for mounting in ("open", "ventilated", "on_canvas", "on_deck")]
    assert order == sorted(order)
    assert order[2] - order[0] > 15.0


def test_arrays_broadcast():
    heat, wind_per_s_m, step = np.array([MOUNTINGS["open"], MOUNTINGS["on_deck"]]).T
    cells = cell_temperature_c(
        np.full((3, 4, 2), 500.0),
        np.full((3, 4, 1), 20.0),
        np.full((4, 1), 5.0),
        heat=heat,
        wind_per_s_m=wind_per_s_m,
        cell_over_back_c=step,
    )
    assert cells.shape == (3, 4, 2)
    assert np.all(cells[..., 0] < cells[..., 1])
