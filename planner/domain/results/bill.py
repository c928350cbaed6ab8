"""The rows of the watch bill, and the engine's runs on the planned course."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from planner.domain.results.figures import Count, Spread
from planner.domain.results.note import Note


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
class Deferred:
    """A load that can wait, as it is placed in a watch.

    Attributes
    ----------
    load : str
    start : datetime
        Of its first draw in the watch, UTC.
    minutes : int
        For which it draws in the watch, together [min].
    from_percent : int
        Meter reading from which on to run it: so much leaves the bank a tenth over the reserve when it is done [%].
    """

    load: str
    start: datetime
    minutes: int
    from_percent: int


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
class Lasts:
    """How long the bank lasts without engine.

    Attributes
    ----------
    reserve_h, lights_out_h : float or None
        Until the reserve is reached, and until a load goes dark; None where that is not before arrival [h].
    """

    reserve_h: float | None
    lights_out_h: float | None


@dataclass(frozen=True)
class WithoutEngine:
    """If the engine is dead from a moment on, in the poor tenth of the weather.

    Attributes
    ----------
    start : datetime
        From when, UTC.
    as_it_is, shed : Lasts
        With nothing shed, and with every load that may be.
    by_hand : Lasts or None
        With all that shed, and the boat steered by hand or vane; None where nothing steers by the bank.
    """

    start: datetime
    as_it_is: Lasts
    shed: Lasts
    by_hand: Lasts | None


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
    drives_in : Count or None
        Of the members still at sea, those whose engine drives the boat at some time of the watch; None where all
        sail the control's track.
    parted_nm : float or None
        Nine in ten of the members still at sea lie within so far of the position that is drawn, as the watch begins;
        None where all sail the control's track [nm].
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
    deferrable : tuple of Deferred
        Loads to run in this watch.
    wake_soc_percent : int
        Wake the skipper at this reading or less [%].
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
    drives_in: Count | None
    parted_nm: float | None
    soc: Spread
    solar_wh: Spread
    load_wh: Spread
    engine_min: int
    earliest: datetime | None
    ladder: tuple[Rung, ...]
    stop: Stop
    charge_current_a: float | None
    deferrable: tuple[Deferred, ...]
    wake_soc_percent: int
    wake_v: float
    wake_a: float
    wake_min: int
    dead: EngineDead
    skip_cost_min: int
    reason: Note


@dataclass(frozen=True)
class CardLine:
    """What a watch of the day does, every day of the passage.

    Attributes
    ----------
    start, end : str
        Of the watch, ship's time HH:MM.
    loud : tuple of (str, str)
        Spans of it, ship's time HH:MM, in which no quiet hours keep the engine still.
    ladder : tuple of Rung
        From high reading to low, down to the standing order's, which comes before it.
    stop_percent : int
        Meter reading at which to stop a run [%].
    charge_current_a : float or None
        Least bank current, as the shunt shows it, that any of its runs brings after ten minutes; None where it says
        nothing [A].
    """

    start: str
    end: str
    loud: tuple[tuple[str, str], ...]
    ladder: tuple[Rung, ...]
    stop_percent: int
    charge_current_a: float | None


@dataclass(frozen=True)
class Card:
    """One ladder for each watch of the day, for the whole passage or until the next plan.

    Attributes
    ----------
    lines : tuple of CardLine
        By the clock, the first from midnight on.
    apart : tuple of int
        Watches of the bill, from 0, that have a ladder of their own.
    tail_a : int
        A charging current that has fallen to this ends a run, too [A].
    dearer : float
        Part by which forecasts held out run the engine longer by it than by a ladder for each watch [1].
    """

    lines: tuple[CardLine, ...]
    apart: tuple[int, ...]
    tail_a: int
    dearer: float


@dataclass(frozen=True)
class LaterWatch:
    """One watch past the planned arrival, for a boat that is still at sea.

    Attributes
    ----------
    start, end : datetime
        UTC.
    ladder : tuple of Rung
        As in ``WatchRow``.
    stop_percent : int
        Meter reading at which to stop a run [%].
    """

    start: datetime
    end: datetime
    ladder: tuple[Rung, ...]
    stop_percent: int
