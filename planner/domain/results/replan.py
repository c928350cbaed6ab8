"""What a plan from a fix finds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.figures import spread_words
from planner.domain.results.note import NOTHING, Note
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipOffset
from planner.domain.shown import Shown


@dataclass(frozen=True)
class ObservedBank:
    """What is known of the bank at the fix.

    Attributes
    ----------
    state_of_charge : float
        Most likely [0..1].
    low, high : float
        Interval of about two standard deviations [0..1].
    source : Note
        Battery monitor, resting volts or both.
    """

    state_of_charge: float
    low: float
    high: float
    source: Note


@dataclass(frozen=True)
class FixMoment:
    """The time of a fix as it was understood.

    Attributes
    ----------
    time : datetime
        UTC.
    day : int
        Of the passage, from 1.
    first_departure : datetime
        From which days are numbered.
    without_day_after : str
        'departure' or 'the last fix', where a ship's time was given without a day and is the first such time after
        that; else empty.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC, from departure to the fix.
    """

    time: datetime
    day: int
    first_departure: datetime
    without_day_after: str
    ship_offset: ShipOffset


@dataclass(frozen=True)
class LastPlan:
    """What an earlier plan foresaw, as its files say.

    Attributes
    ----------
    time : tuple of datetime
        Rows of ``lat``, ``lon`` and ``soc`` [UTC].
    lat, lon, soc : tuple of float
        Planned position [degree] and state of charge [0..1].
    soc_p10, soc_p90 : tuple of float
        Over its members [0..1].
    solar_w, load_w : tuple of float
        Planned, from each row to the next [W].
    engine_on : tuple of float
        Part of each row's time that the engine runs on the planned course [0..1].
    arrival : datetime
        UTC.
    windows : tuple of (datetime, datetime, float)
        Engine runs: start, stop and fuel [UTC, UTC, L].
    charging : tuple of (datetime, datetime)
        Those of them that only charge.
    ladders : tuple of (datetime, tuple of (int, int))
        Start of each watch and its rungs (from percent, minutes), high readings first.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    fuel_aboard_l : float or None
        As it begins [L]; None where the files do not say.
    engine_so_far : EngineSoFar or None
        Before it begins, where it is itself a plan from a fix.
    """

    time: tuple[datetime, ...]
    lat: tuple[float, ...]
    lon: tuple[float, ...]
    soc: tuple[float, ...]
    soc_p10: tuple[float, ...]
    soc_p90: tuple[float, ...]
    solar_w: tuple[float, ...]
    load_w: tuple[float, ...]
    engine_on: tuple[float, ...]
    arrival: datetime
    windows: tuple[tuple[datetime, datetime, float], ...]
    charging: tuple[tuple[datetime, datetime], ...]
    ladders: tuple[tuple[datetime, tuple[tuple[int, int], ...]], ...]
    ship_offset: ShipOffset
    fuel_aboard_l: float | None
    engine_so_far: EngineSoFar | None


@dataclass(frozen=True)
class Change:
    """One thing that is not as the last plan foresaw.

    Attributes
    ----------
    what : Note
        Which figure.
    foreseen, now : Note
        By the last plan, and now.
    why : Note
        What it comes from.
    """

    what: Note
    foreseen: Note
    now: Note
    why: Note = NOTHING


@dataclass(frozen=True, repr=False)
class Replan(Shown):
    """The plan from a fix on, and what changed.

    Attributes
    ----------
    fix : FixMoment
        When it was.
    plan : Plan
        Of the rest of the route.
    bank : ObservedBank
        As observed.
    engine_so_far : EngineSoFar or None
        None when neither log nor last plan says.
    changes : tuple of Change
        Against the last plan; empty without one.
    by_log : tuple of Note
        What a log of readings set, and which typed keys went before it; empty without one.
    """

    fix: FixMoment
    plan: Plan
    bank: ObservedBank
    engine_so_far: EngineSoFar | None
    changes: tuple[Change, ...]
    by_log: tuple[Note, ...] = ()

    def headline(self) -> str:
        """Return where to and from what SOC."""
        return f"From the fix to {self.plan.route[-1].name}, bank {round(100 * self.bank.state_of_charge)} %"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return hours to charge, lowest SOC and how many figures changed."""
        return (
            ("engine to charge", f"{spread_words(self.plan.charging_hours, 1)} h"),
            ("lowest bank", f"{spread_words(self.plan.min_soc, factor=100.0)} %"),
            ("changes", str(len(self.changes))),
        )
