"""What a plan is made from: a passage and all that it names, read and found consistent."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route

if TYPE_CHECKING:
    import xarray as xr

from dataclasses import dataclass
from typing import Any


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


@dataclass(frozen=True, eq=False)
class Inputs:
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
    """

    passage: Passage
    boat: Boat
    route: Route
    forecast: xr.Dataset
    files: dict[str, str]
    ship_offset: timedelta
    passage_file: Path
    overrides: tuple[Override, ...]
