"""Heel by point of sail, tables read by size, the poled-out headsail."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.sailing.trim import headsail_side, heel_share, read_size


def test_heel_is_whole_close_hauled_falls_steadily_and_is_gone_astern() -> None:
    share = heel_share(np.array([0.0, 35.0, 60.0, 90.0, 120.0, 150.0, 180.0]))
    assert share[:2].tolist() == [1.0, 1.0]
    assert np.all(np.diff(share[1:]) < 0.0)
    assert share[-1] == pytest.approx(0.0, abs=1e-15)


def test_heel_share_does_not_know_port_from_starboard() -> None:
    angles = np.array([20.0, 77.0, 140.0])
    np.testing.assert_array_equal(heel_share(angles), heel_share(-angles))


def test_a_table_is_read_by_the_size_of_the_angle() -> None:
    np.testing.assert_allclose(read_size([-45.0, 45.0, 200.0], (0.0, 90.0), (0.0, 10.0)), [5.0, 5.0, 10.0])


def test_the_headsail_sits_to_leeward_and_goes_to_windward_on_a_deep_run() -> None:
    side = headsail_side([1.0, -1.0, 1.0, -1.0], [60.0, -60.0, 170.0, -170.0], wing_on_wing_beyond_deg=160.0)
    assert side.tolist() == [1.0, -1.0, -1.0, 1.0]
