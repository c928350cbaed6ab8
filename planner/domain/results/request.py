"""The smallest order of a forecast that serves a passage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from planner.domain.shown import Shown


@dataclass(frozen=True)
class Area:
    """A box of latitudes and longitudes, both ends nodes of the grid.

    Attributes
    ----------
    south, north : float
        [degree].
    west, east : float
        In [-180, 180); where east is below west the box lies across the antimeridian [degree].
    west_360, east_360 : float
        The same in [0, 360); where east is below west the box lies across Greenwich [degree].
    rows, columns : int
        Nodes along each way.
    """

    south: float
    north: float
    west: float
    east: float
    west_360: float
    east_360: float
    rows: int
    columns: int

    @property
    def over_antimeridian(self) -> bool:
        """Whether the box lies across the 180th meridian."""
        return self.east < self.west


@dataclass(frozen=True)
class WantedVariable:
    """A quantity to ask for.

    Attributes
    ----------
    words : str
        What it is.
    standard_name : str
        Of CF.
    height_m : float or None
        Above ground [m].
    holds : {'moments', 'spans'}
        Whether it is given at each time, or as mean or sum since the time before.
    bits : int
        Of a value, packed: as fine as a plan can use [1].
    """

    words: str
    standard_name: str
    height_m: float | None
    holds: Literal["moments", "spans"]
    bits: int


@dataclass(frozen=True)
class Thinned:
    """What was taken away to keep a limit.

    Attributes
    ----------
    what : {'rain', 'spacing_deg', 'members', 'step_h', 'hours'}
    before, after : float
        In the units of the name; of rain, how many variables.
    """

    what: Literal["rain", "spacing_deg", "members", "step_h", "hours"]
    before: float
    after: float


@dataclass(frozen=True, repr=False)
class ForecastRequest(Shown):
    """What to ask a forecast service for, whichever it is.

    Attributes
    ----------
    passage : str
        Name of its file.
    area : Area
    spacing_deg : float
        Of the grid [degree].
    first, last : datetime
        Times that are wanted, UTC.
    step_h : float
        From time to time [h].
    times : int
    hours : float
        From first to last [h].
    members : int
        Control and perturbed together; 1 is a single run.
    variables : tuple of WantedVariable
    kilobytes : float
        As GRIB 2 in simple packing, of 1000 bytes.
    limit_kilobytes : float or None
    thinned : tuple of Thinned
        In the order in which it was done.
    cut_short : bool
        Whether the passage goes on beyond what is asked for: the rest is planned on the season's light.
    """

    passage: str
    area: Area
    spacing_deg: float
    first: datetime
    last: datetime
    step_h: float
    times: int
    hours: float
    members: int
    variables: tuple[WantedVariable, ...]
    kilobytes: float
    limit_kilobytes: float | None
    thinned: tuple[Thinned, ...]
    cut_short: bool

    def headline(self) -> str:
        """Return what it is for, and how large."""
        return f"Forecast to ask for: {self.passage}, {self.kilobytes:.0f} kB"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return the order's main figures."""
        area = self.area
        return (
            ("area", f"lat {area.south:g} to {area.north:g}, lon {area.west:g} eastward to {area.east:g}"),
            ("spacing", f"{self.spacing_deg:g} degree"),
            ("times", f"{self.times}, every {self.step_h:g} h from {self.first:%Y-%m-%d %H:%M} UTC"),
            ("members", str(self.members)),
            ("variables", ", ".join(each.standard_name for each in self.variables)),
        )
