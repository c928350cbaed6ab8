"""Write the powers of shaded strings by pvmismatch, for tests/external/test_string_reference.py.

Run it in an environment of its own: ``pip install pvmismatch==4.1``, then
``python scripts/make_string_reference.py tests/external/reference/strings_pvmismatch.json``. Two 36-cell modules
of two substrings each in series, single-diode cells (the second diode switched off), random light on each substring.
"""

from __future__ import annotations

import json
import sys
from importlib.metadata import version
from pathlib import Path

import numpy as np
from pvmismatch.pvmismatch_lib.pvcell import PVcell
from pvmismatch.pvmismatch_lib.pvconstants import PVconstants
from pvmismatch.pvmismatch_lib.pvmodule import PVmodule, standard_cellpos_pat
from pvmismatch.pvmismatch_lib.pvstring import PVstring

CASES = 40
SEED = 20270509
POINTS = 40001  # of each curve; they run far into breakdown, and the default of 101 leaves a dim string no power
LEAST_V = 15.4  # V, what a 12 V bank in absorption asks for
CELL = {"Rs": 0.004, "Rsh": 30.0, "Isat1_T0": 2e-11, "Isat2_T0": 0.0, "Isc0_T0": 5.8, "Eg": 1.1}


def main(target: Path) -> None:
    """Write the reference file."""
    constants = PVconstants(npts=POINTS)
    pattern = standard_cellpos_pat(9, [2, 2])
    where = [np.concatenate([[place["idx"] for place in column] for column in part]) for part in pattern]
    rng = np.random.default_rng(SEED)
    cases = []
    for _ in range(CASES):
        temp_c = round(float(rng.uniform(15.0, 75.0)), 1)
        suns = np.round(np.where(rng.random(4) < 0.5, rng.uniform(0.05, 1.0), rng.uniform(0.05, 1.0, 4)), 3)
        modules = []
        for m in range(2):
            cells = [PVcell(Tcell=temp_c + 273.15, pvconst=constants, **CELL) for _ in range(36)]
            for s in range(2):
                for cell in where[s]:
                    cells[int(cell)].Ee = float(suns[2 * m + s])
            modules.append(PVmodule(cell_pos=pattern, pvcells=cells, pvconst=constants, Vbypass=[-0.5, -0.5]))
        string = PVstring(numberMods=2, pvmods=modules, pvconst=constants)
        current, voltage = string.Istring, string.Vstring
        power = current * voltage
        first = modules[0].pvcells[int(where[0][0])]
        cases.append(
            {
                "temp_c": temp_c,
                "suns": suns.tolist(),
                "light_a_per_sun": float(first.Igen / first.Ee),
                "dark_a": float(first.Isat1),
                "slope_v": float(first.Vt),
                "free_w": float(power.max()),
                "held_w": float(np.where(voltage >= LEAST_V, power, 0.0).max()),
            }
        )
    head = {"made_by": f"pvmismatch {version('pvmismatch')}", "least_v": LEAST_V, "cell": CELL, "cells": 18}
    target.write_text(json.dumps(head | {"cases": cases}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
