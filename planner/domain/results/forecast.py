"""What forecast files hold and how it was understood: the result of looking at them without planning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from planner.domain.errors import Fault
from planner.domain.shown import Shown

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class Grid:
    """A grid as a file has it.

    Attributes
    ----------
    south, north, west, east : float
        Its outermost points, ``east`` above ``west`` [degree].
    rows, columns : int
        Points along each way.
    step_lat_deg, step_lon_deg : float or None
        From one point to the next [degree]; of a projected grid along its rows; None where there is one point.
    from_north, from_east : bool
        Whether the first row is the northernmost, the first column the easternmost.
    projected : bool
        Whether every point has a latitude and a longitude of its own.
    """

    south: float
    north: float
    west: float
    east: float
    rows: int
    columns: int
    step_lat_deg: float | None
    step_lon_deg: float | None
    from_north: bool
    from_east: bool
    projected: bool


@dataclass(frozen=True)
class ForecastFile:
    """One file that was looked at.

    Attributes
    ----------
    name : str
    size_bytes : int
        0 where there is none.
    issued : datetime or None
        When its forecast began, UTC.
    faults : tuple of Fault
        Why nothing of it can be used; empty for a sound file.
    unused : tuple of str
        What it holds beside the planner's quantities.
    """

    name: str
    size_bytes: int
    issued: datetime | None
    faults: tuple[Fault, ...]
    unused: tuple[str, ...]


@dataclass(frozen=True)
class HeldVariable:
    """A variable that was understood; where many files hold it as one, it is listed once.

    Attributes
    ----------
    name, units_found : str
        As the files have them.
    quantity, words : str
        What it was taken for: the reader's key, and in words.
    units : str
        That it was brought to.
    low, high : float
        Of the values looked at, in those units.
    files : tuple of str
        Their names.
    issued : tuple of datetime
        Starts of the forecasts that it comes from, rising, UTC.
    first, last : datetime
        Times given, UTC; of spans, the end of the first and of the last.
    times : int
    steps_h : tuple of float
        From time to time, in the order in which they first occur [h].
    members : int
    numbered : bool
        Whether members have numbers of their own; else they count in the order of the files.
    grid : Grid
    reading : str
        Of what files give as means or sums over spans: which, and since when; of sunlight that it holds at its
        times; else empty.
    spans_h : tuple of float
        Of these: lengths of the spans after parting them [h]; 0 for what then holds at its times.
    """

    name: str
    units_found: str
    quantity: str
    words: str
    units: str
    low: float
    high: float
    files: tuple[str, ...]
    issued: tuple[datetime, ...]
    first: datetime
    last: datetime
    times: int
    steps_h: tuple[float, ...]
    members: int
    numbered: bool
    grid: Grid
    reading: str
    spans_h: tuple[float, ...]


@dataclass(frozen=True)
class RefusedVariable:
    """A variable that was taken for a quantity and cannot be read as that.

    Attributes
    ----------
    name, units_found : str
        As the file has them.
    words : str
        What it was taken for.
    faults : tuple of Fault
        Why.
    needed : bool
        Whether a plan is refused for it; else it is set aside.
    """

    name: str
    units_found: str
    words: str
    faults: tuple[Fault, ...]
    needed: bool


@dataclass(frozen=True)
class Use:
    """What a plan takes for one of its needs.

    Attributes
    ----------
    need : str
        Such as 'sunlight'.
    taken : str
        From what; empty where nothing is held.
    otherwise : str
        What a plan does without it.
    state : {'held', 'missing', 'spared'}
        Missing is what stops a plan; spared is what it can do without.
    """

    need: str
    taken: str
    otherwise: str
    state: Literal["held", "missing", "spared"]


@dataclass(frozen=True, eq=False, repr=False)
class ForecastAccount(Shown):
    """What one forecast of one or several files holds.

    Attributes
    ----------
    files : tuple of ForecastFile
    held : tuple of HeldVariable
    refused : tuple of RefusedVariable
    uses : tuple of Use
    faults : tuple of Fault
        Of putting the files together.
    notes : tuple of str
        What was repaired, or read into what the files leave open; a plan passes these on as warnings.
    stride : int
        Of large grids every so many-th row and column was looked at; 1 for all.
    departure : datetime or None
        That its age is given for.
    route_only : bool
        Whether the corridor of a route was looked at, as a plan does, and not all.
    joined : xarray.Dataset or None
        What was understood on common axes, under the glossary's names, as far as it was looked at; None where it
        cannot be put together.
    """

    files: tuple[ForecastFile, ...]
    held: tuple[HeldVariable, ...]
    refused: tuple[RefusedVariable, ...]
    uses: tuple[Use, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    stride: int
    departure: datetime | None
    route_only: bool
    joined: xr.Dataset | None

    @property
    def all_faults(self) -> tuple[Fault, ...]:
        """Whatever stops a plan, but for what is missing."""
        of_files = [fault for file in self.files for fault in file.faults]
        of_variables = [fault for one in self.refused if one.needed for fault in one.faults]
        return (*of_files, *of_variables, *self.faults)

    @property
    def can_plan(self) -> bool:
        """Whether a plan can be made with these files and nothing else."""
        return not self.all_faults and all(use.state != "missing" for use in self.uses)

    def headline(self) -> str:
        """Return which files were looked at."""
        return f"Forecast of {len(self.files)} file{'s' if len(self.files) > 1 else ''}: {self.files[0].name}"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return what is held, what is missing, and whether a plan can be made."""
        return (
            ("held", ", ".join(one.name for one in self.held) or "nothing"),
            ("missing", ", ".join(use.need for use in self.uses if use.state == "missing") or "nothing"),
            ("a plan can be made", "yes" if self.can_plan else "no"),
        )
