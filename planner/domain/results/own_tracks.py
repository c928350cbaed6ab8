"""The plan when each member of the forecast sails its own track."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from planner.domain.results.figures import Count

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class Percentiles:
    """A figure over the members.

    Attributes
    ----------
    p10, p50, p90 : float
        Read linearly between the sorted members.
    """

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class Arrivals:
    """When the members arrive.

    Attributes
    ----------
    p10, p50, p90 : datetime or None
        UTC; None where so few arrive that the percentile falls on those that do not.
    """

    p10: datetime | None
    p50: datetime | None
    p90: datetime | None


@dataclass(frozen=True, eq=False)
class OwnTracks:
    """The plan's ladders followed by the clock, each member sailing by its own wind and current.

    Attributes
    ----------
    members : int
        Of the forecast.
    arrived : int
        Those that arrive as far as the forecast serves; the others are followed up to there.
    arrival : Arrivals
        To the end of the last step.
    arrival_soc : Percentiles
        SOC at arrival, or where the forecast ends [0..1].
    as_wanted : Count
        Of the members, those that arrive with the SOC that was wanted or more.
    min_soc : Percentiles
        Lowest SOC [0..1].
    charging_hours, engine_hours : Percentiles
        Engine only to charge; whatever for [h].
    starts : Percentiles
        Of the engine, only to charge.
    fuel_l : Percentiles
        Burnt [L].
    quiet_broken : Count
        Of the members, those that charge in quiet hours since the reserve is near.
    tracks : xarray.Dataset
        ``glossary.OWN_TRACKS``: along ``obs`` one member after another, from ``time`` on (UTC), ``row_size`` steps
        each; ``trajectory`` holds the members, ``arrival`` when each is there (NaT: not), by the plan's policy and a
        meter without error; with the attribute ``step_s`` [s].
    """

    members: int
    arrived: int
    arrival: Arrivals
    arrival_soc: Percentiles
    as_wanted: Count
    min_soc: Percentiles
    charging_hours: Percentiles
    starts: Percentiles
    engine_hours: Percentiles
    fuel_l: Percentiles
    quiet_broken: Count
    tracks: xr.Dataset
