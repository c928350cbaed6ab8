"""Compiled physics given figures that no boat has: it answers inside its tables, or with NaN, and never hangs.

``tests/house/test_kernels_in_bounds.py`` runs this file with the indices checked.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from string_tables import Strung, lit
from test_bank import CHEMISTRIES, params_of
from test_shade_kernel import plate, surfaces, tubes

from planner.physics.array.controllers import output_power_w
from planner.physics.bank import at_soc, bank_step, mean_rest_v, rest_integral, soc_at_terminal_voltage
from planner.physics.diode import fit_diode
from planner.physics.frames import cell_of, locate
from planner.physics.sailing.polar import PolarTable, boat_speed, read_table
from planner.physics.sailing.wind import WindGrid, read_wind
from planner.physics.shade import lit_fraction
from planner.physics.sky.sampling import Nodes, along, cells

EXTREMES = (np.nan, np.inf, -np.inf, 1e308, -1e308, 1e19, -1e19, 1e-308, -1.0, 0.0, 0.5, 1.0)
AXIS = np.array([0.0, 1.0, 4.0])


@pytest.mark.parametrize("place", EXTREMES)
@pytest.mark.parametrize("count", [1, 2, 200])
def test_a_cell_is_always_one_of_the_grid(place: float, count: int) -> None:
    assert 0 <= cell_of(place, count) < count


@pytest.mark.parametrize("value", EXTREMES)
@pytest.mark.parametrize("size", [1, 2, 3])
def test_a_table_answers_within_its_figures_or_with_nan(value: float, size: int) -> None:
    axis, figures = AXIS[:size].copy(), np.array([7.0, 8.0, 9.0])[:size].copy()
    index, part = locate(axis, value)
    assert 0 <= index <= max(size - 2, 0)
    assert np.isnan(part) if np.isnan(value) and size > 1 else 0.0 <= part <= 1.0
    read = read_table(axis, figures, value)
    assert np.isnan(read) if np.isnan(value) and size > 1 else 7.0 <= read <= 9.0


@pytest.mark.parametrize(("angles", "winds"), [(1, 1), (1, 3), (3, 1), (3, 3)])
def test_a_speed_table_of_any_size_answers_within_it_or_with_nan(angles: int, winds: int) -> None:
    table = PolarTable(AXIS[:angles].copy(), AXIS[:winds].copy(), np.full((angles, winds), 6.0), AXIS, AXIS)
    for angle, wind in itertools.product(EXTREMES, repeat=2):
        lost = (angles > 1 and np.isnan(angle)) or (winds > 1 and np.isnan(wind))
        assert boat_speed(table, angle, wind) == pytest.approx(np.nan if lost else 6.0, nan_ok=True)


@pytest.mark.parametrize("size", [1, 3])
def test_wind_anywhere_is_the_grid_s_and_nowhere_is_nan(size: int) -> None:
    axis = AXIS[:size].copy()
    grid = WindGrid(axis, axis, axis, np.full((size,) * 3, 3.0), np.full((size,) * 3, -4.0))
    for time, lat, lon in itertools.product(EXTREMES, repeat=3):
        east, north = read_wind(grid, time, lat, lon)
        somewhere = not np.isnan([time, lat]).any() and np.isfinite(lon)
        assert (east, north) == pytest.approx((3.0, -4.0)) if somewhere or size == 1 else True


def test_a_forecast_sampled_at_no_number_is_nan() -> None:
    field = np.full((1, 3, 3, 3), 2.0)
    nodes = Nodes(np.zeros((1, 3), dtype=np.int64), np.arange(3)[None], np.zeros((1, 3)))
    where = cells(AXIS, np.array(EXTREMES))
    read = along(field, nodes, where, where, where)[0]
    assert np.isnan(read[np.isnan(EXTREMES)]).all()
    assert read[~np.isnan(EXTREMES)] == pytest.approx(2.0)


@pytest.mark.parametrize(("start", "end"), list(itertools.product(EXTREMES, repeat=2)))
def test_a_rest_curve_is_read_inside_it(start: float, end: float) -> None:
    curve = params_of("agm").open_circuit_v
    read = at_soc(curve, start)
    assert np.isnan(read) or curve[0] <= read <= curve[-1]
    rest_integral(curve, start, end)
    mean_rest_v(curve, start, end)
    for volts, slope in itertools.product((np.nan, 0.0, 12.3, np.inf), (np.nan, 0.0, 1e-308, 1e308)):
        soc_at_terminal_voltage(curve, start, slope, volts, end)  # it comes back


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
@pytest.mark.parametrize("capacity_ah", [0.0, 1e-308, 1e-12, 1e300, np.inf, np.nan])
def test_a_bank_of_no_capacity_steps_without_a_fault(chemistry: str, capacity_ah: float) -> None:
    params = params_of(chemistry)._replace(capacity_ah=capacity_ah, charge_limit_a=0.5 * capacity_ah)
    for soc, power, demand in itertools.product(EXTREMES, (0.0, 1e3, 1e308, np.nan), (0.0, 1e3, 1e308, np.nan)):
        step = bank_step(soc, power, power, power, demand, 600.0, params)
        assert np.isnan(step.soc_next) or 0.0 <= step.soc_next <= 1.0


@pytest.mark.parametrize("figure", ["charge_resistance_ohm", "discharge_resistance_ohm", "open_circuit_v"])
@pytest.mark.parametrize("value", EXTREMES)
def test_a_bank_of_any_volts_and_resistance_steps_without_a_fault(figure: str, value: float) -> None:
    params = params_of("flooded")
    params = params._replace(**{figure: np.full(params.open_circuit_v.size, value)})
    for soc, power, demand in itertools.product((0.0, 0.5, 1.0), (0.0, 1e3), (0.0, 1e3, 1e308)):
        step = bank_step(soc, power, power, 0.0, demand, 600.0, params)
        assert np.isnan(step.soc_next) or 0.0 <= step.soc_next <= 1.0


@pytest.mark.parametrize("place", ["levels", "substrings"])
@pytest.mark.parametrize("column", range(3))
@pytest.mark.parametrize("value", EXTREMES)
def test_strings_of_any_figures_come_to_an_end(place: str, column: int, value: float) -> None:
    for wire, least, upper in itertools.product((0.05, 1e308), (0.5, 1e308), (False, True)):
        strung = Strung([[[lit(0.3, 1.0), lit(0.8)], [lit(1.0), lit(1.0)]]], wire_ohm=wire, least_v=least)
        if place == "levels":
            strung.levels[0, 1, column, 0] = value
        else:
            strung.substrings[0, 1, column] = value
        strung.lay_curves()
        strung.held(upper=upper)


SHEET = {
    "max_power_v": 18.6,
    "max_power_a": 5.38,
    "open_circuit_v": 22.2,
    "short_circuit_a": 5.75,
    "cells": 36,
    "power_per_c": -0.004,
    "voltage_per_c": -0.003,
    "current_per_c": 0.0005,
}


@pytest.mark.parametrize("key", [key for key in SHEET if key != "cells"])
@pytest.mark.parametrize("value", [*EXTREMES, 1e-12, 1e6])
def test_a_data_sheet_of_any_figures_is_fitted_or_not(key: str, value: float) -> None:
    found = fit_diode(**(SHEET | {key: value}))
    assert found is None or len(found) == 6


@pytest.mark.parametrize("cells_in_series", [1, 10**6, 10**15])
def test_a_data_sheet_of_any_cells_is_fitted_or_not(cells_in_series: int) -> None:
    found = fit_diode(**(SHEET | {"cells": cells_in_series}))
    assert found is None or len(found) == 6


@pytest.mark.parametrize(("power", "rated"), list(itertools.product(EXTREMES, repeat=2)))
def test_a_controller_of_any_rating_reads_its_curve(power: float, rated: float) -> None:
    given = output_power_w(power, AXIS, np.array([0.9, 0.95, 0.97]), rated)
    assert np.isnan(given) or given >= 0.0


@pytest.mark.parametrize(("near", "far"), list(itertools.product(EXTREMES, repeat=2)))
def test_shapes_of_any_size_shade_inside_the_panel(near: float, far: float) -> None:
    panel, _ = plate(points=60, strips=3)
    leaf = np.array([[near, near, 1.0], [far, near, far], [0.3, far, 1.0], [far, 0.2, near]])
    for passed in (0.0, 0.4):
        faces = surfaces(([leaf], passed))
        rods = tubes(((near, 0.0, 0.1), (far, near, 1.0), 0.02), ((0.0, 0.0, 0.0), (0.0, 0.0, 2.0), far))
        sun = np.array([[[0.6, 0.0, 0.8], [0.0, 0.999999, 1e-5], [near, far, 1.0]]])
        lit = lit_fraction(sun, faces, rods, panel)
        assert lit.shape == (1, 3, 3)
        assert (np.isnan(lit) | ((lit >= 0.0) & (lit <= 1.0 + 1e-12))).all()
