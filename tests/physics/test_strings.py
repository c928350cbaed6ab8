"""Cells, substrings and strings: the voltage held is the best, and every curve keeps its equations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from string_tables import Strung, Substring, lit

from planner.physics.strings import BYPASS_V
from planner.physics.strings.cell import BREAKDOWN_PART, BREAKDOWN_V, junction, leak

CELL = {"light_a": 5.76, "dark_a": 1e-9, "slope_v": 0.49 / 18, "shunt": 0.36}


def current_of(voltage: float, *, light_a: float, dark_a: float, slope_v: float, shunt: float) -> float:
    """A cell's current at a junction voltage, written down once more."""
    leaked = shunt * voltage
    if voltage < 0.0:
        leaked *= 1.0 + BREAKDOWN_PART * (1.0 - voltage / BREAKDOWN_V) ** -3
    return light_a - dark_a * np.expm1(voltage / slope_v) - leaked


@pytest.mark.parametrize("suns", [1.0, 0.3, 0.01, 1e-6])
@pytest.mark.parametrize("part", [-2.0, 0.0, 0.5, 0.9, 0.97, 0.995, 0.9999, 1.0, 1.001, 1.1, 2.0, 20.0])
def test_a_junction_stands_where_its_equation_says(suns: float, part: float) -> None:
    figures = CELL | {"light_a": CELL["light_a"] * suns, "shunt": CELL["shunt"] * suns}
    amps = part * figures["light_a"]
    voltage, _, _ = junction(amps, *figures.values())
    truth = brentq(lambda v: current_of(v, **figures) - amps, 0.9999999 * BREAKDOWN_V, 2.0, xtol=1e-13)
    assert voltage == pytest.approx(truth, abs=2e-8)


@pytest.mark.parametrize("amps", [1.0, 5.5, 5.759, 5.761, 5.8, 7.0])  # 5.76 A is the light current, where it bends
def test_a_junctions_derivatives_are_those_of_its_voltage(amps: float) -> None:
    step = 1e-5
    low, middle, high = (junction(amps + d, *CELL.values()) for d in (-step, 0.0, step))
    assert middle[1] == pytest.approx((high[0] - low[0]) / (2.0 * step), rel=1e-3)
    assert middle[2] == pytest.approx((high[1] - low[1]) / (2.0 * step), rel=1e-3, abs=1e-4)


@pytest.mark.parametrize("voltage", [-14.0, -5.0, -0.2])
def test_a_leaks_derivatives_are_those_of_its_current(voltage: float) -> None:
    step = 1e-5
    (low, low_by, _), (_, by, bend), (high, high_by, _) = (leak(voltage + d, 0.3) for d in (-step, 0.0, step))
    assert by == pytest.approx((high - low) / (2.0 * step), rel=1e-6)
    assert bend == pytest.approx((high_by - low_by) / (2.0 * step), rel=1e-5, abs=1e-7)


def test_one_dark_cell_of_eighteen_limits_its_string_or_is_bypassed() -> None:
    clear = Strung([[[lit(1.0), lit(1.0)]]])
    dark = Strung([[[lit(0.07, 1.0), lit(1.0)]]])
    _, amps = clear.held()
    assert dark.power() == pytest.approx(0.5 * clear.power() - BYPASS_V * amps[0], rel=0.01)
    needs_all = Strung([[[lit(0.07, 1.0), lit(1.0)]]], least_v=15.4)
    assert 0.05 * clear.power() < needs_all.power() < 0.11 * clear.power()


def test_without_a_bypass_diode_one_dark_cell_takes_nearly_all_that_a_bank_could_use() -> None:
    dark = [[[lit(0.07, 1.0, cells=36, bypassed=False)]]]
    clear = [[[lit(1.0, cells=36, bypassed=False)]]]
    assert Strung(dark, least_v=15.4).power() < 0.11 * Strung(clear, least_v=15.4).power()
    # below any bank's voltage the dark cell breaks down and lets the others' current pass
    free = Strung(dark)
    amps = np.linspace(0.01, 5.76, 4000)
    best = max(a * free.string_volts(0, 0, a) for a in amps)
    assert best > 0.2 * Strung(clear).power()
    assert free.power() == pytest.approx(best, rel=0.01)


def test_the_knee_of_brighter_cells_is_on_the_curve_though_the_dimmest_stands_in_reverse() -> None:
    strung = Strung([[[lit(0.8, 0.98)]]])
    amps, volts = strung.curves[0, 0, :, : int(strung.points[0, 0])]
    assert np.all(np.diff(amps) > 0.0)
    for current in np.linspace(amps[0], amps[-1], 200):
        # without points there the chord is 6.6 V low, and the bypass diode seems to take over at 5.3 A, not at 5.6
        drawn = float(np.interp(current, amps, volts))
        assert drawn == pytest.approx(strung.string_volts(0, 0, float(current)), abs=0.7)


@pytest.mark.parametrize("seed", [42, 182, 196, 216, 395, 481, 673, 1178])
def test_a_voltage_held_by_the_corner_of_a_bypass_diode_leaves_no_current_unsolved(seed: int) -> None:
    rng = np.random.default_rng(seed)
    base = [np.sort(rng.uniform(0.3, 1.0, 2)) for _ in range(4)]
    nodes = [[[lit(*(suns * by)) for suns in base]] for by in rng.uniform(0.9, 1.1, 3)]
    strung = Strung(nodes, weight=(1 / 3, 1 / 3, 1 / 3), least_v=15.4, wire_ohm=0.05)
    voltage, amps = strung.held()
    for n in np.flatnonzero(amps > 0.0):
        behind = voltage + 0.05 * amps[n]
        assert strung.string_volts(n, 0, float(amps[n])) == pytest.approx(behind, abs=1e-3)


def test_equal_substrings_are_one_row_as_well_as_many() -> None:
    many, one = Strung([[[lit(0.7)] * 3]], wire_ohm=0.03), Strung([[[lit(0.7, times=3.0)]]], wire_ohm=0.03)
    assert many.power() == pytest.approx(one.power(), rel=1e-6)


def test_strings_of_cells_side_by_side_share_their_voltage() -> None:
    half = {"light_a": 2.88, "dark_a": 5e-10, "series_ohm": 0.16 / 18, "shunt": 9 / 50.0}
    whole = Strung([[[lit(0.8)]]])
    halves = Strung([[[Substring([[(0.8, 18.0)]] * 2, **half)]]])
    assert halves.power() == pytest.approx(whole.power(), rel=1e-6)
    shaded = Strung([[[Substring([[(0.07, 1.0), (0.8, 17.0)], [(0.8, 18.0)]], **half)]]])
    # the clear half goes on alone
    assert 0.5 * whole.power() < shaded.power() < 0.62 * whole.power()


def grid_power(strung: Strung, volts: np.ndarray) -> np.ndarray:
    """Return the mean power over nodes with each voltage held, strings solved by bisection on their current."""
    total = np.zeros(volts.size)
    for n, weight in enumerate(strung.weight):
        amps = np.linspace(-1.0, 6.5, 3000)
        currents = np.zeros(volts.size)
        for s in range(strung.parts.shape[1]):
            curve = np.array([strung.string_volts(n, s, a) for a in amps])
            currents += np.interp(volts, curve[::-1], amps[::-1])
        total += weight * volts * np.maximum(currents, 0.0)
    return total


@pytest.mark.parametrize("least_v", [0.5, 15.4])
@pytest.mark.parametrize("seed", range(10))
def test_no_other_voltage_held_over_the_roll_gives_more(seed: int, least_v: float) -> None:
    rng = np.random.default_rng(seed)

    def substring() -> Substring:
        return lit(*np.sort(rng.uniform(0.05, 1.0, rng.integers(1, 4))))

    # strings of one length, as every string must reach the bank
    shapes = [rng.integers(2, 4)] * rng.integers(1, 4)
    nodes = [[[substring() for _ in range(count)] for count in shapes] for _ in range(3)]
    strung = Strung(nodes, weight=(0.25, 0.5, 0.25), least_v=least_v)
    volts = np.linspace(least_v, 40.0, 1500)
    best = grid_power(strung, volts).max()
    # the grid joins its points by lines under curves that bend down, and steps by 26 mV
    assert strung.power() == pytest.approx(best, rel=2e-3, abs=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_the_upper_peak_is_the_first_met_from_open_circuit(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    strung = Strung([[[lit(float(sun)) for sun in rng.uniform(0.1, 1.0, rng.integers(1, 5))]]], least_v=0.5)
    volts = np.linspace(0.5, 50.0, 6000)
    watts = grid_power(strung, volts)[::-1]
    peak = watts[np.argmax((watts[1:] < watts[:-1]) & (watts[:-1] > 0.0))]
    assert strung.power(upper=True) == pytest.approx(peak, rel=2e-3, abs=0.02)
    assert strung.power(upper=True) <= strung.power() * (1.0 + 1e-9)


def test_one_voltage_for_all_nodes_costs_what_the_best_for_each_would_give_more() -> None:
    dim, bright = [[[lit(0.1), lit(0.1)]]], [[[lit(1.0), lit(1.0)]]]
    held = Strung([*dim, *bright], weight=(0.5, 0.5)).power()
    each = 0.5 * Strung(dim).power() + 0.5 * Strung(bright).power()
    assert 0.97 * each < held < each


def test_parallel_strings_meet_at_one_voltage_behind_a_common_wire() -> None:
    strung = Strung([[[lit(0.3), lit(1.0)], [lit(0.9), lit(0.9)]]], wire_ohm=0.05, least_v=12.0)
    voltage, (total,) = strung.held()
    behind = voltage + 0.05 * total
    assert sum(strung.string_amps(0, s, behind, 2.0) for s in (0, 1)) == pytest.approx(total, rel=1e-6)


def test_two_equal_strings_give_twice_one_behind_half_the_wire() -> None:
    two = Strung([[[lit(0.3), lit(0.9)]] * 2], wire_ohm=0.05, least_v=15.4)
    one = Strung([[[lit(0.3), lit(0.9)]]], wire_ohm=0.10, least_v=15.4)
    assert two.power() == pytest.approx(2.0 * one.power(), rel=1e-6)


def test_the_bank_holds_the_voltage_of_a_hot_string() -> None:
    free = Strung([[[lit(1.0, times=2.0)]]])
    held = Strung([[[lit(1.0, times=2.0)]]], least_v=20.0)
    assert free.held()[0] < 20.0
    assert held.held()[0] == pytest.approx(20.0, rel=1e-12)
    assert held.power() < free.power()


def test_a_string_that_never_reaches_the_bank_gives_nothing() -> None:
    assert Strung([[[lit(1.0, times=2.0)]]], least_v=30.0).held()[0] == 0.0


def test_more_light_never_gives_less_on_one_panel() -> None:
    powers = [
        Strung([[[lit(0.4), lit(float(sun))]]], wire_ohm=0.05, least_v=15.4).power()
        for sun in np.linspace(0.01, 1, 40)
    ]
    assert np.all(np.diff(powers) >= -1e-6)
