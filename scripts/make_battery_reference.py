"""Make the battery reference that tests/external compares the bank with, from two open battery simulators.

Neither is among the project's dependencies. In an environment of their own:

    python -m venv simulators && simulators/bin/pip install pybamm nrel-pysam
    simulators/bin/python scripts/make_battery_reference.py

writes ``tests/external/reference/battery.json`` with the versions that made it.
"""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pybamm
from PySAM import BatteryStateful

OUTPUT = Path(__file__).parents[1] / "tests" / "external" / "reference" / "battery.json"
LEAD_CURRENTS_A = (5.0, 9.3, 15.0, 30.0, 60.0)  # from 100 Ah at the 20-hour rate
LEAD_RATES_H = (20.0, 10.0, 5.0, 1.0)
LFP_RATES_C = (0.5, 0.2)
LFP_LOADED_C = (0.5, 0.05)
MINUTE_H = 1.0 / 60.0


def two_well_hours(current_a: float) -> float:
    """Return the hours that 100, 93 and 60 Ah at 20, 10 and 1 h give at a current, by the system simulator."""
    battery = BatteryStateful.default("LeadAcid")
    cell = battery.ParamsCell
    cell.leadacid_q20, cell.leadacid_q10, cell.leadacid_qn, cell.leadacid_tn = 100.0, 93.0, 60.0, 1.0
    cell.Qfull, cell.resistance = 100.0, 1e-4
    cell.initial_SOC, cell.minimum_SOC, cell.maximum_SOC = 100.0, 0.0, 100.0
    battery.ParamsPack.nominal_energy, battery.ParamsPack.nominal_voltage = 1.2, 12.0
    battery.ParamsPack.T_room_init = 25.0
    battery.value("control_mode", 0.0)
    battery.value("dt_hr", MINUTE_H)
    battery.value("input_current", current_a)
    battery.setup()
    taken_ah = 0.0
    while True:
        battery.execute(0)
        taken_ah += battery.StatePack.I * MINUTE_H
        if current_a - battery.StatePack.I > 1e-6 * current_a:
            return taken_ah / current_a


def porous_electrode_ah(hours: float) -> float:
    """Return the amp-hours down to 1.75 V a cell, nominal capacity over so many hours, by the cell simulator."""
    values = pybamm.ParameterValues("Sulzer2019")
    values["Current function [A]"] = values["Nominal cell capacity [A.h]"] / hours
    solution = pybamm.Simulation(pybamm.lead_acid.Full(), parameter_values=values).solve([0.0, 2.0 * hours * 3600.0])
    return float(solution["Discharge capacity [A.h]"].entries[-1])


def lithium_iron_phosphate(rate_c: float) -> dict[str, float]:
    """Return a charge from empty to 3.55 V and its taper to C/25, and the discharge after it at C/5."""
    values = pybamm.ParameterValues("Prada2013")
    steps = [
        "Discharge at 0.2C until 2.5 V",
        "Rest for 2 hours",
        f"Charge at {rate_c}C until 3.55 V",
        "Hold at 3.55 V until C/25",
        "Rest for 1 hour",
        "Discharge at 0.2C until 2.5 V",
    ]
    simulation = pybamm.Simulation(
        pybamm.lithium_ion.DFN(), experiment=pybamm.Experiment(steps), parameter_values=values
    )
    cycles = simulation.solve(initial_soc=0.5).cycles

    def moved(index: int) -> tuple[float, float, float]:
        hours = cycles[index].steps[0]["Time [h]"].entries
        amps = np.abs(cycles[index].steps[0]["Current [A]"].entries)
        watts = amps * cycles[index].steps[0]["Voltage [V]"].entries
        return hours[-1] - hours[0], float(np.trapezoid(amps, hours)), float(np.trapezoid(watts, hours))

    bulk, taper, back = moved(2), moved(3), moved(5)
    return {
        "rate_c": rate_c,
        "bulk_h": round(bulk[0], 4),
        "taper_h": round(taper[0], 4),
        "bulk_part": round(bulk[1] / (bulk[1] + taper[1]), 4),
        "watt_hours_back": round(back[2] / (bulk[2] + taper[2]), 4),
    }


def half_cells(values: pybamm.ParameterValues) -> list[list[float]]:
    """Return state of charge and rest volts of the published half cells, between the cell's own limits."""
    ends = pybamm.lithium_ion.ElectrodeSOHSolver(values).get_min_max_stoichiometries()
    empty_n, full_n, full_p, empty_p = (float(end) for end in ends)
    cell, kelvin = pybamm.LithiumIonParameters(), pybamm.Scalar(298.15)

    def rest_v(soc: float) -> float:
        positive, negative = empty_p + soc * (full_p - empty_p), empty_n + soc * (full_n - empty_n)
        volts = cell.p.prim.U(pybamm.Scalar(positive), kelvin) - cell.n.prim.U(pybamm.Scalar(negative), kelvin)
        return float(values.evaluate(volts))

    steep = [*np.arange(0.0, 0.1, 0.005), *np.arange(0.1, 0.96, 0.02), *np.arange(0.96, 1.0005, 0.002)]
    return [[round(float(soc), 3), round(rest_v(min(soc, 1.0)), 4)] for soc in steep]


def loaded(rate_c: float) -> dict[str, float | list[list[float]]]:
    """Return state of charge and volts of a discharge and a charge at one rate, each from the other's end."""
    values = pybamm.ParameterValues("Prada2013")
    capacity_ah = values["Nominal cell capacity [A.h]"]
    branches: dict[str, float | list[list[float]]] = {"rate_c": rate_c}
    for name, step, start in (
        ("discharge", f"Discharge at {rate_c}C until 2.5 V", 1.0),
        ("charge", f"Charge at {rate_c}C until 3.55 V", 0.0),
    ):
        simulation = pybamm.Simulation(
            pybamm.lithium_ion.DFN(), experiment=pybamm.Experiment([step]), parameter_values=values
        )
        solution = simulation.solve(initial_soc=start)
        moved = np.abs(solution["Discharge capacity [A.h]"].entries) / capacity_ah
        soc = 1.0 - moved if start else moved
        order = np.argsort(soc)
        volts = solution["Voltage [V]"].entries[order]
        at = np.arange(0.1, 0.951, 0.05)
        branches[name] = [
            [round(float(each), 2), round(float(volt), 4)]
            for each, volt in zip(at, np.interp(at, soc[order], volts), strict=True)
            if soc.min() <= each <= soc.max()
        ]
    return branches


def main() -> None:
    """Run both simulators and write what they say."""
    pybamm.set_logging_level("ERROR")
    reference = {
        "made_with": {name: version(name) for name in ("pybamm", "nrel-pysam")},
        "two_well_hours": [
            {"current_a": current, "hours": round(two_well_hours(current), 4)} for current in LEAD_CURRENTS_A
        ],
        "porous_electrode_ah": [
            {"hours": hours, "amp_hours": round(porous_electrode_ah(hours), 3)} for hours in LEAD_RATES_H
        ],
        "lithium_iron_phosphate": [lithium_iron_phosphate(rate) for rate in LFP_RATES_C],
        "lithium_half_cells": half_cells(pybamm.ParameterValues("Prada2013")),
        "lithium_loaded": [loaded(rate) for rate in LFP_LOADED_C],
    }
    OUTPUT.write_text(json.dumps(reference, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
