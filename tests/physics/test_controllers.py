"""Wire and controller."""

from __future__ import annotations

import pytest

from planner.physics.controllers import output_power_w, wire_resistance_ohm


def test_wire_counts_there_and_back():
    assert wire_resistance_ohm(5.0, 6.0) == pytest.approx(2 * 5.0 * 0.017241 / 6.0)


def test_output_is_the_efficiencys_part_up_to_the_current_limit():
    assert output_power_w(100.0, 0.97, 20.0, 14.0) == pytest.approx(97.0)
    assert output_power_w(400.0, 0.97, 20.0, 14.0) == 280.0


def test_output_is_never_negative():
    assert output_power_w(-3.0, 0.97, 20.0, 14.0) == 0.0
