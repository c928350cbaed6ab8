"""Random shadows over a panel's cells, and the cases that they make, sorted by what they do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely
from cell_by_cell import (
    BYPASS_V,
    PANELS,
    Attitude,
    Case,
    Floats,
    Layout,
    LitPanel,
    held_power,
    parallel_curve,
    string_curve,
    substring_curves,
)

Surface = tuple[shapely.Geometry, float]
FAR_M = 4.0  # m, beyond any panel
KINDS = {"mast": 0.2, "boom": 0.2, "shroud": 0.1, "sail": 0.2, "spot": 0.3}  # and how often
SHADED = ("0", "1-2", "3-8", "9+", "half or more")


def random_shadow(rng: np.random.Generator, layout: Layout) -> Floats:
    """Lit part of each cell (cells,) under one surface or two, by exact areas."""
    count = 1 if rng.random() < 0.6 else 2
    kinds = rng.choice(list(KINDS), count, p=list(KINDS.values()))
    return lit_parts(layout, [_surface(rng, layout, str(kind)) for kind in kinds])


def lit_parts(layout: Layout, surfaces: list[Surface]) -> Floats:
    """What one or two surfaces leave of the light of each cell (cells,): where both lie, their parts multiply."""
    i, j = np.divmod(np.arange(layout.cells), layout.cells_across)
    dx, dy = layout.length_m / layout.cells_along, layout.width_m / layout.cells_across
    cells = shapely.box(i * dx, j * dy, (i + 1) * dx, (j + 1) * dy)
    lost = np.zeros(layout.cells)
    for shape, passed in surfaces:
        lost += (1.0 - passed) * shapely.area(shapely.intersection(cells, shape))
    if len(surfaces) == 2:
        (one, passed), (other, passed_too) = surfaces
        both = shapely.intersection(cells, shapely.intersection(one, other))
        lost -= (1.0 - passed) * (1.0 - passed_too) * shapely.area(both)
    return np.clip(1.0 - lost / (dx * dy), 0.0, 1.0)


def _surface(rng: np.random.Generator, layout: Layout, kind: str) -> Surface:
    """One shadow's outline on the panel's plane, and the part of the light that it passes."""
    at = np.array([rng.uniform(-0.1, 1.1) * layout.length_m, rng.uniform(-0.1, 1.1) * layout.width_m])
    # shadows lie along the boat, across it or anyhow
    angle = rng.choice([0.0, np.pi / 2.0, rng.uniform(0.0, np.pi)]) + rng.normal(0.0, 0.05)
    if kind == "mast":
        return _band(at, angle, rng.uniform(0.12, 0.35)), 0.0
    if kind == "boom":
        return _band(at, angle, rng.uniform(0.1, 0.2)), 0.0
    if kind == "shroud":
        return _band(at, angle, rng.uniform(0.01, 0.05)), rng.uniform(0.3, 0.9)
    if kind == "spot":
        return shapely.Point(*at).buffer(rng.uniform(0.03, 0.3) / 2.0, quad_segs=8), rng.choice([0.0, 0.0, 0.3])
    if rng.random() < 0.6:
        return _band(at + FAR_M * np.array([-np.sin(angle), np.cos(angle)]), angle, 2.0 * FAR_M), rng.uniform(0, 0.15)
    corners = at + rng.normal(0.0, 0.7, (3, 2))
    return shapely.Polygon(corners), rng.uniform(0.0, 0.15)


def _band(at: Floats, angle: float, width_m: float) -> shapely.Geometry:
    """A band about a point, over the panel from end to end."""
    along = 2.0 * FAR_M * np.array([np.cos(angle), np.sin(angle)])
    aside = 0.5 * width_m * np.array([-np.sin(angle), np.cos(angle)])
    return shapely.Polygon([at - along - aside, at + along - aside, at + along + aside, at - along + aside])


def random_panel(rng: np.random.Generator, kind: str, *, clear: bool) -> LitPanel:
    """A panel of a kind under a random light, in the clear or in a shadow."""
    layout, figures = PANELS[kind]
    lit = np.ones(layout.cells) if clear else random_shadow(rng, layout)
    light = rng.uniform(100.0, 950.0) * lit + rng.uniform(40.0, 250.0)
    return LitPanel(layout, figures, light, rng.uniform(15.0, 65.0))


def single_panels(count: int, *, seed: int) -> Iterator[Case]:
    """One panel alone, free or held above a 12 V bank; one in twenty in the clear."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        panel = random_panel(rng, str(rng.choice(list(PANELS))), clear=rng.random() < 0.05)
        yield Case([Attitude(1.0, [[panel]])], least_v=float(rng.choice([0.0, 0.0, 15.4])))


def rolling_arrays(count: int, *, seed: int, tracker: str) -> Iterator[Case]:
    """One to three panels of a kind in series or side by side over three attitudes, with a wire."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        kind = str(rng.choice(list(PANELS)))
        wiring = [(1,), (2,), (3,), (1, 1), (2, 1), (1, 1, 1)][int(rng.integers(6))]
        layout, figures = PANELS[kind]
        temp_c, diffuse = rng.uniform(15.0, 65.0), rng.uniform(40.0, 250.0)
        attitudes = []
        for beam in rng.uniform(100.0, 950.0) * rng.uniform(0.7, 1.0, 3):
            strings = [
                [
                    LitPanel(layout, figures, beam * _maybe(rng, layout) + diffuse, temp_c + rng.normal(0.0, 1.0))
                    for _ in range(panels)
                ]
                for panels in wiring
            ]
            attitudes.append(Attitude(1.0 / 3.0, strings))
        yield Case(attitudes, float(rng.choice([0.0, 0.03, 0.08])), float(rng.choice([0.0, 13.0, 15.4])), tracker)


def _maybe(rng: np.random.Generator, layout: Layout) -> Floats:
    return random_shadow(rng, layout) if rng.random() < 0.6 else np.ones(layout.cells)


class Solved(NamedTuple):
    """A lone panel's most power, and which stratum it belongs to: cells shaded, and what the bypass diodes do."""

    watts: float
    shaded: str
    bypass: str


def solve(case: Case) -> Solved:
    """Solve a lone panel.

    Its bypass diodes are ``idle`` or ``in use`` where it gives most, or ``nearly`` the other: the best with a diode
    conducting and the best with none are within a fifth of each other.
    """
    ((panel,),) = case.attitudes[0].strings
    light = np.asarray(panel.light_w_m2)
    dim = int((light < 0.995 * light.max()).sum())
    parts = substring_curves(panel)
    whole = string_curve(parts)
    held = held_power([parallel_curve([whole])], [1.0], case.wire_ohm, case.least_v)
    amps = np.interp(-held.volts, -whole.volts, whole.amps)
    lowest = np.min([np.interp(amps, part.amps, part.volts) for part in parts], axis=0)
    conducts = lowest <= -BYPASS_V + 1e-6
    used, idle = (float(held.amps[one].max(initial=0.0)) for one in (conducts, ~conducts))
    shaded = SHADED[4] if 2 * dim >= light.size else SHADED[int(np.searchsorted([0, 2, 8], dim))]
    if min(used, idle) > 0.8 * max(used, idle):
        return Solved(max(used, idle), shaded, "nearly")
    return Solved(max(used, idle), shaded, "in use" if used > idle else "idle")
