"""The tables of each chemistry: shapes and signs that any bank has."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.chemistry import GRID_NODES, chemistry, soc_grid, temperature_factor

CHEMISTRIES = ("flooded", "agm", "gel", "lifepo4")


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_tables_stand_on_the_grid_and_keep_their_signs(name: str):
    kind = chemistry(name)
    for table in (kind.open_circuit_v, kind.charge_efficiency, kind.charge_rise_ohm_ah):
        assert table.shape == (GRID_NODES,)
    assert np.all(np.diff(kind.open_circuit_v) >= 0.0)
    assert np.all((kind.charge_efficiency > 0.0) & (kind.charge_efficiency <= 1.0))
    assert np.all(np.diff(kind.charge_efficiency) <= 0.0)
    assert np.all(np.diff(kind.charge_rise_ohm_ah) >= 0.0)


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_set_points_stand_in_order(name: str):
    kind = chemistry(name)
    assert kind.cutoff_v < kind.open_circuit_v[0] < kind.open_circuit_v[-1] < kind.absorption_v
    assert 0.0 < kind.tail_current_c < kind.charge_limit_c


def test_the_grid_runs_from_empty_to_full_by_half_a_percent():
    assert soc_grid()[[0, 1, 100, 200]].tolist() == [0.0, 0.005, 0.5, 1.0]


def test_resistance_falls_with_warmth_to_no_less_than_half():
    assert temperature_factor(25.0, 0.02) == 1.0
    assert temperature_factor(15.0, 0.02) == pytest.approx(1.2)
    assert temperature_factor(90.0, 0.02) == 0.5


def test_an_unknown_chemistry_is_refused():
    with pytest.raises(KeyError, match="nickel"):
        chemistry("nickel")
