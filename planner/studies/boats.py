"""The boat with something taken off, and what a panel is wired to."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.power import Controller
from planner.domain.inputs.rig import Rig

HAIR_M = 1e-6  # m; a spar this thick shades nothing
WHOLE = 1.0  # 1


def dark(boat: Boat) -> Boat:
    """Return the boat with panels so aged that none of them yields anything."""
    panels = tuple(panel.model_copy(update={"age_years": 1.0, "ageing_per_year": WHOLE}) for panel in boat.panel)
    return boat.model_copy(update={"panel": panels})


def without_boom(rig: Rig) -> Rig:
    """Return a rig whose boom is as thin as a hair, a sail stowed on it too."""
    return without_stowed_sail(rig).model_copy(update={"boom_radius_m": HAIR_M})


def without_stowed_sail(rig: Rig) -> Rig:
    """Return a rig whose mainsail has no bulk when it lies on the boom."""
    return rig.model_copy(update={"stowed_sail_radius_m": 0.0})


def controller_of(controllers: Sequence[Controller], panel: str) -> Controller:
    """Return the controller that a panel is wired to."""
    return next(controller for controller in controllers if any(panel in string for string in controller.strings))
