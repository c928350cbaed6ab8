"""What a plan holds once computed. Presentation reads these and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route
from planner.domain.policy import Policy, Trial
from planner.domain.results.engine_so_far import EngineSoFar
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


Trouble = Literal["overcast", "day_longer", "other_side"]
"""Three overcast days, a day more at sea, or the wind over the other side."""


@dataclass(frozen=True)
class EngineWindow:
    """One run of the engine on the planned course.

    Attributes
    ----------
    start, stop : datetime
        UTC.
    role : str
        Who is on watch at the start.
    propels : bool
        True when the engine drives the boat and charges for nothing.
    expected_ah : float
        Charge into the bank [Ah].
    fuel_l : float
        Fuel burnt [L].
    reason : Note
        Why.
    """

    start: datetime
    stop: datetime
    role: str
    propels: bool
    expected_ah: float
    fuel_l: float
    reason: Note


@dataclass(frozen=True)
class Rung:
    """One rung of a ladder: at this reading or more, up to the next rung, so many minutes.

    Attributes
    ----------
    from_percent : int
        Lowest meter reading of the rung [%].
    minutes : int
        Engine in this watch [min].
    """

    from_percent: int
    minutes: int


@dataclass(frozen=True)
class Stop:
    """When to stop a charging run: whichever comes first.

    Attributes
    ----------
    soc_percent : int
        Meter reading [%].
    amp_hours : int
        Amp-hours put in since the start of the run [Ah].
    tail_a : int
        Charging current that has fallen to this [A].
    """

    soc_percent: int
    amp_hours: int
    tail_a: int


@dataclass(frozen=True)
class EngineDead:
    """If the engine is dead from the start of this watch.

    Attributes
    ----------
    hours_left : float or None
        Hours until the reserve is reached in the poor tenth of the weather; None when it is not reached.
    find_out_by : datetime or None
        Latest time (UTC) at which shedding everything that may be shed still keeps the reserve; None when
        shedding is not needed or not enough.
    """

    hours_left: float | None
    find_out_by: datetime | None


@dataclass(frozen=True)
class WatchRow:
    """One watch of the bill.

    Attributes
    ----------
    day : int
        Day of the passage from 1.
    start, end : datetime
        UTC.
    role : str
        Who stands it.
    heading_magnetic_deg, wind_from_deg, wind_kn : float
        Circular mean heading, true wind over the water; its mean speed [degree, degree, kn].
    tack : int
        +1 starboard, -1 port, most of the watch.
    under_engine_min : int
        Minutes that the engine drives the boat [min].
    soc : Spread
        SOC at the start [0..1].
    solar_wh, load_wh : Spread
        Over the watch [Wh].
    engine_min : int
        Charging run on the planned course [min].
    earliest : datetime or None
        First moment (UTC) at which charging is allowed; None when it never is.
    ladder : tuple of Rung
        From high reading to low; covers 0 to 100 %.
    stop : Stop
        When to stop.
    charge_current_a : float or None
        Bank current, as the shunt shows it, ten minutes into a run begun when first allowed, at a SOC at which the
        ladder asks for one; None where none is, or where the bank is too full for it to say anything [A].
    deferrable : tuple of str
        Loads to run in this watch.
    wake_soc_percent : int
        Wake the skipper below this reading [%].
    wake_v, wake_a, wake_min : float, float, int
        Whatever the meter shows, below these volts at the bank, while no more than these amps are drawn, for so many
        minutes [V, A, min].
    dead : EngineDead
        Engine dead from now.
    skip_cost_min : int
        Later engine minutes that skipping this watch's run costs [min].
    reason : Note
        Why the engine runs, or why not.
    """

    day: int
    start: datetime
    end: datetime
    role: str
    heading_magnetic_deg: float
    wind_from_deg: float
    wind_kn: float
    tack: int
    under_engine_min: int
    soc: Spread
    solar_wh: Spread
    load_wh: Spread
    engine_min: int
    earliest: datetime | None
    ladder: tuple[Rung, ...]
    stop: Stop
    charge_current_a: float | None
    deferrable: tuple[str, ...]
    wake_soc_percent: int
    wake_v: float
    wake_a: float
    wake_min: int
    dead: EngineDead
    skip_cost_min: int
    reason: Note


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


@dataclass(frozen=True)
class LoadPrice:
    """What one load costs.

    Attributes
    ----------
    name : str
        Of the load.
    wh_per_day : float
        Mean over the passage [Wh/d].
    engine_min_per_watch : float
        Engine minutes that four hours of it cost with the bank half full [min].
    shed_order : int or None
        When to shed it; None never.
    """

    name: str
    wh_per_day: float
    engine_min_per_watch: float
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
    charging_h : float
        Engine only to charge, on the planned course [h].
    kept, members : int
        Members of the forecast that keep the reserve.
    """

    trouble: Trouble
    begun: datetime | None
    lowest_soc: float
    lowest_at: datetime
    charging_h: float
    kept: int
    members: int


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
        On members held out: each on its own track where ``own_tracks`` is there, else on the control's.
    control_kept : ReserveKept or None
        The same trials on the control's track; None where ``reserve_kept`` is that.
    warnings, cautions : tuple of Note
        What the reader must know; cautions that every plan calls for are presentation's.
    stresses : tuple of Stress
        The plan in trouble; empty where it was not tried.
    sun_views : tuple of SunView
        The boat as the sun sees her on the first bright day.
    trials : tuple of Trial
        With which ``reserve_kept`` was found.
    own_tracks : OwnTracks or None
        The plan with every member on its own track; None where that was not asked for, or all have one wind.
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
    stresses: tuple[Stress, ...] = ()
    sun_views: tuple[SunView, ...] = ()
    trials: tuple[Trial, ...] = ()
    control_kept: ReserveKept | None = None
    own_tracks: OwnTracks | None = None
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
        """When the last step ends, UTC."""
        return self.voyage.at(self.voyage.steps)

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
