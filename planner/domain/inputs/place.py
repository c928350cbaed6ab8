"""Places on deck where another panel could lie."""

from __future__ import annotations

from typing import Annotated

from planner.domain.inputs.fields import IN_METRES, Bearing, Between, Breadth, Finite, Input, Name, Point, Tilt
from planner.domain.inputs.power import Mounting


class Place(Input):
    """Room for one panel more.

    Attributes
    ----------
    name : str
        Unique on the boat.
    centre_m : point
        Middle of the panel's face in the boat frame [m].
    max_length_m : float
        Room along the boat, before tilting [m].
    max_width_m : float
        Room across the boat, before tilting [m].
    tilt_deg : float
        Angle of a panel's face there from the deck plane [degree].
    tilt_toward_deg : float
        Relative bearing that its face looks toward [degree].
    mounting : str
        How heat leaves a panel there.
    max_mass_kg : float, optional
        What it can carry: canvas carries little [kg].
    """

    name: Name
    centre_m: Point
    max_length_m: Annotated[Finite, Between(0.05, 60.0, "a lamp's panel to the whole deck", IN_METRES)]
    max_width_m: Breadth
    tilt_deg: Tilt = 0.0
    tilt_toward_deg: Bearing = 0.0
    mounting: Mounting
    max_mass_kg: (
        Annotated[Finite, Between(0.05, 10_000.0, "a strip of canvas to a deckhouse", "Is it in kilograms?")] | None
    ) = None
