"""What readings compared with the model show of panels, sky, loads, bank and clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from planner.domain.results.note import Note
from planner.domain.results.reconcile.courses import Courses
from planner.domain.ship_clock import ShipOffset
from planner.domain.shown import Shown

Verdict = Literal[
    "as expected",
    "less than expected",
    "more than expected",
    "weak",
    "substring out",
    "panel dark",
    "shaded",
    "clipped",
    "full bank",
    "cannot tell",
]
"""The verdict on a controller's panels: the first that the evidence supports."""

AMISS: Final = frozenset({"weak", "substring out", "panel dark", "shaded"})
"""Verdicts that ask for a look."""

LEVEL: Final = 0.9
"""Part of the intervals here that cover the truth."""


@dataclass(frozen=True)
class Interval:
    """A figure with its interval at ``LEVEL``.

    Attributes
    ----------
    value : float
        Most likely.
    low, high : float
        Ends of the interval, in the value's unit.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class CauseShare:
    """A cause that may be at a controller, and how likely it is.

    Attributes
    ----------
    name : str
        As a verdict, 'gained' or 'none'.
    share : float
        Of all that may be [1].
    """

    name: str
    share: float


@dataclass(frozen=True)
class DayRatio:
    """A controller's yield over the expected on one day, in steps that may be judged.

    Attributes
    ----------
    day : int
        Passage day, from 1 at departure.
    begins : datetime
        UTC.
    ratio : Interval
        Read over expected under the sky that all panels share [1].
    hours : float
        Judged [h].
    read_wh, expected_wh : float
        Over them [Wh].
    """

    day: int
    begins: datetime
    ratio: Interval
    hours: float
    read_wh: float
    expected_wh: float


@dataclass(frozen=True)
class SunBin:
    """A controller's yield over the expected with the sun in one part of the sky.

    Attributes
    ----------
    relative_bearing_deg : float
        Middle of the bin, clockwise from the bow [degree].
    elevation_deg : float
        Middle of the bin [degree].
    ratio : Interval
        Read over expected [1].
    hours : float
        Judged [h].
    """

    relative_bearing_deg: float
    elevation_deg: float
    ratio: Interval
    hours: float


@dataclass(frozen=True)
class ControllerFinding:
    """What the readings of one controller show of its panels.

    Attributes
    ----------
    controller : str
        Its name in the boat file.
    panels : tuple of str
        On it; readings do not tell panels of one controller apart.
    listed_fraction : float
        What the boat file has left of their ratings [0..1]: times it, a ratio is to the whole rating.
    verdict : str
        One of ``Verdict``.
    since : datetime or None
        When it began, UTC; None when it was so from the first reading or there is nothing.
    ratio : Interval or None
        Read over expected, since then, in steps that may be judged [1]; None when there are none.
    change : Interval or None
        After over before a beginning within the log, against the other controllers [1].
    judged_h, clipped_h, full_h, shaded_h : float
        Hours judged, and hours set aside: controller at its limit, bank full, panel in shade by the model [h].
    days : tuple of DayRatio
    by_sun : tuple of SunBin
    causes : tuple of CauseShare
        That may be at it, the likeliest first; empty where it was hardly read.
    evidence : Note
        What it rests on.
    """

    controller: str
    panels: tuple[str, ...]
    listed_fraction: float
    verdict: Verdict
    since: datetime | None
    ratio: Interval | None
    change: Interval | None
    judged_h: float
    clipped_h: float
    full_h: float
    shaded_h: float
    days: tuple[DayRatio, ...]
    by_sun: tuple[SunBin, ...]
    causes: tuple[CauseShare, ...]
    evidence: Note


@dataclass(frozen=True)
class ClockFinding:
    """Whether the log's clock goes right.

    Attributes
    ----------
    fast_min : Interval
        Log's clock less true time [min].
    corrected : bool
        Whether the readings were set back by it before all else.
    evidence : Note
        What it rests on.
    """

    fast_min: Interval
    corrected: bool
    evidence: Note


@dataclass(frozen=True)
class SkyDay:
    """The sky of one day as the panels saw it.

    Attributes
    ----------
    day : int
        Passage day, from 1 at departure.
    found_wh_m2 : Interval
        Global horizontal energy that the panels together show, in daylight with readings [Wh/m2].
    forecast_wh_m2 : tuple of float
        p10, p50, p90 of the forecast's over the same steps [Wh/m2].
    """

    day: int
    found_wh_m2: Interval
    forecast_wh_m2: tuple[float, float, float]


@dataclass(frozen=True)
class SkyFinding:
    """What the sky really was.

    Attributes
    ----------
    days : tuple of SkyDay
    of_forecast : Interval
        Energy found over the forecast's mean [1].
    evidence : Note
        What it rests on.
    """

    days: tuple[SkyDay, ...]
    of_forecast: Interval
    evidence: Note


@dataclass(frozen=True)
class LoadHour:
    """Loads in one hour of the ship's day.

    Attributes
    ----------
    hour : int
        Of ship's time, 0 to 23.
    read_w : Interval or None
        By energy balance: controllers less what went into the bank, engine off [W]; None where nothing was read.
    listed_w : float
        By the boat's list over the same steps [W].
    hours : float
        Judged [h].
    """

    hour: int
    read_w: Interval | None
    listed_w: float
    hours: float


@dataclass(frozen=True)
class LoadFinding:
    """Loads read against the list.

    Attributes
    ----------
    unexplained_w : Interval or None
        Read less listed, mean over the day [W]; None when bank amps, volts or controllers were not read.
    found : bool
        Whether it is more than the list's doubt explains.
    hours : tuple of LoadHour
    judged_h : float
        Hours judged [h].
    evidence : Note
        When it draws, and what on the list would draw about as much.
    since : datetime or None
        When it began, UTC; None when it drew from the first reading or there is nothing.
    spans : tuple of (str, str)
        Ship's-time spans in which it draws, HH:MM; empty when at all hours or there is nothing.
    while_on_w : Interval or None
        What it draws then, since then [W]; None when nothing is found.
    """

    unexplained_w: Interval | None
    found: bool
    hours: tuple[LoadHour, ...]
    judged_h: float
    evidence: Note
    since: datetime | None = None
    spans: tuple[tuple[str, str], ...] = ()
    while_on_w: Interval | None = None


@dataclass(frozen=True)
class BankFinding:
    """The bank by its readings.

    Attributes
    ----------
    capacity_ah : Interval or None
        Today's, from full to empty [Ah]; None when the readings do not show it.
    listed_ah : float
        The boat file's rated capacity times its health [Ah].
    tired : bool
        Whether the capacity's interval lies under the listed.
    evidence : Note
        What it rests on, and what would show more.
    """

    capacity_ah: Interval | None
    listed_ah: float
    tired: bool
    evidence: Note


@dataclass(frozen=True, repr=False)
class Reconciliation(Shown):
    """Readings compared with the model.

    Attributes
    ----------
    boat_file : str
        The boat file that the model went by.
    logs : tuple of str
        Names of the files read.
    first, last : datetime
        Of the readings, UTC.
    clock : ClockFinding
    sky : SkyFinding
    controllers : tuple of ControllerFinding
        In boat order.
    loads : LoadFinding
    bank : BankFinding
    warnings : tuple of str
        What was repaired in the logs, and what could not be judged.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC, along the track.
    courses : Courses
        Read and expected, step by step, from departure to the last reading.
    mapping : str
        How the logs were read, as the TOML file that would say so.
    """

    boat_file: str
    logs: tuple[str, ...]
    first: datetime
    last: datetime
    clock: ClockFinding
    sky: SkyFinding
    controllers: tuple[ControllerFinding, ...]
    loads: LoadFinding
    bank: BankFinding
    warnings: tuple[str, ...]
    ship_offset: ShipOffset
    courses: Courses
    mapping: str = ""

    def headline(self) -> str:
        """Return whether anything is amiss."""
        amiss = [one.controller for one in self.controllers if one.verdict in AMISS]
        words = [f"look at {', '.join(amiss)}"] if amiss else []
        words += ["a load not on the list"] if self.loads.found else []
        words += ["a tired bank"] if self.bank.tired else []
        words += ["the log's clock is off"] if self.clock.corrected else []
        return f"Readings against the model: {'; '.join(words) or 'all as expected'}"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return each finding in a figure."""
        figures = (
            ("clock fast [min]", self.clock.fast_min),
            ("light of the forecast's", self.sky.of_forecast),
            ("load beyond the list [W]", self.loads.unexplained_w),
            ("bank [Ah]", self.bank.capacity_ah),
        )
        return (*((one.controller, one.verdict) for one in self.controllers), *((n, _briefly(f)) for n, f in figures))


def _briefly(figure: Interval | None) -> str:
    return "not told" if figure is None else f"{figure.value:.3g} ({figure.low:.3g} to {figure.high:.3g})"
