"""Strings of substrings, alone and in parallel."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.strings import (
    BYPASS_V,
    COLUMNS,
    TAKEOVER,
    complete_row,
    parallel_peak,
    parallel_upper_peak,
    string_peak,
    string_upper_peak,
    string_voltage_v,
)


def rows(*suns: float) -> np.ndarray:
    """Return rows of one 18-cell substring each, at these parts of full light."""
    levels = np.zeros((len(suns), COLUMNS))
    for row, sun in enumerate(sorted(suns)):
        levels[row, :6] = (5.76 * sun, 1e-9, 0.49, 0.08, sun / 50.0, 1.0)
        complete_row(levels, row)
    return levels


def counted(sun: float, count: int) -> np.ndarray:
    levels = rows(sun)
    levels[0, 5] = count
    return levels


def grid_peak(levels: np.ndarray, wire_ohm: float, least_v: float) -> float:
    """Return the highest power on a fine grid of currents: never more than the true one."""
    amps = np.linspace(0.0, levels[:, TAKEOVER].max(), 2001)
    volts = np.array([string_voltage_v(a, levels) for a in amps]) - amps * wire_ohm
    return float(np.where(volts >= least_v, amps * volts, 0.0).max())


def test_equal_substrings_are_one_row_as_well_as_many():
    many, one = string_peak(rows(0.7, 0.7, 0.7), 0.03, 0.0), string_peak(counted(0.7, 3), 0.03, 0.0)
    assert many == pytest.approx(one, rel=1e-10)


def test_power_is_that_of_the_current_found():
    levels = rows(0.2, 0.6, 0.6, 1.0)
    power, amps = string_peak(levels, 0.05, 0.0)
    assert power == pytest.approx(amps * (string_voltage_v(amps, levels) - 0.05 * amps), rel=1e-10)


@pytest.mark.parametrize("least_v", [0.0, 12.0, 15.4, 25.0])
@pytest.mark.parametrize("seed", range(12))
def test_no_current_gives_more(seed: int, least_v: float):
    rng = np.random.default_rng(seed)
    levels = rows(*rng.uniform(0.02, 1.0, rng.integers(2, 7)))
    power, _ = string_peak(levels, 0.05, least_v)
    best = grid_peak(levels, 0.05, least_v)
    assert best <= power * (1.0 + 1e-9)
    assert power <= best * 1.003 + 1e-3  # the grid is 1/2000 of the current range


def test_a_dark_substring_is_bypassed_and_costs_its_diode():
    lit, power_of_lit = string_peak(counted(1.0, 3), 0.0, 0.0)[1], string_peak(counted(1.0, 3), 0.0, 0.0)[0]
    power, _ = string_peak(rows(1e-6, 1.0, 1.0, 1.0), 0.0, 0.0)
    assert power_of_lit - power == pytest.approx(BYPASS_V * lit, rel=0.02)


def test_the_bank_holds_the_voltage_of_a_hot_string():
    free_power, free_amps = string_peak(counted(1.0, 2), 0.0, 0.0)
    held_power, held_amps = string_peak(counted(1.0, 2), 0.0, 20.0)
    assert free_power / free_amps < 20.0
    assert held_power / held_amps == pytest.approx(20.0, rel=1e-9)
    assert held_power < free_power


def test_a_string_that_never_reaches_the_bank_gives_nothing():
    assert string_peak(counted(1.0, 2), 0.0, 30.0) == (0.0, 0.0)


def test_two_equal_strings_give_twice_one():
    levels = np.concatenate([rows(0.3, 0.9), rows(0.3, 0.9)])
    amps = np.zeros(2)
    power = parallel_peak(levels, np.array([0, 2, 4]), 0.05, 15.4, amps)
    alone, alone_amps = string_peak(rows(0.3, 0.9), 0.10, 15.4)
    assert power == pytest.approx(2.0 * alone, rel=1e-9)
    assert amps == pytest.approx([alone_amps, alone_amps], rel=1e-8)


@pytest.mark.parametrize("least_v", [0.0, 15.4])
@pytest.mark.parametrize("seed", range(12))
def test_parallel_strings_meet_at_one_voltage_and_no_other_gives_more(seed: int, least_v: float):
    rng = np.random.default_rng(100 + seed)
    strings = [rows(*rng.uniform(0.05, 1.0, 2 * rng.integers(1, 3))) for _ in range(3)]
    offsets = np.cumsum([0, *(len(s) for s in strings)])
    amps = np.zeros(3)
    power = parallel_peak(np.concatenate(strings), offsets, 0.05, least_v, amps)

    def volts(levels: np.ndarray, current: float) -> float:
        return string_voltage_v(current, levels)

    if power > 0.0:
        met = [volts(levels, current) for levels, current in zip(strings, amps, strict=True)]
        assert max(met) - min(met) < 1e-6
        assert power == pytest.approx(amps.sum() * (met[0] - 0.05 * amps.sum()), rel=1e-7)
    # Any split of current that meets at one voltage gives no more.
    grids = [np.linspace(-3.0, levels[-1, TAKEOVER], 1500) for levels in strings]
    common = np.linspace(0.1, 45.0, 1500)
    total = np.zeros_like(common)
    for levels, grid in zip(strings, grids, strict=True):
        curve = np.array([volts(levels, a) for a in grid])
        total += np.interp(common, curve[::-1], grid[::-1])
    far = common - 0.05 * total
    best = np.where((far >= least_v) & (total > 0.0), far * total, 0.0).max()
    assert power == pytest.approx(best, rel=5e-3, abs=0.03)  # grids of 1/1500 of the range


def test_more_light_never_gives_less_on_one_panel():
    powers = [string_peak(rows(0.4, sun), 0.05, 15.4)[0] for sun in np.linspace(0.01, 1.0, 60)]
    assert np.all(np.diff(powers) >= -1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_the_upper_peak_is_the_first_that_a_walk_from_open_circuit_meets(seed: int):
    rng = np.random.default_rng(200 + seed)
    levels = rows(*rng.uniform(0.1, 1.0, rng.integers(1, 6)))
    power, amps = string_upper_peak(levels, 0.05, 0.0)
    walk = np.linspace(0.0, levels[:, TAKEOVER].max(), 20001)
    watts = np.array([a * (string_voltage_v(a, levels) - 0.05 * a) for a in walk])
    first = int(np.argmax(np.diff(watts) < 0.0))
    assert power == pytest.approx(watts[first], rel=1e-4)
    assert amps == pytest.approx(walk[first], abs=2.0 * walk[1])


@pytest.mark.parametrize("least_v", [0.0, 12.0, 15.4])
@pytest.mark.parametrize("seed", range(10))
def test_the_upper_peak_is_never_over_the_highest(seed: int, least_v: float):
    rng = np.random.default_rng(300 + seed)
    strings = [rows(*rng.uniform(0.05, 1.0, rng.integers(1, 4))) for _ in range(2)]
    assert string_upper_peak(strings[0], 0.05, least_v)[0] <= string_peak(strings[0], 0.05, least_v)[0] * (1 + 1e-12)
    levels, offsets = np.concatenate(strings), np.cumsum([0, *(len(s) for s in strings)])
    upper = parallel_upper_peak(levels, offsets, 0.05, least_v, np.zeros(2))
    assert upper <= parallel_peak(levels, offsets, 0.05, least_v, np.zeros(2)) * (1 + 1e-9)


def test_a_tracker_on_the_upper_peak_stops_at_the_voltage_that_the_bank_asks_for():
    levels = counted(1.0, 2)
    assert string_upper_peak(levels, 0.0, 20.0) == pytest.approx(string_peak(levels, 0.0, 20.0), rel=1e-9)


def test_near_equal_levels_do_not_lead_the_search_astray():
    # The brighter levels turn at nearly the same current as the dimmest, where their voltages fall steeply.
    levels = rows(0.99, 0.997, 0.997, 1.0)
    power, _ = string_peak(levels, 0.05, 15.2)
    best = grid_peak(levels, 0.05, 15.2)
    assert best <= power <= best * 1.001
