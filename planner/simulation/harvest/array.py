"""The boat's panels and controllers as arrays, and what is wrong with them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints
from planner.domain.errors import Fault, suggest
from planner.domain.inputs.power import Bank, Controller, Panel, Soiling
from planner.domain.inputs.rig import Sprayhood
from planner.domain.results.note import Note

DESIGN_COLD_C: Final = -10.0  # C, coldest cells at which a string's open-circuit voltage is checked (common practice)
CHARGING_OVER_NOMINAL: Final = 1.2  # 1, 14.4 V on a 12 V bank: what it charges at where the file does not say
EXTRA_LOW_V: Final = 50.0  # V DC, above which a shock is a danger (common practice, recalled)
POWER_TOLERANCE: Final = 0.05  # 1, rounding of data sheets


@dataclass(frozen=True, eq=False)
class Array:
    """Panels and controllers as arrays, ready for the step.

    Attributes
    ----------
    substring_diode : array (panel, 6)
        One substring at 1000 W/m2 and 25 C: light and saturation current, slope, series resistance, shunt
        conductance, change of light current [A, A, V, ohm, S, A/K].
    mounting : array (panel, 3)
        Figures of the cell temperature model.
    aged, soiled : array (panel,)
        Part of the light that age leaves, and that dirt and salt take at departure [0..1].
    controller_strings, string_panels, panel_order : int array
        ``panel_order[string_panels[s]:string_panels[s + 1]]`` are the panels of string s;
        ``controller_strings[c]:controller_strings[c + 1]`` the strings of controller c.
    load, efficiency : array (controller, node)
        Input over rated output, and output over input there [1, 0..1].
    rated_w, wire_ohm, least_v : array (controller,)
        Output limit [W], wire to it [ohm], input voltage that it needs [V].
    stays_upper : bool array (controller,)
        Whether it stays on the first power peak below open circuit.
    centre_m : array (panel, 3)
        Middle of each panel in the boat frame [m].
    soiling : Soiling
        How dirt and salt go on from there.
    sprayhood : Sprayhood or None
        What keeps the wind off.
    """

    substring_diode: Floats
    mounting: Floats
    aged: Floats
    soiled: Floats
    controller_strings: Ints
    string_panels: Ints
    panel_order: Ints
    load: Floats
    efficiency: Floats
    rated_w: Floats
    wire_ohm: Floats
    least_v: Floats
    stays_upper: npt.NDArray[np.bool_]
    centre_m: Floats
    soiling: Soiling
    sprayhood: Sprayhood | None

    @property
    def kept(self) -> Floats:
        """Part of the light that age, dirt and salt leave at departure, (panel,) [0..1]."""
        return self.aged * (1.0 - self.soiled)


@lru_cache(maxsize=64)
def _fitted(sheet: tuple[float, float, float, float, int, float, float, float]) -> tuple[float, ...] | None:
    from planner.physics.diode import fit_diode

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


def _sheet_diode(panel: Panel) -> tuple[float, ...] | None:
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
    sprayhood: Sprayhood | None,
) -> Array:
    """Return the array of a boat that ``array_faults`` has passed.

    Parameters
    ----------
    panels, controllers : sequence
        In boat order.
    bus_v : float
        Voltage that the controllers charge at [V].
    soiling, sprayhood
        From the boat file.

    Raises
    ------
    ValueError
        Where a panel's data sheet fits no diode, or a string names a panel that is not aboard.
    """
    from planner.physics.array.cells import MOUNTINGS
    from planner.physics.array.controllers import wire_resistance_ohm

    names = [panel.name for panel in panels]
    soiled = np.zeros(len(panels))
    strings = [string for controller in controllers for string in controller.strings]
    for controller in controllers:
        for string in controller.strings:
            for name in string:
                soiled[names.index(name)] = controller.soiling_fraction
    nodes = max(len(c.efficiency_curve.load) for c in controllers)
    return Array(
        substring_diode=substring_diodes(panels),
        mounting=np.array([MOUNTINGS[panel.mounting] for panel in panels]),
        aged=np.array([aged_fraction(panel) for panel in panels]),
        soiled=soiled,
        controller_strings=np.cumsum([0, *(len(c.strings) for c in controllers)], dtype=np.int64),
        string_panels=np.cumsum([0, *(len(s) for s in strings)], dtype=np.int64),
        panel_order=np.array([names.index(name) for string in strings for name in string], dtype=np.int64),
        load=np.array([_padded(c.efficiency_curve.load, nodes, by=1.0) for c in controllers]),
        efficiency=np.array([c.efficiency * _padded(c.efficiency_curve.value, nodes, by=0.0) for c in controllers]),
        rated_w=np.array([rated_output_w(c, bus_v) for c in controllers]),
        wire_ohm=np.array([wire_resistance_ohm(c.wire_length_m, c.wire_section_mm2) for c in controllers]),
        least_v=np.array([max(bus_v + c.headroom_v, c.min_input_v) for c in controllers]),
        stays_upper=np.array([c.tracker == "upper" for c in controllers]),
        centre_m=np.array([panel.centre_m for panel in panels]),
        soiling=soiling,
        sprayhood=sprayhood,
    )


def substring_diodes(panels: Sequence[Panel]) -> Floats:
    """Return the figures of one substring of each panel, as ``Array.substring_diode`` has them, (panel, 6).

    Raises
    ------
    ValueError
        Where a panel's data sheet fits no diode.
    """
    diodes = np.empty((len(panels), 6))
    for p, panel in enumerate(panels):
        diode = _sheet_diode(panel)
        if diode is None:
            raise ValueError(f"the data sheet of panel '{panel.name}' fits no diode")
        light, dark, slope, series, shunt, light_per_c = diode
        n = panel.substrings
        diodes[p] = (light, dark, slope / n, series / n, n / shunt, light_per_c)
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


def _cold_v(panel: Panel) -> float:
    """Return the panel's open-circuit voltage at the design cold [V]."""
    return panel.open_circuit_v * (1.0 + panel.voltage_per_c * (DESIGN_COLD_C - 25.0))


def _duplicates(names: Sequence[str]) -> list[str]:
    return sorted({name for name in names if names.count(name) > 1})


def _sheet_faults(index: int, panel: Panel, where: str) -> list[Fault]:
    key = f"panel[{index}]"
    faults = []
    if panel.max_power_a >= panel.short_circuit_a:
        faults.append(
            Fault(
                where,
                f"{key}.max_power_a",
                f"{panel.max_power_a:g} A at maximum power is not under the short-circuit "
                f"{panel.short_circuit_a:g} A of '{panel.name}'.",
                "The two figures may be swapped; read the data sheet again.",
            )
        )
    if panel.max_power_v >= panel.open_circuit_v:
        faults.append(
            Fault(
                where,
                f"{key}.max_power_v",
                f"{panel.max_power_v:g} V at maximum power is not under the open-circuit {panel.open_circuit_v:g} V "
                f"of '{panel.name}'.",
                "The two figures may be swapped; read the data sheet again.",
            )
        )
    product = panel.max_power_v * panel.max_power_a
    if abs(product - panel.max_power_w) > POWER_TOLERANCE * panel.max_power_w:
        faults.append(
            Fault(
                where,
                f"{key}.max_power_w",
                f"{panel.max_power_w:g} W is not {panel.max_power_v:g} V x {panel.max_power_a:g} A = {product:.0f} W "
                f"within {POWER_TOLERANCE:.0%} for '{panel.name}'.",
                "One of the three is misread, or belongs to another panel.",
            )
        )
    if panel.cells % panel.substrings:
        faults.append(
            Fault(
                where,
                f"{key}.substrings",
                f"{panel.substrings} substrings do not divide the {panel.cells} cells of '{panel.name}'.",
                "Count the bypass diodes in its junction box; 36 cells mostly have 2.",
            )
        )
    if not faults and _sheet_diode(panel) is None:
        volts = panel.open_circuit_v / panel.cells
        faults.append(
            Fault(
                where,
                key,
                f"no diode fits the data sheet of '{panel.name}': {panel.max_power_v:g} V and "
                f"{panel.max_power_a:g} A at maximum power, {panel.open_circuit_v:g} V open, "
                f"{panel.short_circuit_a:g} A short, {panel.cells} cells in series ({volts:.2f} V a cell; silicon "
                "has about 0.6 to 0.75).",
                "Check `cells` (a panel of half cells in two parallel halves counts half of them) and the currents.",
            )
        )
    return faults


def _wiring_faults(panels: Sequence[Panel], controllers: Sequence[Controller], where: str) -> list[Fault]:
    names = [panel.name for panel in panels]
    faults = [
        Fault(where, "panel", f"two panels are called '{name}'.", "Give each its own name.")
        for name in _duplicates(names)
    ]
    faults += [
        Fault(where, "controller", f"two controllers are called '{name}'.", "Give each its own name.")
        for name in _duplicates([controller.name for controller in controllers])
    ]
    wired: dict[str, list[str]] = {name: [] for name in names}
    for c, controller in enumerate(controllers):
        for s, string in enumerate(controller.strings):
            key = f"controller[{c}].strings[{s}]"
            if not string:
                faults.append(
                    Fault(where, key, f"a string of '{controller.name}' has no panel.", "Name its panels or drop it.")
                )
            for name in string:
                if name in wired:
                    wired[name].append(controller.name)
                else:
                    faults.append(Fault(where, key, f"there is no panel '{name}'.", suggest(name, names)))
    for p, panel in enumerate(panels):
        places = wired[panel.name]
        if not places:
            mend = "Add it to a controller's `strings`, or take it out of the file."
            faults.append(Fault(where, f"panel[{p}]", f"'{panel.name}' is on no controller.", mend))
        elif len(places) > 1:
            problem = f"'{panel.name}' is wired {len(places)} times, on {', '.join(places)}."
            faults.append(Fault(where, f"panel[{p}]", problem, "A panel belongs to one string of one controller."))
    return faults


def _voltage_faults(
    panels: Sequence[Panel], controllers: Sequence[Controller], bank: Bank, where: str
) -> list[Fault]:
    by_name = {panel.name: panel for panel in panels}
    charging_v = bank.absorption_v or CHARGING_OVER_NOMINAL * bank.nominal_v
    faults = []
    for c, controller in enumerate(controllers):
        needed = max(charging_v + controller.headroom_v, controller.min_input_v)
        for s, string in enumerate(controller.strings):
            if not string or any(name not in by_name for name in string):
                continue
            key = f"controller[{c}].strings[{s}]"
            open_v = math.fsum(by_name[name].open_circuit_v for name in string)
            cold_v = math.fsum(_cold_v(by_name[name]) for name in string)
            if open_v <= needed:
                faults.append(
                    Fault(
                        where,
                        key,
                        f"{open_v:.1f} V open-circuit never reaches the {needed:.1f} V that '{controller.name}' "
                        f"needs (bank at {charging_v:.1f} V and {controller.headroom_v:g} V of headroom, input from "
                        f"{controller.min_input_v:g} V).",
                        "Wire more panels in series, or check the bank's nominal_v.",
                    )
                )
            if cold_v > controller.max_input_v:
                faults.append(
                    Fault(
                        where,
                        key,
                        f"{cold_v:.1f} V open-circuit at {DESIGN_COLD_C:g} C is over the "
                        f"{controller.max_input_v:g} V that '{controller.name}' bears.",
                        "It would be destroyed: put fewer panels in series, or fit a controller for more volts.",
                    )
                )
    return faults


def array_faults(panels: Sequence[Panel], controllers: Sequence[Controller], bank: Bank, where: str) -> list[Fault]:
    """Return everything that is wrong with panels, strings and controllers.

    Parameters
    ----------
    panels, controllers : sequence
        As the boat file has them.
    bank : Bank
        For the voltage that strings must reach.
    where : str
        Name of the boat file.

    Returns
    -------
    list of Fault
        Empty when all is well.
    """
    faults = [fault for p, panel in enumerate(panels) for fault in _sheet_faults(p, panel, where)]
    faults += _wiring_faults(panels, controllers, where)
    faults += _voltage_faults(panels, controllers, bank, where)
    return faults


def array_warnings(panels: Sequence[Panel], controllers: Sequence[Controller]) -> list[Note]:
    """Return a note on each string whose open-circuit voltage exceeds 50 V DC.

    Parameters
    ----------
    panels, controllers : sequence
        That ``array_faults`` has passed.
    """
    by_name = {panel.name: panel for panel in panels}
    volts = [
        (controller.name, string, math.fsum(_cold_v(by_name[name]) for name in string))
        for controller in controllers
        for string in controller.strings
    ]
    return [
        Note(
            "string_volts",
            {"string": " + ".join(string), "controller": name, "open_v": open_v, "limit_v": EXTRA_LOW_V},
        )
        for name, string, open_v in volts
        if open_v > EXTRA_LOW_V
    ]
