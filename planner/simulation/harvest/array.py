"""The boat's panels and controllers as arrays, and what is wrong with them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from planner.domain.arrays import Floats, Ints
from planner.domain.inputs.power import Controller, Panel, Soiling
from planner.domain.inputs.rig import Rig, Sprayhood
from planner.physics.array.cells import MOUNTINGS
from planner.physics.array.controllers import wire_resistance_ohm
from planner.physics.array.layout import cell_places, coarse_places, usual_grid
from planner.physics.diode import fit_diode
from planner.simulation.harvest.delivery import Wiring


@dataclass(frozen=True, eq=False)
class Array:
    """Panels and controllers as arrays, ready for the step.

    Attributes
    ----------
    wiring : Wiring
        Cells, strings and controllers, and the cells' figures.
    mounting : array (panel, 3)
        Figures of the cell temperature model.
    aged, soiled : array (panel,)
        Part of the light that age leaves, and that dirt and salt take at departure [0..1].
    load, efficiency : array (controller, node)
        Input over rated output, and output over input there [1, 0..1].
    rated_w : array (controller,)
        Output limit [W].
    centre_m : array (panel, 3)
        Middle of each panel in the boat frame [m].
    soiling : Soiling
        How dirt and salt go on from there.
    sprayhood : Sprayhood or None
        What keeps the wind off.
    deck_height_m : float
        Of the deck at the mast over the water [m].
    """

    wiring: Wiring
    mounting: Floats
    aged: Floats
    soiled: Floats
    load: Floats
    efficiency: Floats
    rated_w: Floats
    centre_m: Floats
    soiling: Soiling
    sprayhood: Sprayhood | None
    deck_height_m: float

    @property
    def kept(self) -> Floats:
        """Part of the light that age, dirt and salt leave at departure, (panel,) [0..1]."""
        return self.aged * (1.0 - self.soiled)


@lru_cache(maxsize=64)
def _fitted(sheet: tuple[float, float, float, float, int, float, float, float]) -> tuple[float, ...] | None:
    power_v, power_a, open_v, short_a, cells, power_per_c, voltage_per_c, current_per_c = sheet
    return fit_diode(
        max_power_v=power_v,
        max_power_a=power_a,
        open_circuit_v=open_v,
        short_circuit_a=short_a,
        cells=cells,
        power_per_c=power_per_c,
        voltage_per_c=voltage_per_c,
        current_per_c=current_per_c,
    )


def sheet_diode(panel: Panel) -> tuple[float, ...] | None:
    """Return the panel's single-diode figures, or None where its data sheet fits none; fitted once a type."""
    return _fitted(
        (
            panel.max_power_v,
            panel.max_power_a,
            panel.open_circuit_v,
            panel.short_circuit_a,
            panel.cells,
            panel.power_per_c,
            panel.voltage_per_c,
            panel.current_per_c,
        )
    )


def build_array(
    panels: Sequence[Panel],
    controllers: Sequence[Controller],
    *,
    bus_v: float,
    soiling: Soiling,
    rig: Rig,
) -> Array:
    """Return the array of a boat that ``array_faults`` has passed.

    Parameters
    ----------
    panels, controllers : sequence
        In boat order.
    bus_v : float
        Voltage that the controllers charge at [V].
    soiling, rig
        From the boat file.

    Raises
    ------
    ValueError
        Where a panel's data sheet fits no diode, or a string names a panel that is not aboard.
    """
    names = [panel.name for panel in panels]
    soiled = np.zeros(len(panels))
    for controller in controllers:
        for string in controller.strings:
            for name in string:
                soiled[names.index(name)] = controller.soiling_fraction
    nodes = max(len(c.efficiency_curve.load) for c in controllers)
    return Array(
        wiring=_wiring(panels, controllers, bus_v=bus_v),
        mounting=np.array([MOUNTINGS[panel.mounting] for panel in panels]),
        aged=np.array([aged_fraction(panel) for panel in panels]),
        soiled=soiled,
        load=np.array([_padded(c.efficiency_curve.load, nodes, by=1.0) for c in controllers]),
        efficiency=np.array([c.efficiency * _padded(c.efficiency_curve.value, nodes, by=0.0) for c in controllers]),
        rated_w=np.array([rated_output_w(c, bus_v) for c in controllers]),
        centre_m=np.array([panel.centre_m for panel in panels]),
        soiling=soiling,
        sprayhood=rig.sprayhood,
        deck_height_m=rig.deck_height_m,
    )


def _wiring(panels: Sequence[Panel], controllers: Sequence[Controller], *, bus_v: float) -> Wiring:
    """Return what belongs to what, from cells up to controllers."""
    names = [panel.name for panel in panels]
    strings = [string for controller in controllers for string in controller.strings]

    def firsts(counts: Iterable[int]) -> Ints:
        return np.cumsum([0, *counts], dtype=np.int64)

    return Wiring(
        cell_first=firsts(panel.cells * panel.parallel_strings for panel in panels),
        substring_first=firsts(panel.substrings for panel in panels),
        strings_first=firsts(panel.parallel_strings for panel in panels for _ in range(panel.substrings)),
        in_series=np.array([panel.cells // panel.substrings for panel in panels], dtype=np.int64),
        cell_diode=cell_diodes(panels),
        bypassed=np.array([panel.bypass_diodes for panel in panels]),
        controller_strings=firsts(len(controller.strings) for controller in controllers),
        string_panels=firsts(len(string) for string in strings),
        panel_order=np.array([names.index(name) for string in strings for name in string], dtype=np.int64),
        wire_ohm=np.array([wire_resistance_ohm(c.wire_length_m, c.wire_section_mm2) for c in controllers]),
        least_v=np.array([max(bus_v + c.headroom_v, c.min_input_v) for c in controllers]),
        stays_upper=np.array([c.tracker == "upper" for c in controllers]),
        follows_roll=np.array([c.follows_roll for c in controllers]),
    )


def cell_grid(panel: Panel) -> tuple[int, int]:
    """Return how many cells lie along a panel's length and along its width, as the file has them or by its size.

    Raises
    ------
    ValueError
        Where none fits.
    """
    total = panel.cells * panel.parallel_strings
    if panel.cells_along is not None:
        return panel.cells_along, panel.cells_across or total // panel.cells_along
    if panel.cells_across is not None:
        return total // panel.cells_across, panel.cells_across
    grid = usual_grid(
        panel.length_m,
        panel.width_m,
        cells=panel.cells,
        substrings=panel.substrings,
        parallel=panel.parallel_strings,
        across=panel.substrings_across,
    )
    if grid is None:
        raise ValueError(f"the cells of panel '{panel.name}' fit no grid")
    return grid


def cell_places_of(panel: Panel) -> Ints:
    """Return where each of a panel's cells lies, as ``layout.cell_places`` has it, (cell, 2)."""
    return cell_places(
        *cell_grid(panel),
        substrings=panel.substrings,
        parallel=panel.parallel_strings,
        across=panel.substrings_across,
    )


def sky_places_of(panel: Panel) -> Ints:
    """Return the patches of a panel that look at the sky, as ``layout.coarse_places`` has them, (patch, 2)."""
    return coarse_places(substrings=panel.substrings, parallel=panel.parallel_strings, across=panel.substrings_across)


def cell_diodes(panels: Sequence[Panel]) -> Floats:
    """Return the figures of one cell of each panel, as ``Wiring.cell_diode`` has them, (panel, 6).

    Raises
    ------
    ValueError
        Where a panel's data sheet fits no diode.
    """
    diodes = np.empty((len(panels), 6))
    for p, panel in enumerate(panels):
        diode = sheet_diode(panel)
        if diode is None:
            raise ValueError(f"the data sheet of panel '{panel.name}' fits no diode")
        light, dark, slope, series, shunt, light_per_c = diode
        n, side_by_side = panel.cells, panel.parallel_strings
        diodes[p] = (
            light / side_by_side,
            dark / side_by_side,
            slope / n,
            series * side_by_side / n,
            n / shunt / side_by_side,
            light_per_c / side_by_side,
        )
    return diodes


def aged_fraction(panel: Panel) -> float:
    """Return the part of the light that a panel's age leaves by its years, and by what readings showed of it [1]."""
    return max(0.0, 1.0 - panel.ageing_per_year * panel.age_years) * panel.measured_fraction


def rated_output_w(controller: Controller, bus_v: float) -> float:
    """Return the most that a controller delivers at a voltage of the bank, by its two limits [W]."""
    return min(controller.max_output_a * bus_v, controller.max_output_w or math.inf)


def _padded(values: Sequence[float], nodes: int, *, by: float) -> Floats:
    """Return a table's column with as many nodes as the longest has, its last one carried on in steps."""
    beyond = values[-1] + by * np.arange(1, nodes - len(values) + 1)
    return np.concatenate([np.asarray(values, dtype=np.float64), beyond])
