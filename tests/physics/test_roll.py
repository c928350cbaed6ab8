"""Heel angles that stand for a roll."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.deck.roll import roll_nodes


@pytest.mark.parametrize("nodes", [1, 2, 5, 8])
def test_nodes_average_as_the_roll_does_up_to_their_order(nodes: int) -> None:
    heel, weight = roll_nodes(np.array([-12.0]), np.array([7.0]), nodes=nodes)
    swing = -12.0 + 7.0 * np.sin(np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False))
    for power in range(2 * nodes):  # Gaussian quadrature of n nodes is exact below degree 2n
        assert heel[0] ** power @ weight == pytest.approx(np.mean(swing**power), rel=1e-9)


def test_a_steady_boat_has_its_mean_heel_at_every_node() -> None:
    heel, weight = roll_nodes(np.array([5.0, -20.0]), np.zeros(2), nodes=4)
    np.testing.assert_allclose(heel, [[5.0] * 4, [-20.0] * 4])
    assert weight.sum() == pytest.approx(1.0)
