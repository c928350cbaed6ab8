"""What a plan holds once computed. Presentation reads these and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route
from planner.domain.policy import Policy
from planner.domain.results.bill import Card, EngineWindow, LaterWatch, WatchRow, WithoutEngine
from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.failures import FailureCard
from planner.domain.results.figures import ReserveKept, Spread, spread_words
from planner.domain.results.note import Note
from planner.domain.results.own_tracks import OwnTracks
from planner.domain.results.studies import HeadingFan
from planner.domain.results.sun_view import SunView
from planner.domain.ship_clock import ShipOffset
from planner.domain.shown import Shown
from planner.domain.voyage import Voyage

if TYPE_CHECKING:
    import xarray as xr


Trouble = Literal["overcast", "day_longer", "other_side", "day_shorter", "waits"]
"""Three overcast days, a day more at sea, wind over the other side, a day less, half a day hove-to off landfall."""


@dataclass(frozen=True)
class Day:
    """Totals of one passage day: 24 hours from the first departure; the first after a replan is what is left of it.

    The last one is what is left, up to four hours more.

    Attributes
    ----------
    day : int
        From 1, the day of the first departure, also after a replan.
    start : datetime
        UTC.
    distance_nm : float
        Sailed over ground [nm].
    solar_wh, curtailed_wh, load_wh : Spread
        At the bus [Wh].
    engine_h, fuel_l : Spread
        Running, whatever for [h, L].
    soc_start, soc_min : Spread
        SOC at the day's start and its lowest [0..1].
    float_h : float
        Time for which the bank is held full, at float, on the planned course [h].
    since_full_d : float
        Since it was last full on the planned course, at the day's start; departure counts as a full charge [d].
    """

    day: int
    start: datetime
    distance_nm: float
    solar_wh: Spread
    curtailed_wh: Spread
    load_wh: Spread
    engine_h: Spread
    fuel_l: Spread
    soc_start: Spread
    soc_min: Spread
    float_h: float
    since_full_d: float


@dataclass(frozen=True)
class LoadPrice:
    """What one load costs.

    Attributes
    ----------
    name : str
        Of the load.
    wh_per_day : float
        Mean over the passage [Wh/d].
    engine_min_per_hour, engine_min_per_day : float
        Engine minutes, with the bank half full, that an hour of its use at its rated draw costs, and its mean day
        [min].
    shed_order : int or None
        When to shed it; None never.
    """

    name: str
    wh_per_day: float
    engine_min_per_hour: float
    engine_min_per_day: float
    shed_order: int | None


@dataclass(frozen=True)
class Stress:
    """The plan in a trouble that the forecast does not hold, its ladders followed.

    Attributes
    ----------
    trouble : str
        One of ``Trouble``.
    begun : datetime or None
        When it begins (UTC); None where it lasts all the passage or is its end.
    lowest_soc : float
        On the planned course [0..1].
    lowest_at : datetime
        When (UTC).
    arrival_soc : float
        At its end, on the planned course [0..1].
    fuel_l : float
        Burnt, on the planned course [L].
    charging_h : float
        Engine only to charge, on the planned course [h].
    kept, members : int
        Members of the forecast that keep the reserve.
    lost_from : datetime or None
        When the first of them falls under it (UTC); None where all keep it.
    """

    trouble: Trouble
    begun: datetime | None
    lowest_soc: float
    lowest_at: datetime
    arrival_soc: float
    fuel_l: float
    charging_h: float
    kept: int
    members: int
    lost_from: datetime | None


@dataclass(frozen=True, eq=False, repr=False)
class Plan(Shown):
    """A computed plan.

    Attributes
    ----------
    voyage : Voyage
        That it was drawn from; what that holds is the plan's own, too, as ``plan.track``.
    losses : xarray.Dataset
        As the glossary has them.
    watches, windows, days, prices
        The bill's rows.
    engine_hours, fuel_l, min_soc : Spread
        Over the passage.
    charging_hours : Spread
        Engine hours that only charge.
    reserve_kept : ReserveKept
        Each member on its own track where ``own_tracks`` is there, as are the spreads of the totals; else on the
        control's.
    warnings, cautions : tuple of Note
        What the reader must know; cautions that every plan calls for are presentation's.
    without_engine : tuple of WithoutEngine
        How long the bank lasts without engine from the first watch of each day on.
    stresses : tuple of Stress
        The plan in trouble; empty where it was not tried.
    sun_views : tuple of SunView
        The boat as the sun sees her on the first bright day.
    later_watches : tuple of LaterWatch
        Past the arrival of the track that is drawn, up to that of the last member.
    card : Card or None
        What each watch of the day does; None where every watch of the passage has a ladder of its own.
    own_tracks : OwnTracks or None
        The plan with every member on its own track; None where that was not asked for, or all have one wind.
    failures : FailureCard or None
        What is left when something fails; None where it was not asked.
    fan : HeadingFan or None
        Other headings in the sunniest early watch; None where they were not computed.
    engine_so_far : EngineSoFar or None
        Before a plan from a fix; None before departure, and where nothing says.
    """

    voyage: Voyage
    losses: xr.Dataset
    watches: tuple[WatchRow, ...]
    windows: tuple[EngineWindow, ...]
    days: tuple[Day, ...]
    prices: tuple[LoadPrice, ...]
    engine_hours: Spread
    charging_hours: Spread
    fuel_l: Spread
    min_soc: Spread
    reserve_kept: ReserveKept
    warnings: tuple[Note, ...]
    cautions: tuple[Note, ...]
    without_engine: tuple[WithoutEngine, ...]
    stresses: tuple[Stress, ...] = ()
    sun_views: tuple[SunView, ...] = ()
    later_watches: tuple[LaterWatch, ...] = ()
    card: Card | None = None
    own_tracks: OwnTracks | None = None
    failures: FailureCard | None = None
    fan: HeadingFan | None = None
    engine_so_far: EngineSoFar | None = None

    @property
    def passage(self) -> Passage:
        """The passage that was planned."""
        return self.voyage.inputs.passage

    @property
    def boat(self) -> Boat:
        """The boat that sails it."""
        return self.voyage.inputs.boat

    @property
    def route(self) -> Route:
        """The waypoints, departure first."""
        return self.voyage.inputs.route

    @property
    def ship_offset(self) -> ShipOffset:
        """Ship's time less UTC."""
        return self.voyage.ship_offset

    @property
    def arrival(self) -> datetime:
        """When she arrives, UTC, within the last step; where the track does not say, when that ends."""
        said = self.track.attrs.get("arrival")
        return datetime.fromisoformat(said) if said else self.voyage.at(self.voyage.steps)

    @property
    def track(self) -> xr.Dataset:
        """``glossary.TRACK``."""
        return self.voyage.track

    @property
    def harvest(self) -> xr.Dataset:
        """``glossary.HARVEST``."""
        return self.voyage.harvest

    @property
    def demand(self) -> xr.Dataset:
        """``glossary.DEMAND``."""
        return self.voyage.demand

    @property
    def ledger(self) -> xr.Dataset:
        """``glossary.LEDGER``, all members."""
        return self.voyage.ledger

    @property
    def planned(self) -> xr.Dataset:
        """The same of one member, on the members' mean weather."""
        return self.voyage.planned

    @property
    def policy(self) -> Policy:
        """The ladders."""
        return self.voyage.policy

    def headline(self) -> str:
        """Return from where to where, and when."""
        first, last = self.route[0].name, self.route[-1].name
        begins, ends = (f"{when.astimezone(UTC):%Y-%m-%d %H:%M}" for when in (self.passage.departure, self.arrival))
        return f"{first} to {last}, {begins} to {ends} UTC"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return how the bank fares, what the engine runs, and how sure that is."""
        kept = self.reserve_kept
        return (
            ("reserve kept", f"{kept.kept} of {kept.members}, {kept.confidence:.0%} asked"),
            ("lowest bank", f"{spread_words(self.min_soc, factor=100.0)} %"),
            ("engine to charge", f"{spread_words(self.charging_hours, 1)} h"),
            ("engine", f"{spread_words(self.engine_hours, 1)} h"),
            ("fuel", f"{spread_words(self.fuel_l)} L"),
            ("warnings", str(len(self.warnings))),
        )
