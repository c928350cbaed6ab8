"""Two panels in series on one controller, against each on a controller of its own."""

from __future__ import annotations

from itertools import combinations
from typing import Literal

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.power import Controller, Panel
from planner.domain.results.panels import PairWiring
from planner.domain.results.plan import Plan
from planner.simulation.harvest.array import build_array
from planner.simulation.harvest.collect import panel_harvest
from planner.simulation.harvest.scene import Shading
from planner.simulation.ledger.bank import bank_params
from planner.studies.boats import controller_of
from planner.studies.causes import cast_on
from planner.studies.figures import spread_of
from planner.studies.wiring import alike, reasons, string_faults

Wiring = Literal["series", "parallel", "apart"]


def pair_wirings(plan: Plan) -> tuple[PairWiring, ...]:
    """Try both wirings of each pair of like panels, under the shadows of the plan, which are cast once.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of PairWiring
        In boat order; each pair is alone on copies of the first one's controller.
    """
    shading = cast_on(plan.track, plan.harvest, plan.boat, plan.passage.model)
    pairs = combinations(plan.boat.panel, 2)
    return tuple(_wiring(plan, shading, first, second) for first, second in pairs if alike(first, second))


def _wiring(plan: Plan, shading: Shading, first: Panel, second: Panel) -> PairWiring:
    pattern, bank = controller_of(plan.boat.controller, first.name), plan.boat.bank
    series = pattern.model_copy(update={"name": "series", "strings": ((first.name, second.name),)})
    own = tuple(
        pattern.model_copy(update={"name": panel.name, "strings": ((panel.name,),)}) for panel in (first, second)
    )
    not_series = string_faults((first, second), pattern, bank)
    not_own = [fault for panel in (first, second) for fault in string_faults((panel,), pattern, bank)]
    series_wh = None if not_series else _energy_wh(plan, shading, (series,))
    own_wh = None if not_own else _energy_wh(plan, shading, own)
    return PairWiring(
        first=first.name,
        second=second.name,
        wired_now=_wired_now(plan.boat, first.name, second.name),
        series_wh=None if series_wh is None else spread_of(series_wh),
        own_wh=None if own_wh is None else spread_of(own_wh),
        gain_wh=None if series_wh is None or own_wh is None else spread_of(own_wh - series_wh),
        failure=reasons(not_series),
        own_failure=reasons(not_own),
    )


def _energy_wh(plan: Plan, shading: Shading, controllers: tuple[Controller, ...]) -> Floats:
    """Return what these controllers could deliver over the passage, (member + 1,), the mean last [Wh]."""
    bus_v = bank_params(plan.boat.bank).absorption_v
    array = build_array(plan.boat.panel, controllers, bus_v=bus_v, soiling=plan.boat.soiling, rig=plan.boat.rig)
    powers = panel_harvest(plan.track, plan.harvest, shading, array)
    members = powers["controller_power_w"].sum(axis=(1, 2)) * plan.voyage.step_s / 3600.0
    return np.append(members, members.mean())


def _wired_now(boat: Boat, first: str, second: str) -> Wiring:
    for controller in boat.controller:
        if any(first in string and second in string for string in controller.strings):
            return "series"
        names = [name for string in controller.strings for name in string]
        if first in names and second in names:
            return "parallel"
    return "apart"
