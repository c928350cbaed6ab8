"""Sky and shade to power at the bus."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from shade_case import RIG as WHOLE_RIG

from planner.domain.inputs.power import Controller, Panel, Soiling
from planner.domain.inputs.rig import Sprayhood
from planner.physics.diode import at_conditions, peak_power_w
from planner.simulation.harvest.array import build_array
from planner.simulation.harvest.collect import panel_harvest

RIG = WHOLE_RIG.model_copy(update={"sprayhood": None})

BUS_V = 14.2
DIRT = Soiling()
NODES = np.array([0.25, 0.5, 0.25])


def panel(name: str, **changes: object) -> Panel:
    figures = {
        "name": name,
        "centre_m": (0.0, 0.0, 2.0),
        "length_m": 1.05,
        "width_m": 0.54,
        "mounting": "ventilated",
        "max_power_w": 100.0,
        "max_power_v": 18.6,
        "max_power_a": 5.38,
        "open_circuit_v": 22.2,
        "short_circuit_a": 5.75,
        "cells": 36,
        "substrings": 2,
    }
    return Panel.model_validate(figures | changes)


def controller(*strings: tuple[str, ...], **changes: object) -> Controller:
    """Return a controller whose efficiency does not depend on its load."""
    flat = {"load": (1.0,), "value": (1.0,)}
    return Controller.model_validate({"name": "tracker", "strings": strings, "efficiency_curve": flat} | changes)


def harvest(
    panels: list[Panel],
    controllers: list[Controller],
    *,
    elevation: float = 50.0,
    dni: float = 700.0,
    dhi: float = 120.0,
    air: float = 25.0,
    lit: np.ndarray | float = 1.0,
    rain: float = 0.0,
    wind_angle: float = 0.0,
    soiling: Soiling = DIRT,
    share: np.ndarray | float = 1.0,
    hood: Sprayhood | None = None,
) -> dict[str, np.ndarray]:
    """Return the harvest of one member and one step on level panels.

    ``lit`` broadcasts to (node, string of cells) or to (node, cell), ``share`` to (string of cells,).
    """
    count = len(panels)
    strings = np.array([p.substrings * p.parallel_strings for p in panels])
    cells = np.array([p.cells * p.parallel_strings for p in panels])
    given = np.asarray(lit, dtype=float)
    if given.ndim and given.shape[-1] == strings.sum():
        given = np.repeat(given, np.repeat(cells // strings, strings), axis=-1)
    member_time = ("member", "time")
    sine = np.sin(np.radians(elevation))
    track = xr.Dataset(
        {
            "true_wind_speed_kn": ("time", [10.0]),
            "true_wind_angle_deg": ("time", [wind_angle]),
            "apparent_wind_angle_deg": ("time", [wind_angle]),
            "speed_through_water_kn": ("time", [0.0]),
            "leeway_deg": ("time", [0.0]),
        },
        {"time": np.array(["2026-05-10T00:00"], "datetime64[ns]")},
        {"step_s": 600.0},
    )
    sky = xr.Dataset(
        {
            "sun_elevation_deg": ("time", [elevation]),
            "dni_w_m2": (member_time, [[dni]]),
            "dhi_w_m2": (member_time, [[dhi]]),
            "ghi_w_m2": (member_time, [[dni * max(sine, 0.0) + dhi]]),
            "air_temp_c": (member_time, [[air]]),
            "rain_mm_h": (member_time, [[rain]]),
        }
    )
    shading = SimpleNamespace(
        node_weight=NODES,
        cell_first=np.cumsum([0, *cells]),
        cell_lit=np.broadcast_to(given, (1, 3, cells.sum())).copy(),
        string_share=np.broadcast_to(share, (1, strings.sum())).copy(),
        cos_incidence=np.full((1, 3, count), sine),
        sky_view=np.ones((1, count)),
        overcast_view=np.ones((1, count)),
        sea_view=np.zeros((1, count)),
    )
    array = build_array(
        panels, controllers, bus_v=BUS_V, soiling=soiling, rig=RIG.model_copy(update={"sprayhood": hood})
    )
    figures = panel_harvest(track, sky, shading, array)
    return {name: values[0, 0] for name, values in figures.items()}


def watts(*args: object, **options: object) -> float:
    return float(harvest(*args, **options)["controller_power_w"].sum())


def test_night_gives_exactly_nothing():
    figures = harvest([panel("a")], [controller(("a",))], elevation=-1.0, dni=0.0, dhi=5.0)
    assert figures["controller_power_w"] == 0.0
    assert figures["panel_power_w"] == 0.0
    assert figures["poa_w_m2"] == 0.0
    assert figures["cell_temp_c"] == 25.0


def test_a_level_panel_in_the_clear_gets_the_global_irradiance():
    figures = harvest([panel("a")], [controller(("a",))])
    assert figures["poa_w_m2"] == pytest.approx(700.0 * np.sin(np.radians(50.0)) + 120.0, rel=1e-12)
    assert figures["beam_lit_fraction"] == pytest.approx(1.0)


def test_power_is_near_rating_times_light_less_heat_and_losses():
    figures = harvest([panel("a", ageing_per_year=0.0)], [controller(("a",), soiling_fraction=0.0, efficiency=1.0)])
    heat = 1.0 - 0.004 * (figures["cell_temp_c"][0] - 25.0)
    assert figures["controller_power_w"][0] == pytest.approx(0.1 * figures["poa_w_m2"][0] * heat, rel=0.06)


def test_panels_of_a_controller_give_its_input_and_what_the_wire_takes():
    pair = [panel("a"), panel("b")]
    lit = np.array([1.0, 0.3, 1.0, 1.0])
    without_wire = harvest(pair, [controller(("a", "b"), wire_length_m=0.0)], lit=lit)
    assert without_wire["controller_power_w"].sum() == pytest.approx(
        0.97 * without_wire["panel_power_w"].sum(), rel=1e-9
    )
    wired = harvest(pair, [controller(("a", "b"), wire_length_m=20.0, wire_section_mm2=2.5)], lit=lit)
    assert wired["controller_power_w"].sum() < 0.97 * wired["panel_power_w"].sum()


def test_power_and_not_light_is_averaged_over_the_roll():
    # In shade at the first node, of weight a quarter: the limit clips the others, and would clip their mean light.
    lit = np.array([[0.0, 0.0], [1.0, 1.0], [1.0, 1.0]])
    one = [panel("a")], [controller(("a",), max_output_a=2.5)]
    mixed = harvest(*one, lit=lit)
    flat = harvest(*one, lit=0.75)
    assert mixed["poa_w_m2"] == pytest.approx(flat["poa_w_m2"])
    assert mixed["cell_temp_c"] == pytest.approx(flat["cell_temp_c"])
    assert flat["controller_power_w"] == pytest.approx(2.5 * BUS_V)
    assert 0.75 * 2.5 * BUS_V < mixed["controller_power_w"] < 0.95 * 2.5 * BUS_V


def test_the_output_limit_clips_each_node():
    assert watts([panel("a")], [controller(("a",), max_output_a=2.0)]) == pytest.approx(2.0 * BUS_V)


def test_a_half_shaded_panel_gives_its_lit_half_only_where_that_reaches_the_bank():
    # With one of two substrings bypassed a panel of 36 cells stands near 8 V, one of 72 near 16 V.
    lit = np.array([1.0, 0.0])
    single = [watts([panel("a")], [controller(("a",))], lit=light) for light in (1.0, lit)]
    assert 0.05 * single[0] < single[1] < 0.15 * single[0]  # the diffuse light's current through both
    double = panel("a", max_power_v=37.2, open_circuit_v=44.4, cells=72, max_power_w=200.0)
    both = [watts([double], [controller(("a",))], lit=light) for light in (1.0, lit)]
    assert 0.42 * both[0] < both[1] < 0.55 * both[0]  # cooler, less the diode's volt


def test_shade_costs_a_series_pair_more_than_two_controllers():
    pair = [panel("a"), panel("b")]
    lit = np.array([1.0, 1.0, 0.05, 0.05])
    apart = [controller(("a",), name="one"), controller(("b",), name="two")]
    assert watts(pair, [controller(("a", "b"))], lit=lit) < watts(pair, apart, lit=lit) - 2.0


@pytest.mark.parametrize("strings", [(("a", "b"),), (("a",), ("b",))])
def test_equal_panels_evenly_lit_give_the_same_however_they_are_wired(strings: tuple[tuple[str, ...], ...]):
    pair = [panel("a"), panel("b")]
    joined = watts(pair, [controller(*strings, wire_length_m=0.0)])
    alone = watts([panel("a")], [controller(("a",), wire_length_m=0.0)])
    assert joined == pytest.approx(2.0 * alone, rel=1e-9)


def test_strings_nearly_alike_give_nearly_what_equal_ones_do():
    # One path joins equal strings into one, the other searches their common voltage.
    pair = [panel("a"), panel("b")]
    equal = watts(pair, [controller(("a",), ("b",))])
    nearly = watts(pair, [controller(("a",), ("b",))], lit=np.array([1.0, 1.0, 1.0 - 1e-9, 1.0 - 1e-9]))
    assert nearly == pytest.approx(equal, rel=1e-7)


@pytest.mark.parametrize("lit", [1.0, np.array([1.0, 0.4])])
def test_more_light_never_gives_less(lit: np.ndarray | float):
    one = [panel("a")], [controller(("a",))]
    powers = [watts(*one, dni=dni, lit=lit) for dni in np.linspace(0.0, 900.0, 25)]
    assert np.all(np.diff(powers) >= 0.0)


def test_heat_costs_power():
    one = [panel("a")], [controller(("a",))]
    assert watts(*one, air=35.0) < watts(*one, air=15.0)


def test_a_bank_beyond_the_reach_of_hot_cells_gets_nothing():
    assert watts([panel("a")], [controller(("a",), headroom_v=8.5)]) == 0.0


@pytest.mark.parametrize("changes", [{}, {"parallel_strings": 2}, {"parallel_strings": 6, "substrings": 1}])
def test_a_panel_evenly_lit_works_at_the_peak_of_its_sheets_cells(changes: dict[str, int]):
    one = panel("a", ageing_per_year=0.0, **changes)
    array = build_array([one], [controller(("a",))], bus_v=BUS_V, soiling=DIRT, rig=RIG)
    light_a, dark_a, slope_v, series_ohm, shunt, per_c = array.wiring.cell_diode[0]
    cells = 36 * one.parallel_strings
    assert cells * peak_power_w(light_a, dark_a, slope_v, series_ohm, shunt) == pytest.approx(18.6 * 5.38, rel=1e-6)
    figures = harvest([one], [controller(("a",))])
    suns = figures["cell_light_w_m2"][0] / 1000.0
    amps, dark, slope = at_conditions(light_a, dark_a, slope_v, per_c, figures["cell_temp_c"][0])
    own = cells * peak_power_w(amps * suns, dark, slope, series_ohm, shunt * suns)
    assert figures["panel_power_w"][0] == pytest.approx(own, rel=1e-5)


def test_rain_leaves_the_first_step_as_dirty_as_it_was():
    # The soiled part is a state at the start of the step.
    figures = harvest([panel("a")], [controller(("a",), soiling_fraction=0.06)], rain=50.0)
    assert figures["soiled_fraction"] == pytest.approx(0.06)


def test_dirt_takes_its_part_of_the_light_on_the_cells():
    clean = harvest([panel("a")], [controller(("a",), soiling_fraction=0.0)])
    dirty = harvest([panel("a")], [controller(("a",), soiling_fraction=0.1)])
    assert dirty["cell_light_w_m2"] == pytest.approx(0.9 * clean["cell_light_w_m2"])
    assert dirty["poa_w_m2"] == clean["poa_w_m2"]


def test_a_panel_in_the_lee_of_the_hood_is_hotter():
    hood = Sprayhood(front_x_m=-1.6, aft_x_m=-2.8, width_m=2.4, height_m=1.25)
    behind = panel("a", centre_m=(-3.2, 0.0, 0.5))
    sheltered = harvest([behind], [controller(("a",))], hood=hood)
    from_astern = harvest([behind], [controller(("a",))], hood=hood, wind_angle=180.0)
    assert sheltered["cell_temp_c"] > from_astern["cell_temp_c"] + 1.0
    assert sheltered["controller_power_w"] < from_astern["controller_power_w"]


def test_a_tracker_on_the_upper_peak_loses_what_the_bypass_diode_would_give():
    double = panel("a", max_power_v=37.2, open_circuit_v=44.4, cells=72, max_power_w=200.0)
    lit = np.array([1.0, 0.2])
    upper = watts([double], [controller(("a",), tracker="upper")], lit=lit)
    best = watts([double], [controller(("a",))], lit=lit)
    assert 0.2 * best < upper < 0.8 * best


def test_evenly_lit_there_is_one_peak_for_both_trackers():
    pair = [panel("a"), panel("b")]
    for strings in ((("a", "b"),), (("a",), ("b",))):
        upper = watts(pair, [controller(*strings, tracker="upper")])
        assert upper == pytest.approx(watts(pair, [controller(*strings)]), rel=1e-12)


def test_an_output_limit_in_watts_clips_too():
    assert watts([panel("a")], [controller(("a",), max_output_w=30.0)]) == pytest.approx(30.0)


def test_heat_in_the_wire_is_what_panels_give_and_the_controller_does_not_get():
    figures = harvest([panel("a"), panel("b")], [controller(("a",), ("b",), wire_length_m=20.0)], lit=[1, 0.9, 1, 1])
    got = figures["controller_power_w"].sum() / 0.97
    assert figures["panel_power_w"].sum() - figures["wire_loss_power_w"].sum() == pytest.approx(got, rel=1e-9)


def one_dark(cells: int, dark: int = 0) -> np.ndarray:
    """Return a beam that reaches all cells but one."""
    lit = np.ones(cells)
    lit[dark] = 0.0
    return lit


def test_one_dark_cell_takes_its_whole_substring():
    double = panel("a", max_power_v=37.2, open_circuit_v=44.4, cells=72, max_power_w=200.0)
    clear, half, spot = (
        watts([double], [controller(("a",))], lit=lit) for lit in (1.0, np.array([0.0, 1.0]), one_dark(72))
    )
    assert 0.42 * clear < spot < half < 0.55 * clear  # the panel is nearly as hot as a clear one
    assert spot > 0.9 * half


def test_without_bypass_diodes_one_dark_cell_leaves_the_diffuse_lights_current():
    lights: list[dict[str, object]] = [{}, {"lit": one_dark(36)}, {"dni": 0.0}]
    clear, spot, sky = (watts([panel("a", bypass_diodes=False)], [controller(("a",))], **each) for each in lights)
    # hotter, and of a sky without its bright quarter, it gives less than all of it in such light
    assert 0.05 * clear < spot < sky < 0.2 * clear


def test_two_strings_side_by_side_keep_what_the_clear_one_gives():
    whole, halved = panel("a"), panel("a", parallel_strings=2)
    assert watts([halved], [controller(("a",))]) == pytest.approx(watts([whole], [controller(("a",))]), rel=1e-6)
    # dark strings, one of each substring's two, or a dark cell in each
    lit = np.array([0.0, 1.0, 0.0, 1.0])
    spots = np.minimum(one_dark(72, 0), one_dark(72, 36))
    clear = watts([halved], [controller(("a",))])
    for shadow in (lit, spots):
        assert 0.5 * clear < watts([halved], [controller(("a",))], lit=shadow) < 0.65 * clear


def test_a_string_that_sees_less_of_the_sky_holds_the_others_back_when_overcast():
    overcast = {"dni": 0.0, "dhi": 300.0}
    even, uneven = (
        watts([panel("a")], [controller(("a",))], share=share, **overcast) for share in (1.0, np.array([0.75, 1.25]))
    )
    assert 0.7 * even < uneven < 0.85 * even


def test_one_voltage_stands_while_the_light_swings_unless_the_controller_follows():
    swing = np.array([[1.0, 1.0], [0.1, 0.1], [0.5, 0.5]])
    # a cold panel of more cells, so that the bank does not decide
    large = panel("a", max_power_v=37.2, open_circuit_v=44.4, cells=72, max_power_w=200.0)
    held, followed = (watts([large], [controller(("a",), follows_roll=each)], lit=swing) for each in (False, True))
    assert 0.95 * followed < held < 0.9999 * followed
    steady = [watts([large], [controller(("a",), follows_roll=each)]) for each in (False, True)]
    assert steady[0] == pytest.approx(steady[1], rel=1e-9)
