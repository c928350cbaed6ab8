"""What many logs together tell of each controller's panels: days judged, months, a trend, evidence for a claim."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from planner.domain.reconcile_results import Interval, Verdict


@dataclass(frozen=True)
class JudgedDay:
    """A controller's yield over the expected on one passage day.

    Attributes
    ----------
    controller : str
    begins : datetime
        The passage day's beginning, UTC.
    ratio : Interval
        Read over expected of panels that give their whole rating [1].
    hours : float
        Judged [h].
    read_wh, expected_wh : float
        Over them; expected by the boat file of that time [Wh].
    verdict : str
        Of the reconcile that judged it.
    boat_sha256 : str
        Of the boat file that it went by.
    """

    controller: str
    begins: datetime
    ratio: Interval
    hours: float
    read_wh: float
    expected_wh: float
    verdict: Verdict
    boat_sha256: str


@dataclass(frozen=True)
class SetAside:
    """Hours of a log that say nothing of a controller's panels.

    Attributes
    ----------
    controller : str
    clipped_h, full_h, shaded_h : float
        Controller at its limit, bank full, panel in shade [h].
    """

    controller: str
    clipped_h: float
    full_h: float
    shaded_h: float


@dataclass(frozen=True)
class JudgedLog:
    """One reconcile.

    Attributes
    ----------
    file : str
        In the folder of history.
    logs : tuple of str
        That it read.
    boat_file, boat_sha256 : str
        That it went by.
    written : datetime
        UTC.
    day_begins : tuple of datetime
        Beginnings of the passage days that it holds, those without a judged hour too, UTC.
    aside : tuple of SetAside
        A controller each.
    """

    file: str
    logs: tuple[str, ...]
    boat_file: str
    boat_sha256: str
    written: datetime
    day_begins: tuple[datetime, ...]
    aside: tuple[SetAside, ...]


@dataclass(frozen=True)
class History:
    """All reconciles of a folder, no day twice.

    Attributes
    ----------
    days : tuple of JudgedDay
        By controller and time.
    logs : tuple of JudgedLog
        In order of their first days, each with the days that no later reconcile replaced.
    """

    days: tuple[JudgedDay, ...]
    logs: tuple[JudgedLog, ...]

    def controllers(self) -> tuple[str, ...]:
        """Return the controllers, in the order of the logs."""
        return tuple(dict.fromkeys(one.controller for log in self.logs for one in log.aside))


@dataclass(frozen=True)
class MonthRatio:
    """A controller's yield over the expected in one calendar month.

    Attributes
    ----------
    month : str
        '2027-05'.
    middle : datetime
        Mean of the judged days, by their weight, UTC.
    ratio : Interval
        Read over expected [1].
    fitted : Interval or None
        The trend's line there [1].
    days : int
        Judged.
    hours : float
        Judged [h].
    """

    month: str
    middle: datetime
    ratio: Interval
    fitted: Interval | None
    days: int
    hours: float


@dataclass(frozen=True)
class Trend:
    """How a controller's yield over the expected goes with the months.

    Attributes
    ----------
    controller : str
    months : tuple of MonthRatio
        In order; none when no day was judged.
    per_year : Interval or None
        Change of the ratio in a year [1/a]; None with fewer than three months.
    day_scatter : float
        Standard deviation from day to day within a month [1].
    weak_since : datetime or None
        Beginning of the first day of the first month from which on every month lies under the expected; None when the
        last month does not.
    """

    controller: str
    months: tuple[MonthRatio, ...]
    per_year: Interval | None
    day_scatter: float
    weak_since: datetime | None


@dataclass(frozen=True)
class ClaimedPanel:
    """A panel on the controller, as the boat file has it.

    Attributes
    ----------
    name : str
    max_power_w : float
        Its rating [W].
    age_years : float
        [a].
    """

    name: str
    max_power_w: float
    age_years: float


@dataclass(frozen=True)
class Evidence:
    """What the history holds for or against one controller's panels.

    Attributes
    ----------
    trend : Trend
        Its own.
    panels : tuple of ClaimedPanel
        On it.
    days : tuple of JudgedDay
        Its own, in order of time.
    others : tuple of Trend
        Of the other controllers, in boat order.
    logs : tuple of JudgedLog
    aside : SetAside
        Hours over all logs.
    days_logged : int
        Passage days in the logs, judged or not.
    """

    trend: Trend
    panels: tuple[ClaimedPanel, ...]
    days: tuple[JudgedDay, ...]
    others: tuple[Trend, ...]
    logs: tuple[JudgedLog, ...]
    aside: SetAside
    days_logged: int
