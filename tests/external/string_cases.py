"""Random shadings, temperatures and wirings of strings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.physics.diode import Diode, at_conditions, fit_diode
from planner.physics.strings import COLUMNS, TAKEOVER, complete_row

Floats = npt.NDArray[np.float64]

SHEETS: Final = (  # invented: Vmp, Imp, Voc, Isc, cells, substrings
    (18.6, 5.38, 22.2, 5.75, 36, 2),
    (18.3, 10.93, 21.9, 11.6, 36, 2),
    (37.4, 9.9, 45.2, 10.5, 72, 3),
)


@dataclass(frozen=True, eq=False)
class StringCase:
    """Strings of one controller: rows of each, wire, and the voltage that it asks for."""

    strings: list[Floats]
    wire_ohm: float
    least_v: float


def _diode(sheet: tuple[float, float, float, float, int, int]) -> Diode:
    power_v, power_a, open_v, short_a, cells, _ = sheet
    diode = fit_diode(
        max_power_v=power_v,
        max_power_a=power_a,
        open_circuit_v=open_v,
        short_circuit_a=short_a,
        cells=cells,
        power_per_c=-0.0038,
        voltage_per_c=-0.0029,
        current_per_c=0.0005,
    )
    assert diode is not None
    return diode


def string_cases(count: int, *, seed: int) -> Iterator[StringCase]:
    """Yield cases: one string of one to three panels, or two or three strings of one or two, some lit alike."""
    rng = np.random.default_rng(seed)
    diodes = [_diode(sheet) for sheet in SHEETS]
    for _ in range(count):
        kind = int(rng.integers(len(SHEETS)))
        strings = int(rng.choice([1, 1, 2, 3]))
        panels = int(rng.integers(1, 4 if strings == 1 else 3))
        substrings = SHEETS[kind][5]
        temp_c = rng.uniform(5.0, 80.0)
        rows = []
        for _ in range(strings):
            suns = rng.uniform(0.01, 1.0, panels * substrings)
            # Shade is often all or nothing: diffuse light here, full sun there.
            alike = rng.random(suns.size) < 0.5
            suns[alike] = rng.choice([0.12, 0.85])
            temps = temp_c + rng.normal(0.0, 1.0)
            rows.append(_rows(diodes[kind], substrings, suns, float(temps)))
        yield StringCase(rows, float(rng.choice([0.0, 0.03, 0.08])), float(rng.choice([0.0, 13.0, 15.4])))


def _rows(diode: Diode, substrings: int, suns: Floats, temp_c: float) -> Floats:
    amps, dark, slope = at_conditions(diode.light_a, diode.dark_a, diode.slope_v, diode.light_a_per_c, temp_c)
    levels = np.zeros((suns.size, COLUMNS))
    for row, sun in enumerate(suns):
        shunt = substrings * sun / diode.shunt_ohm
        levels[row, :6] = (amps * sun, dark, slope / substrings, diode.series_ohm / substrings, shunt, 1.0)
        complete_row(levels, row)
    return levels[np.argsort(levels[:, TAKEOVER])]
