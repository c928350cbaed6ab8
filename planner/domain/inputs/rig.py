"""Spars, sails and deck gear as the boat file describes them.

Boat frame: origin at the mast foot on deck, x forward, y to port, z up, metres.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from planner.domain.inputs.fields import (
    IN_METRES,
    Along,
    Between,
    Breadth,
    Finite,
    Fraction,
    Height,
    Input,
    Name,
    Point,
    Usual,
)

Luff = Annotated[
    Finite,
    Between(2.0, 90.0, "a dinghy's to the tallest mast afloat", IN_METRES),
    Usual(4.0, 60.0, "a small cruiser's to the tallest sloop's"),
]
SparRadius = Annotated[
    Finite,
    Between(0.01, 1.0, "a sprit to a boom that holds its sail", IN_METRES),
    Usual(0.02, 0.3, "half the breadth of a section, not all of it"),
]
TubeRadius = Annotated[
    Finite,
    Between(0.0005, 1.0, "a wire of 1 mm to a funnel", IN_METRES),
    Usual(0.001, 0.15, "half the breadth: a wire to a post"),
]


class Sprayhood(Input):
    """Canvas shelter over the companionway: an arched front and a flat top.

    Attributes
    ----------
    front_x_m : float
        Foot of the windscreen, along x [m].
    aft_x_m : float
        After edge of the top, along x [m].
    width_m : float
        Breadth [m].
    height_m : float
        Above the deck [m].
    transmission : float
        Part of the light that passes [0..1]; its window is counted with the canvas.
    """

    front_x_m: Along
    aft_x_m: Along
    width_m: Breadth
    height_m: Height
    transmission: Fraction = 0.05


class Bimini(Input):
    """Flat awning over the cockpit.

    Attributes
    ----------
    front_x_m : float
        Forward edge, along x [m].
    aft_x_m : float
        After edge, along x [m].
    width_m : float
        Breadth [m].
    height_m : float
        Above the deck [m].
    transmission : float
        Part of the light that passes [0..1].
    """

    front_x_m: Along
    aft_x_m: Along
    width_m: Breadth
    height_m: Height
    transmission: Fraction = 0.05


class Arch(Input):
    """Stern arch of tube: two legs and a crossbar.

    Attributes
    ----------
    x_m : float
        Where its crossbar stands, along x from the mast; aft is below 0 [m].
    width_m : float
        From leg to leg [m].
    height_m : float
        Of its crossbar above the deck [m].
    tube_radius_m : float
        Radius of the tube [m].
    """

    x_m: Along
    width_m: Breadth
    height_m: Height
    tube_radius_m: TubeRadius = 0.02


class ShapePolygon(Input):
    """A flat convex polygon that the boat file adds.

    Attributes
    ----------
    name : str
        What it is.
    corners_m : tuple of point
        Three to eight corners in order [m].
    transmission : float
        Part of the light that passes [0..1].
    """

    name: Name
    corners_m: tuple[Point, ...] = Field(min_length=3, max_length=8)
    transmission: Fraction = 0.0


class ShapeTube(Input):
    """A straight tube that the boat file adds: a stay, an aerial, a radar post.

    Attributes
    ----------
    name : str
        What it is.
    from_m : point
        One end of its axis [m].
    to_m : point
        The other end [m].
    radius_m : float
        Radius [m].
    """

    name: Name
    from_m: Point
    to_m: Point
    radius_m: TubeRadius


class ShapeRadome(Input):
    """A radome or another upright drum.

    Attributes
    ----------
    name : str
        What it is.
    centre_m : point
        Its middle [m].
    diameter_m : float
        Across [m].
    height_m : float
        Of the drum itself [m].
    """

    name: Name
    centre_m: Point
    diameter_m: Annotated[Finite, Between(0.05, 5.0, "an aerial's foot to a satellite dome", IN_METRES)]
    height_m: Annotated[Finite, Between(0.02, 5.0, "an aerial's foot to a satellite dome", IN_METRES)]


class Rig(Input):
    """Spars, sails and deck gear that throw shadows, from the dimensions that sailmakers use.

    Attributes
    ----------
    i_m : float
        Height of the foretriangle above the deck, to the forestay's head [m].
    j_m : float
        Its base, from the mast to the forestay's foot [m].
    p_m : float
        Luff of the mainsail [m].
    e_m : float
        Foot of the mainsail [m].
    boom_height_m : float
        Gooseneck above deck at the mast [m].
    deck_height_m : float
        Deck at the mast above the water [m].
    mast_radius_m : float
        Half the mean breadth of the mast's section [m].
    boom_radius_m : float
        Half the mean breadth of the boom's section [m].
    stowed_sail_radius_m : float
        What the mainsail adds to the boom's radius when all of it lies there [m]; a hand's breadth (recalled).
    headsail_overlap : float
        Perpendicular from luff to clew over J (1.35 is a 135 % sail).
    headsail_tack_height_m : float
        Tack above deck [m].
    sail_transmission : float
        Part of the light that sailcloth passes [0..1]; about a tenth (recalled).
    sail_reflection : float
        Part of the rest that it throws back, evenly to all sides [0..1]; white cloth about 0.6 (recalled).
    sprayhood : Sprayhood, optional
        Canvas shelter over the companionway.
    bimini : Bimini, optional
        Flat awning over the cockpit.
    arch : Arch, optional
        Stern arch of tube.
    polygons : tuple of ShapePolygon
        Flat shapes of the boat's own: a hard top, a dinghy on davits, a mizzen set flat.
    tubes : tuple of ShapeTube
        Stays, shrouds and posts; not the forestay, which the dimensions give.
    radomes : tuple of ShapeRadome
        Radar and satellite domes.
    """

    i_m: Luff
    j_m: Annotated[Finite, Between(0.5, 25.0, "a third of the hull's length and more", IN_METRES)]
    p_m: Luff
    e_m: Annotated[Finite, Between(0.5, 30.0, "a boom ends within the hull", IN_METRES)]
    boom_height_m: Annotated[
        Finite,
        Between(0.1, 8.0, "over the deckhouse of the largest", IN_METRES),
        Usual(0.5, 4.0, "over the coachroof, within a crew's reach"),
    ]
    deck_height_m: Annotated[
        Finite,
        Between(0.1, 8.0, "a dinghy's to a large ship's boat deck", IN_METRES),
        Usual(0.5, 3.0, "a yacht's freeboard"),
    ] = 1.2
    mast_radius_m: SparRadius = 0.08
    boom_radius_m: SparRadius = 0.08
    stowed_sail_radius_m: Annotated[
        Finite,
        Between(0.0, 1.5, "a mainsail of 600 m2 in lazy jacks", IN_METRES),
        Usual(0.0, 0.4, "a hand's breadth and more"),
    ] = 0.08
    headsail_overlap: Annotated[
        Finite,
        Between(0.2, 2.5, "a staysail to the largest genoa", "It is a part of J: a 135 % sail is 1.35."),
        Usual(0.7, 1.7, "a blade jib to a large genoa"),
    ] = 1.1
    headsail_tack_height_m: Annotated[Finite, Between(0.0, 10.0, "flown high over a bowsprit", IN_METRES)] = 0.4
    sail_transmission: Fraction = 0.1
    sail_reflection: Fraction = 0.6
    sprayhood: Sprayhood | None = None
    bimini: Bimini | None = None
    arch: Arch | None = None
    polygons: tuple[ShapePolygon, ...] = ()
    tubes: tuple[ShapeTube, ...] = ()
    radomes: tuple[ShapeRadome, ...] = ()
