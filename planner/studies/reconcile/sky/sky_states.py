"""What each controller could deliver at every step of a track under every sky between overcast and bright.

Shade does not depend on the sky, so a lattice of made skies costs little more than one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Model
from planner.domain.inputs.power import Panel
from planner.simulation.harvest.collect import collect_under, views
from planner.simulation.harvest.scene import beam_on
from planner.studies.reconcile.sky.made_sky import made_skies

if TYPE_CHECKING:
    import xarray as xr


INDICES: Final = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.25)  # 1, clear-sky index
LEANS: Final = (-1.0, 0.0, 1.0)  # 1, an even veil, the usual share of beam, broken cloud
BRIGHT: Final = 0.9  # 1, clear-sky index at which faults of the wiring are tried
UNDER_M: Final = 0.005  # m, by which a panel's dark part is laid lower, to throw no shadow on the rest
OFF_DEG: Final = (  # degree; how far off motion and trim may be for a while, the project's own
    (("heading_deg",), 8.0),
    (("heel_deg",), 4.0),
    (("boom_angle_deg", "headsail_angle_deg"), 8.0),
)
DARK_W: Final = 1e-3  # W, under which a logarithm says nothing
LEAST_LEFT: Final = 0.02  # 1, of a controller's power: less is as good as nothing


@dataclass(frozen=True, eq=False)
class States:
    """Controllers' power over the lattice of skies.

    Attributes
    ----------
    index, lean : array (index,), (lean,)
        Clear-sky index and lean of the beam, as ``made_skies`` has them [1].
    log_w : array (index, lean, time, controller)
        Natural logarithm of the power in watts.
    """

    index: Floats
    lean: Floats
    log_w: Floats

    def at(self, log_index: Floats, lean: Floats) -> tuple[Floats, Floats, Floats]:
        """Return the logarithm of power and its slopes, each (..., time, controller).

        Parameters
        ----------
        log_index, lean : array (..., time)
            Natural logarithm of the clear-sky index, and lean; carried on beyond the lattice's ends [1].

        Returns
        -------
        log_w, by_log_index, by_lean : array (..., time, controller)
            [1].
        """
        knots = np.log(self.index)
        i = np.clip(np.searchsorted(knots, log_index) - 1, 0, knots.size - 2)
        j = np.clip(np.searchsorted(self.lean, lean) - 1, 0, self.lean.size - 2)
        wide, broad = (knots[i + 1] - knots[i])[..., None], (self.lean[j + 1] - self.lean[j])[..., None]
        x = (log_index - knots[i])[..., None] / wide
        y = (lean - self.lean[j])[..., None] / broad
        t = np.arange(self.log_w.shape[2])
        corner = [[self.log_w[i + a, j + b, t] for b in (0, 1)] for a in (0, 1)]
        low = corner[0][0] + x * (corner[1][0] - corner[0][0])
        high = corner[0][1] + x * (corner[1][1] - corner[0][1])
        rise = (1.0 - y) * (corner[1][0] - corner[0][0]) + y * (corner[1][1] - corner[0][1])
        return low + y * (high - low), rise / wide, (high - low) / broad


def sky_states(track: xr.Dataset, sky: xr.Dataset, *, boat: Boat, bus_v: float, model: Model) -> xr.Dataset:
    """Return the harvest under every sky of the lattice, made as the plan's own is.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it.
    sky : xarray.Dataset
        The glossary's sky along it; a harvest will do. Air and rain are taken from it.
    boat : Boat
    bus_v : float
        Voltage that the controllers charge at [V].
    model : Model
        For points and roll nodes.

    Returns
    -------
    xarray.Dataset
        The glossary's harvest; ``member`` is the sky, its ``clear_index`` and ``beam_lean`` are coordinates. And
        ``surely_lit_fraction`` (time, panel), the least that the beam reaches of a panel when heading, heel and trim
        are some degrees off.
    """
    index, lean = (grid.ravel() for grid in np.meshgrid(INDICES, LEANS, indexing="ij"))
    states = _under(track, sky, boat=boat, bus_v=bus_v, model=model, index=index, lean=lean)
    about = {"units": "1", "long_name": "part of the panel that the beam reaches however she moves"}
    states["surely_lit_fraction"] = (("time", "panel"), _surely_lit(track, states, boat=boat, model=model), about)
    return states


def states_of(states: xr.Dataset) -> States:
    """Return the lattice of ``sky_states`` as arrays."""
    index, lean = (np.unique(states[name].to_numpy()) for name in ("clear_index", "beam_lean"))
    power = states["controller_power_w"].to_numpy()
    shaped = power.reshape(index.size, lean.size, *power.shape[1:])
    return States(index, lean, np.log(np.maximum(shaped, DARK_W)))


@dataclass(frozen=True, eq=False)
class Dark:
    """What a controller delivers with a part of one panel dark.

    Attributes
    ----------
    panel : str
    part : {'substring', 'panel'}
    log_ratio : array (time,)
        Logarithm of its power over that of the whole in a bright sky; NaN by night [1].
    """

    panel: str
    part: Literal["substring", "panel"]
    log_ratio: Floats


def dark_ratios(
    track: xr.Dataset, sky: xr.Dataset, *, boat: Boat, bus_v: float, model: Model
) -> dict[str, tuple[Dark, ...]]:
    """Return what each controller would deliver with one substring or one panel dark, over what it does whole.

    Parameters
    ----------
    track, sky, boat, bus_v, model
        As for ``sky_states``.

    Returns
    -------
    dict of str to tuple of Dark
        By controller: each of its panels that has more than one substring, and each where there are several.
    """

    def bright(one_boat: Boat) -> Floats:
        one, none = np.array([BRIGHT]), np.zeros(1)
        harvest = _under(track, sky, boat=one_boat, bus_v=bus_v, model=model, index=one, lean=none)
        return np.asarray(harvest["controller_power_w"].to_numpy()[0], dtype=np.float64)

    whole = bright(boat)
    found: dict[str, tuple[Dark, ...]] = {}
    for c, controller in enumerate(boat.controller):
        names = [name for string in controller.strings for name in string]
        panels = [panel for panel in boat.panel if panel.name in names]
        parts: list[tuple[str, Literal["substring", "panel"], Boat]] = [
            (panel.name, "substring", substring_dark(boat, panel.name)) for panel in panels if panel.substrings > 1
        ]
        if len(panels) > 1:
            parts += [(panel.name, "panel", _panel_dark(boat, panel.name)) for panel in panels]
        full = np.where(whole[:, c] > 1.0, whole[:, c], np.nan)
        found[controller.name] = tuple(
            Dark(name, part, np.log(np.maximum(bright(ill)[:, c] / full, LEAST_LEFT))) for name, part, ill in parts
        )
    return found


def _panel_dark(boat: Boat, name: str) -> Boat:
    dark = {"age_years": 1.0, "ageing_per_year": 1.0}
    panels = (panel.model_copy(update=dark) if panel.name == name else panel for panel in boat.panel)
    return boat.model_copy(update={"panel": tuple(panels)})


def substring_dark(boat: Boat, name: str) -> Boat:
    """Return the boat with one substring of a panel dark: the panel as two in series, one of them without light."""
    panels, controllers = [], []
    dark_name = f"{name}, dark"
    for panel in boat.panel:
        panels.append(panel)
        if panel.name == name:
            lit, dark = _parted(panel, panel.substrings - 1), _parted(panel, 1)
            x, y, z = panel.centre_m
            panels[-1] = lit
            panels.append(
                dark.model_copy(
                    update={
                        "name": dark_name,
                        "centre_m": (x, y, z - UNDER_M),
                        "age_years": 1.0,
                        "ageing_per_year": 1.0,
                    }
                )
            )
    for controller in boat.controller:
        strings = tuple(
            tuple(part for one in string for part in ((one, dark_name) if one == name else (one,)))
            for string in controller.strings
        )
        controllers.append(controller.model_copy(update={"strings": strings}))
    return boat.model_copy(update={"panel": tuple(panels), "controller": tuple(controllers)})


def _parted(panel: Panel, substrings: int) -> Panel:
    """Return so many of a panel's substrings as a panel where it lies."""
    part = substrings / panel.substrings
    return panel.model_copy(
        update={
            "substrings": substrings,
            "cells_along": None,
            "cells_across": None,
            "cells": round(panel.cells * part),
            "max_power_w": panel.max_power_w * part,
            "max_power_v": panel.max_power_v * part,
            "open_circuit_v": panel.open_circuit_v * part,
        }
    )


def _surely_lit(track: xr.Dataset, states: xr.Dataset, *, boat: Boat, model: Model) -> Floats:
    """Return the least lit part of each panel with her motion and trim some degrees off, (time, panel)."""
    azimuth, elevation = (states[name].to_numpy() for name in ("sun_azimuth_deg", "sun_elevation_deg"))
    cell_first = np.cumsum([0, *(panel.cells * panel.parallel_strings for panel in boat.panel)])
    least = np.asarray(states["beam_lit_fraction"].to_numpy()[0], dtype=np.float64)
    for names, off_deg in OFF_DEG:
        for sign in (-1.0, 1.0):
            moved = track.assign({name: track[name] + sign * off_deg for name in names})
            beam = beam_on(
                moved,
                azimuth,
                elevation,
                rig=boat.rig,
                panels=boat.panel,
                points=model.points,
                roll_nodes=model.roll_nodes,
            )
            _, open_view, beam_view = views(beam, cell_first)
            lit = np.divide(beam_view, open_view, out=np.zeros_like(beam_view), where=open_view > 0.0)
            least = np.minimum(least, lit)
    return least


def _under(
    track: xr.Dataset, sky: xr.Dataset, *, boat: Boat, bus_v: float, model: Model, index: Floats, lean: Floats
) -> xr.Dataset:
    harvest = collect_under(
        track,
        made_skies(track, sky, clear_index=index, beam_lean=lean),
        rig=boat.rig,
        panels=boat.panel,
        controllers=boat.controller,
        soiling=boat.soiling,
        bus_v=bus_v,
        points=model.points,
        roll_nodes=model.roll_nodes,
    )
    return harvest.assign_coords(clear_index=("member", index), beam_lean=("member", lean))
