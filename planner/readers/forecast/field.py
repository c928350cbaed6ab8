"""A quantity as it was read from a file, or why it was not, and the dataset that it is read from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault
from planner.domain.results.forecast import Grid
from planner.readers.forecast.grids.grid import Axes, Cut
from planner.readers.forecast.sunlight.flux import Reading
from planner.readers.forecast.sunlight.kinds import OpenLight
from planner.readers.forecast.values import Values

if TYPE_CHECKING:
    import xarray as xr

Gaps = Literal["filled", "left"]
DIRECT = "direct_w_m2"


@dataclass(frozen=True, eq=False)
class Field:
    """One quantity read from one file.

    Attributes
    ----------
    quantity, name, units : str
        Its key in ``TERMS``, and name and units as the file has them.
    file : str
        The file's name.
    values : array (member, time, lat, lon)
        In the planner's units.
    member : array of float
        Numbers as the file has them; NaN when it does not say.
    time, lat, lon : array
        Rising; for a mean over spans, the time at which each ends.
    start : array of datetime64 or None
        Where each span begins; None for what holds at its times.
    issued : datetime64 or None
        When the forecast began, UTC.
    notes : tuple of str
        What was repaired or had to be read into the file.
    grid : Grid
        As the file has it.
    reading : str
        Of a flux, over which spans its values were read; else empty.
    """

    quantity: str
    name: str
    units: str
    file: str
    values: Values
    member: Floats
    time: Times
    lat: Floats
    lon: Floats
    start: Times | None
    issued: np.datetime64 | None
    notes: tuple[str, ...]
    grid: Grid
    reading: str = ""


@dataclass(frozen=True)
class Refused:
    """A variable that was taken for a quantity and cannot be read as that.

    Attributes
    ----------
    quantity, name, units : str
        As those of ``Field``.
    faults : tuple of Fault
        Why.
    open_light : OpenLight or None
        Where it is sunlight that can be read in several ways.
    """

    quantity: str
    name: str
    units: str
    faults: tuple[Fault, ...]
    open_light: OpenLight | None = None


@dataclass(frozen=True, eq=False)
class Source:
    """One dataset of a file, and what is wanted of it.

    Attributes
    ----------
    part : xarray.Dataset
        On a regular grid.
    turned : mapping of str to str
        By quantity, what was done to it.
    where : str
        File name, for messages.
    axes : Axes
    nodes : Cut
        Wanted of them.
    grid : Grid
        As the file has it.
    gaps : {'filled', 'left'}
        What is done about missing values.
    sunlight : str or None
        What its values are, in the words of ``flux.GIVEN``, where that is known from elsewhere.
    of_light : list of Reading
        How its sunlight was read so far.
    """

    part: xr.Dataset
    turned: Mapping[str, str]
    where: str
    axes: Axes
    nodes: Cut
    grid: Grid
    gaps: Gaps
    sunlight: str | None
    of_light: list[Reading]
