"""A cutter of our own, panels on it, and tracks with one trim, for the tests of shade."""

from __future__ import annotations

import numpy as np
import xarray as xr

from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Arch, Bimini, Rig, Sprayhood
from planner.simulation.harvest.scene import Shading, cast

RIG = Rig(
    i_m=15.0,
    j_m=4.5,
    p_m=13.0,
    e_m=4.8,
    boom_height_m=2.0,
    sprayhood=Sprayhood(front_x_m=-1.6, aft_x_m=-2.8, width_m=2.4, height_m=1.25),
    bimini=Bimini(front_x_m=-3.8, aft_x_m=-5.7, width_m=2.3, height_m=1.7),
    arch=Arch(x_m=-6.6, width_m=2.9, height_m=2.15),
)


def panel(
    name: str,
    centre_m: tuple[float, float, float],
    *,
    length_m: float = 1.0,
    width_m: float = 0.6,
    tilt_deg: float = 0.0,
    tilt_toward_deg: float = 0.0,
    substrings: int = 3,
    parallel_strings: int = 1,
) -> Panel:
    """Return a panel of 36 cells in series, 6 along and 6 across, or of as many in each of several strings."""
    return Panel(
        name=name,
        centre_m=centre_m,
        length_m=length_m,
        width_m=width_m,
        tilt_deg=tilt_deg,
        tilt_toward_deg=tilt_toward_deg,
        mounting="open",
        max_power_w=100.0,
        max_power_v=20.0,
        max_power_a=5.0,
        open_circuit_v=24.0,
        short_circuit_a=5.4,
        cells=36,
        substrings=substrings,
        parallel_strings=parallel_strings,
    )


ARCH_PORT, ARCH_STARBOARD, BIMINI_PORT, BIMINI_STARBOARD, COACHROOF = range(5)
PANELS = (
    panel("arch port", (-6.6, 0.7, 2.22)),
    panel("arch starboard", (-6.6, -0.7, 2.22)),
    panel("bimini port", (-4.75, 0.6, 1.72)),
    panel("bimini starboard", (-4.75, -0.6, 1.72)),
    panel("coachroof", (-0.95, 0.0, 0.45)),
)


def track(
    *,
    heading_deg: object = 0.0,
    heel_deg: object = 0.0,
    pitch_deg: object = 0.0,
    roll_deg: object = 0.0,
    boom_deg: object = 0.0,
    hoist: object = 1.0,
    headsail_set: object = 0.0,
    headsail_deg: object = 0.0,
    tack: object = 1.0,
) -> xr.Dataset:
    columns = {
        "heading_deg": heading_deg,
        "heel_deg": heel_deg,
        "pitch_deg": pitch_deg,
        "roll_amplitude_deg": roll_deg,
        "boom_angle_deg": boom_deg,
        "mainsail_hoist_fraction": hoist,
        "headsail_set_fraction": headsail_set,
        "headsail_angle_deg": headsail_deg,
        "tack": tack,
    }
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(column, dtype=float)) for column in columns.values()))
    return xr.Dataset({name: ("time", array.copy()) for name, array in zip(columns, arrays, strict=True)})


def shade(
    steps: xr.Dataset,
    azimuth_deg: object,
    elevation_deg: object,
    *,
    rig: Rig = RIG,
    panels: tuple[Panel, ...] = PANELS,
    points: int = 16,
    nodes: int = 1,
) -> Shading:
    count = steps.sizes["time"]
    sun = [np.broadcast_to(np.asarray(angle, dtype=float), count) for angle in (azimuth_deg, elevation_deg)]
    return cast(steps, *sun, rig=rig, panels=panels, points=points, roll_nodes=nodes)


def lit_panels(shading: Shading) -> np.ndarray:
    """Mean light of each panel's cells, (time, panel), mean over the roll."""
    cells = np.split(shading.cell_lit, shading.cell_first[1:-1], axis=2)
    return np.einsum("ptn,n->tp", np.stack([lit.mean(axis=2) for lit in cells]), shading.node_weight)
