"""Wire and controller."""

from __future__ import annotations

import numpy as np
import pytest

from planner.domain.inputs.solar import CONVERTER
from planner.physics.array.controllers import output_power_w, wire_resistance_ohm

LOAD, FLAT = np.array([1.0]), np.array([0.96])


def test_wire_counts_both_ways():
    assert wire_resistance_ohm(10.0, 4.0) == pytest.approx(2.0 * 10.0 * 0.017241 / 4.0)


def test_a_flat_efficiency_takes_its_part_up_to_the_rating():
    assert output_power_w(100.0, LOAD, FLAT, 400.0) == pytest.approx(96.0)
    assert output_power_w(900.0, LOAD, FLAT, 400.0) == 400.0


def test_the_curve_is_read_linearly_between_its_loads_and_held_at_its_ends():
    load, part = np.array([0.1, 0.3]), np.array([0.8, 0.9])
    assert output_power_w(80.0, load, part, 400.0) == pytest.approx(80.0 * 0.85)
    assert output_power_w(4.0, load, part, 400.0) == pytest.approx(4.0 * 0.8)
    assert output_power_w(320.0, load, part, 400.0) == pytest.approx(320.0 * 0.9)


def test_output_is_never_negative():
    assert output_power_w(-5.0, LOAD, FLAT, 400.0) == 0.0


def test_more_input_never_gives_less_output_by_the_default_curve():
    load, part = np.array(CONVERTER.load), 0.97 * np.array(CONVERTER.value)
    output = [output_power_w(watts, load, part, 400.0) for watts in np.linspace(0.0, 500.0, 400)]
    assert np.all(np.diff(output) >= 0.0)
