"""The boat as the sun sees it at one moment, flat shapes ready to draw."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

Ring = tuple[tuple[float, float], ...]
Kind = Literal["hull", "deck", "sail", "canvas", "gear", "spar", "panel", "back", "cell", "substring", "shadow"]
"""What a shape is; ``back`` is a panel from behind; cells, substrings and shadows lie on the panel before them."""

DIM: Final = 0.5  # 1; a cell that gets less of its beam counts as dim


@dataclass(frozen=True)
class SunShape:
    """One shape on a plane square to the sunlight.

    Attributes
    ----------
    kind : str
        What it is.
    rings : tuple of ring
        Outlines, inner ones cut out: to the right and up as the sun looks, from the mast foot [m]. Cells in the same
        light are one shape, a ring each.
    passed : float
        Part of the light that passes, or that reaches a cell [0..1].
    """

    kind: Kind
    rings: tuple[Ring, ...]
    passed: float = 0.0


@dataclass(frozen=True)
class SunOnPanel:
    """How one panel stands to the sun.

    Attributes
    ----------
    name : str
        Of the panel.
    middle_m : tuple of float
        Where its middle is drawn [m].
    lit : float
        Part that the beam reaches, mean over the roll; 0 where it is turned away [0..1].
    facing : float
        Cosine of incidence at the mean heel, 0 where it is turned away [0..1].
    cells, dim_cells : int
        How many it has, and how many get less than ``DIM`` of their beam at the mean heel [1].
    """

    name: str
    middle_m: tuple[float, float]
    lit: float
    facing: float
    cells: int
    dim_cells: int


@dataclass(frozen=True)
class SunView:
    """What the sun sees of the boat at her mean heel.

    Attributes
    ----------
    time : datetime
        UTC.
    sun_azimuth_deg, sun_elevation_deg : float
        Where the sun stands [degree].
    off_bow_deg : float
        Its bearing off the bow, positive to starboard [degree].
    heading_deg, heel_deg : float
        How the boat lies [degree].
    shapes : tuple of SunShape
        From the farthest to the nearest; each panel is followed by its cells, its substrings and the shadows on it.
    panels : tuple of SunOnPanel
        In boat order.
    """

    time: datetime
    sun_azimuth_deg: float
    sun_elevation_deg: float
    off_bow_deg: float
    heading_deg: float
    heel_deg: float
    shapes: tuple[SunShape, ...]
    panels: tuple[SunOnPanel, ...]
