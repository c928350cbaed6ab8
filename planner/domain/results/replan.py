"""What a plan from a fix finds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.figures import ReserveKept, spread_words
from planner.domain.results.note import NOTHING, Note
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipOffset
from planner.domain.shown import Shown

WORTH_COPYING_MIN: Final = 30.0  # min of engine; for less no crew strikes out a card that they know (common practice)


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
class LastLadder:
    """A watch's ladder in an earlier plan.

    Attributes
    ----------
    start, end : datetime
        Of the watch [UTC].
    rungs : tuple of (int, int)
        From percent and minutes, high readings first.
    stop_percent : int
        At which a run ends [%].
    """

    start: datetime
    end: datetime
    rungs: tuple[tuple[int, int], ...]
    stop_percent: int


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
    ladders : tuple of LastLadder
        Watch by watch, those after the planned arrival, too.
    standing : tuple of int or None
        Readings at which the engine is started in any watch, and stopped [%].
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
    ladders: tuple[LastLadder, ...]
    standing: tuple[int, int] | None
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


@dataclass(frozen=True)
class LastCard:
    """The card of the last plan tried from the fix on, beside the one made anew, on the same courses and meters.

    Attributes
    ----------
    kept, kept_anew : ReserveKept
        By each, its thresholds read up to a percent off.
    run_min, run_anew_min : float
        Mean running to charge by each [min].
    """

    kept: ReserveKept
    kept_anew: ReserveKept
    run_min: float
    run_anew_min: float

    @property
    def keeps(self) -> bool:
        """Whether it keeps the reserve as often as was asked, or no less often than the new one."""
        return self.kept.as_asked or self.kept.kept >= self.kept_anew.kept

    @property
    def holds(self) -> bool:
        """Whether the crew may go on by it: it keeps the reserve, and a new one saves little engine."""
        return self.keeps and self.run_min - self.run_anew_min <= WORTH_COPYING_MIN


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
    last_card : LastCard or None
        None without a last plan.
    by_log : tuple of Note
        What a log of readings set, and which typed keys went before it; empty without one.
    """

    fix: FixMoment
    plan: Plan
    bank: ObservedBank
    engine_so_far: EngineSoFar | None
    changes: tuple[Change, ...]
    last_card: LastCard | None = None
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
