"""A spar's shadow one cell wide, from the rig to the power at the bus."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from shade_case import RIG, panel, shade, track
from test_panel_harvest import controller

from planner.domain.inputs.power import Panel, Soiling
from planner.simulation.harvest.array import build_array
from planner.simulation.harvest.collect import panel_harvest
from planner.simulation.harvest.scene import Shading

# boom squared out to port, no sail on it: its shadow is 0.16 m wide under a sun overhead
BARE = RIG.model_copy(update={"sprayhood": None, "bimini": None, "arch": None, "stowed_sail_radius_m": 0.0})
SQUARED = {"hoist": 0.0, "boom_deg": 90.0}
CELL_M = 0.15  # six of them along a panel


def under_the_boom(*, row: int | None, **wired: int) -> Panel:
    """Return a panel with one of its six rows of cells right under the boom, or all clear of it."""
    x = -1.5 if row is None else CELL_M * (2.5 - row)
    return panel("under", (x, 2.0, 1.0), length_m=6.0 * CELL_M, width_m=0.6, **wired)


def shaded(one: Panel) -> Shading:
    return shade(track(**SQUARED), 0.0, 89.99, rig=BARE, panels=(one,))


def watts(one: Panel, *, dni: float = 800.0) -> float:
    """Return what a panel gives under the boom, with 100 W/m2 from the sky."""
    felt = {"true_wind_speed_kn": 10.0, "true_wind_angle_deg": 60.0, "apparent_wind_angle_deg": 60.0}
    still = {"speed_through_water_kn": 0.0, "leeway_deg": 0.0}
    steps = track(**SQUARED).assign({name: ("time", [value]) for name, value in (felt | still).items()})
    steps = steps.assign_coords(time=np.array(["2026-05-10T00:00"], "datetime64[ns]")).assign_attrs(step_s=600.0)
    light = {"dni_w_m2": dni, "dhi_w_m2": 100.0, "ghi_w_m2": dni + 100.0, "air_temp_c": 15.0, "rain_mm_h": 0.0}
    sky = xr.Dataset(
        {name: (("member", "time"), [[value]]) for name, value in light.items()}
        | {"sun_elevation_deg": ("time", [89.99])}
    )
    array = build_array([one], [controller(("under",))], bus_v=13.0, soiling=Soiling(), rig=BARE)
    return float(panel_harvest(steps, sky, shaded(one), array)["controller_power_w"].sum())


def test_the_boom_darkens_one_row_of_cells_and_no_other() -> None:
    lit = shaded(under_the_boom(row=3)).cell_lit[0, 0]
    # substrings lie beside each other, so a row has two cells of each; a cell's edges lie 5 mm within the shadow
    rows = lit.reshape(3, 6, 2)
    np.testing.assert_array_equal(rows[:, 3], 0.0)
    assert rows[:, [0, 1, 2, 4, 5]].min() > 0.85
    assert shaded(under_the_boom(row=None)).cell_lit.min() == 1.0


@pytest.mark.parametrize("row", [0, 3])
def test_a_shadow_one_cell_wide_across_all_substrings_takes_the_panel_to_the_diffuse_light(row: int) -> None:
    clear, under = watts(under_the_boom(row=None)), watts(under_the_boom(row=row))
    diffuse = watts(under_the_boom(row=row), dni=0.0)
    assert clear > 60.0
    assert diffuse < 0.15 * clear
    # a sixth of the panel is dark and nine tenths of its power are gone
    assert under < diffuse + 0.05 * (clear - diffuse)


def test_a_half_cut_panel_keeps_half() -> None:
    clear, under = (watts(under_the_boom(row=row, parallel_strings=2)) for row in (None, 4))
    assert under == pytest.approx(0.5 * clear, abs=0.08 * clear)
    assert under > 0.5 * clear  # and a little by the diffuse light of the other half


def test_along_the_panel_it_takes_the_substrings_that_it_lies_on() -> None:
    # turned by its wiring: the shadow then lies on one substring of two rows, its diode takes over
    along = under_the_boom(row=3).model_copy(update={"substrings_across": "length"})
    clear = watts(along.model_copy(update={"centre_m": (-1.5, 2.0, 1.0)}))
    lit = shaded(along).cell_lit[0, 0].reshape(3, 12)
    assert (lit.min(axis=1) > 0.85).tolist() == [True, False, True]
    # what is left of 36 cells does not reach the bank, but two such panels in series would; alone it falls far
    assert watts(along) < 0.5 * clear
