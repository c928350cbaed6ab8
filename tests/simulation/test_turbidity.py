"""The monthly turbidity: read for the cell that holds a place, alone or with others, also across the antimeridian."""

from __future__ import annotations

import numpy as np
import pytest

from planner.simulation.sky.turbidity import CELLS_PER_DEGREE, monthly_turbidity


def test_twelve_plausible_months_a_place() -> None:
    months = monthly_turbidity(np.array([-35.0, 0.0, 60.0]), np.array([174.0, -30.0, 5.0]))
    assert months.shape == (3, 12)
    assert ((months > 1.0) & (months < 8.0)).all()  # clean cold air about 2, humid warm air 4 to 6 (common practice)


def test_places_read_together_are_those_read_alone() -> None:
    lat, lon = np.array([-35.0, -30.0, -21.0, -25.0]), np.array([174.1, 179.98, -175.2, -179.98])
    together = monthly_turbidity(lat, lon)
    alone = np.concatenate([monthly_turbidity(lat[k : k + 1], lon[k : k + 1]) for k in range(4)])
    assert together == pytest.approx(alone)


def test_a_cell_is_five_minutes_wide_and_holds_one_figure() -> None:
    assert CELLS_PER_DEGREE == 60 / 5
    inside = monthly_turbidity(np.array([-29.99, -29.96, -29.93]), np.full(3, 10.04))  # a cell begins at 30 S
    assert inside[1] == pytest.approx(inside[0])
    assert inside[2] == pytest.approx(inside[0])


@pytest.mark.parametrize(("lat", "lon"), [(90.0, 0.0), (-90.0, 0.0), (0.0, -180.0), (0.0, 179.9999)])
def test_the_tables_edges_are_held(lat: float, lon: float) -> None:
    assert np.isfinite(monthly_turbidity(np.array([lat]), np.array([lon]))).all()
