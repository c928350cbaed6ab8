"""What is wrong with panels, strings and controllers as the boat file has them, and what is to be noted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from planner.domain.errors import Fault, suggest
from planner.domain.inputs.power import Bank, Controller, Panel
from planner.domain.results.note import Note
from planner.physics.array.layout import divides
from planner.simulation.harvest.array import cell_grid, sheet_diode

DESIGN_COLD_C: Final = -10.0  # C, coldest cells at which a string's open-circuit voltage is checked (common practice)
CHARGING_OVER_NOMINAL: Final = 1.2  # 1, 14.4 V on a 12 V bank: what it charges at where the file does not say
EXTRA_LOW_V: Final = 50.0  # V DC, above which a shock is a danger (common practice, recalled)
POWER_TOLERANCE: Final = 0.05  # 1, rounding of data sheets


def cold_v(panel: Panel) -> float:
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
    elif not faults:
        faults += _layout_faults(key, panel, where)
    if not faults and sheet_diode(panel) is None:
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


def _layout_faults(key: str, panel: Panel, where: str) -> list[Fault]:
    """Return what is wrong with where a panel's cells lie."""
    total = panel.cells * panel.parallel_strings
    try:
        along, across = cell_grid(panel)
    except ValueError:
        return [
            Fault(
                where,
                f"{key}.parallel_strings",
                f"{total} cells of '{panel.name}' fit no grid that {panel.substrings} substrings and "
                f"{panel.parallel_strings} strings side by side divide.",
                "Check substrings_across, or state cells_along and cells_across.",
            )
        ]
    wired = divides(
        along,
        across,
        substrings=panel.substrings,
        parallel=panel.parallel_strings,
        across=panel.substrings_across,
    )
    if along * across == total and wired:
        return []
    return [
        Fault(
            where,
            f"{key}.cells_along",
            f"{along} x {across} cells of '{panel.name}' are not the {total} of its data sheet, or its "
            f"{panel.substrings} substrings and {panel.parallel_strings} strings side by side do not divide them.",
            "Count the cells along length_m and along width_m; the substrings divide the side that "
            "substrings_across names.",
        )
    ]


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
            coldest_v = math.fsum(cold_v(by_name[name]) for name in string)
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
            if coldest_v > controller.max_input_v:
                faults.append(
                    Fault(
                        where,
                        key,
                        f"{coldest_v:.1f} V open-circuit at {DESIGN_COLD_C:g} C is over the "
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
    """Return a note on each string whose open-circuit voltage exceeds 50 V DC, and on layouts that are not stated.

    Parameters
    ----------
    panels, controllers : sequence
        That ``array_faults`` has passed.
    """
    by_name = {panel.name: panel for panel in panels}
    grids: dict[tuple[int, int], list[str]] = {}
    for panel in panels:
        if panel.cells_along is None and panel.cells_across is None and panel.cells > 1:
            grids.setdefault(cell_grid(panel), []).append(panel.name)
    layouts = [
        Note("cells_assumed", {"panels": ", ".join(names), "along": along, "across": across})
        for (along, across), names in grids.items()
    ]
    volts = [
        (controller.name, string, math.fsum(cold_v(by_name[name]) for name in string))
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
    ] + layouts
