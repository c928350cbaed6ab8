"""What a plan is made from: a passage and all that it names, read and found consistent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.failure import Failure
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, Thinned, Waypoint
from planner.domain.shown import Shown

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class Override:
    """One ``--set KEY=VALUE``.

    Attributes
    ----------
    key : str
        Dotted key into the passage file, or into the boat file after ``boat.``.
    value : object
        Read as a TOML value; a bare word is a string.
    """

    key: str
    value: Any


@dataclass(frozen=True)
class SeenSky:
    """By how much the light that panels showed lets a forecast's be off.

    Attributes
    ----------
    at : datetime
        UTC; from then on it is forgotten.
    error : float
        Expected then, on the scale of ``physics.sky.doubt`` [1].
    """

    at: datetime
    error: float


@dataclass(frozen=True, eq=False, repr=False)
class Inputs(Shown):
    """What a plan is made from, read and found consistent.

    Attributes
    ----------
    passage : Passage
    boat : Boat
    route : Route
    forecast : xarray.Dataset
        The corridor of the route, as the file has it, with what is typed by hand.
    files : dict of str to str
        Names to SHA-256, or to the size where a file is huge.
    ship_offset : timedelta
        Ship's time less UTC at departure.
    passage_file : Path
        Where it was read from.
    overrides : tuple of Override
        What was set before validation.
    thinned : Thinned or None
        Of the route, where its file holds too many points.
    failed : tuple of Failure
        What boat and passage are planned without, from the start on; they stand changed by it.
    refuges : tuple of Waypoint
        Ports of refuge, as the passage file has them.
    seen_sky : SeenSky or None
        What the panels showed of the forecast's light so far; None where nothing is known.
    """

    passage: Passage
    boat: Boat
    route: Route
    forecast: xr.Dataset
    files: dict[str, str]
    ship_offset: timedelta
    passage_file: Path
    overrides: tuple[Override, ...]
    thinned: Thinned | None = None
    failed: tuple[Failure, ...] = ()
    refuges: tuple[Waypoint, ...] = ()
    seen_sky: SeenSky | None = None

    def headline(self) -> str:
        """Return from where to where, and when."""
        return f"{self.route[0].name} to {self.route[-1].name}, departs {self.passage.departure.isoformat()}"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return what the forecast, the panels and the bank are."""
        bank = self.boat.bank
        return (
            ("forecast", f"{self.forecast.sizes['member']} members"),
            ("panels", f"{len(self.boat.panel)}, {sum(panel.max_power_w for panel in self.boat.panel):.0f} W"),
            ("bank", f"{bank.capacity_ah * bank.health:.0f} Ah {bank.chemistry}"),
            ("read from", str(self.passage_file)),
        )
