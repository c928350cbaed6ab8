"""What the studies of headings and of variants find."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from planner.domain.results.figures import Count, ReserveKept, Spread, spread_words
from planner.domain.results.note import Note
from planner.domain.ship_clock import ShipOffset
from planner.domain.shown import Shown

MIN_PER_H = 60.0  # min/h, exact


@dataclass(frozen=True)
class PanelShift:
    """What another heading does to one panel.

    Attributes
    ----------
    name : str
        Of the panel.
    wh : float
        Its yield over the hours [Wh].
    difference_wh : float
        Less its yield on the planned heading [Wh].
    cause : Note
        Why.
    """

    name: str
    wh: float
    difference_wh: float
    cause: Note


@dataclass(frozen=True)
class HeadingOption:
    """One heading beside the planned one, for the same hours under the same sky.

    Spreads have the control's course in mean weather, and the members where they are: each difference is taken member
    by member from what that member's own course brings as planned.

    Attributes
    ----------
    turn_deg : float
        From the planned heading, positive to starboard [degree].
    heading_deg, heading_magnetic_deg : float
        Circular mean over the hours [degree].
    tack : int
        +1 starboard tack, -1 port tack, most of the hours.
    true_wind_angle_deg : float
        Circular mean off the bow, positive over starboard [degree].
    speed_kn, heel_deg, boom_angle_deg : float
        Means through the water and over the hours; signs as in the glossary [kn, degree, degree].
    engine_driving_h : float
        Hours in which the engine must drive the boat, as the other figures here on the control's course [h].
    drives_more_h : Spread
        Less those as planned [h].
    lit_fraction : float
        Of the panels, weighted by area and by the beam [0..1].
    solar_wh : Spread
        What the controllers could deliver [Wh].
    solar_difference_wh, difference_wh : Spread
        Less the planned heading's: of the sun alone; of the sun less what steering draws [Wh].
    kept_wh : Spread
        What is left of ``difference_wh`` in the bank at the end: less where a full bank turns sun away [Wh].
    engine_min : Spread
        Minutes of engine that ``kept_wh`` costs; negative when it spares them [min].
    made_good_nm, lost_nm : Spread
        Toward the next waypoint, and less than on the planned heading [nm].
    later_min : Spread
        By how much later she is there, at what the planned heading makes good [min].
    gain_min : Spread
        Minutes of engine spared less those that she is later [min].
    gains_in : int
        Members in which that is over nought.
    panels : tuple of PanelShift
        In boat order.
    """

    turn_deg: float
    heading_deg: float
    heading_magnetic_deg: float
    tack: int
    true_wind_angle_deg: float
    speed_kn: float
    heel_deg: float
    boom_angle_deg: float
    engine_driving_h: float
    drives_more_h: Spread
    lit_fraction: float
    solar_wh: Spread
    solar_difference_wh: Spread
    difference_wh: Spread
    kept_wh: Spread
    engine_min: Spread
    made_good_nm: Spread
    lost_nm: Spread
    later_min: Spread
    gain_min: Spread
    gains_in: int
    panels: tuple[PanelShift, ...]


@dataclass(frozen=True)
class HalfDay:
    """Both tacks over the light hours to or from noon, at the planned angle to the wind.

    Attributes
    ----------
    start, end : datetime
        UTC; sunrise or the leg's start, noon, sunset or the leg's end.
    before_noon : bool
        True up to the sun's highest.
    starboard_wh, port_wh : Spread
        The sun less what steering draws, on each tack [Wh].
    advantage_wh : Spread
        Starboard tack less port tack, member by member [Wh].
    starboard_made_good_nm, port_made_good_nm : float
        Toward the next waypoint [nm].
    planned_tack : int
        The tack that the plan holds, most of the span.
    members : int
        That the spreads are of.
    """

    start: datetime
    end: datetime
    before_noon: bool
    starboard_wh: Spread
    port_wh: Spread
    advantage_wh: Spread
    starboard_made_good_nm: float
    port_made_good_nm: float
    planned_tack: int
    members: int

    @property
    def better_tack(self) -> int:
        """The tack that brings more to the middle member: +1 starboard, -1 port."""
        return 1 if self.advantage_wh.p50 >= 0.0 else -1


@dataclass(frozen=True, repr=False)
class HeadingFan(Shown):
    """A fan of headings from one moment on.

    Attributes
    ----------
    start : datetime
        UTC.
    hours : float
        For so long [h].
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    toward : str
        The next waypoint.
    toward_bearing_deg, wind_from_deg, variation_deg : float
        Circular means: the bearing of the leg, true; where the wind blows from, true; east positive [degree].
    sun_azimuth_deg : tuple of float
        True, at the first and at the last of the hours [degree].
    sun_elevation_deg : float
        The highest [degree].
    changes_tack : bool
        Whether the plan tacks or gybes within the hours: headings are then means over both boards.
    options : tuple of HeadingOption
        Rising in turn; the planned heading is the one with no turn on the planned tack.
    planned : HeadingOption
        That one.
    coming_up : HeadingOption or None
        20 degrees nearer the wind; None where she cannot lie that.
    leg : str
        Name of the leg of ``half_days``.
    half_days : tuple of HalfDay
        Along the leg, in order; empty where they were not computed.
    stored_per_engine_min_wh : float
        What a minute of engine stores in a half-full bank [Wh].
    members : Count
        Of the forecast's members, those that the spreads of ``options`` are of: under way in all of the hours.
    own_tracks : bool
        Whether each stands at its own place in its own wind; else all are on the control's track.
    """

    start: datetime
    hours: float
    ship_offset: ShipOffset
    toward: str
    toward_bearing_deg: float
    wind_from_deg: float
    variation_deg: float
    sun_azimuth_deg: tuple[float, float]
    sun_elevation_deg: float
    changes_tack: bool
    options: tuple[HeadingOption, ...]
    planned: HeadingOption
    coming_up: HeadingOption | None
    leg: str
    half_days: tuple[HalfDay, ...]
    stored_per_engine_min_wh: float
    members: Count
    own_tracks: bool

    def headline(self) -> str:
        """Return when, for how long and on what heading."""
        moment = self.start + self.ship_offset
        return f"Headings from {moment:%d %b %H:%M} ship's time for {self.hours:g} h"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return the change of sun less steering of each heading."""
        return tuple(
            (
                f"{round(option.heading_magnetic_deg) % 360:03d} M {'starboard' if option.tack > 0 else 'port'} tack",
                f"{spread_words(option.difference_wh.middle)} Wh, {option.lost_nm.p50:.1f} nm lost",
            )
            for option in self.options
        )


@dataclass(frozen=True)
class Figures:
    """A passage in figures, or the difference of two on the same members.

    Attributes
    ----------
    solar_wh, load_wh : Spread
        Taken by the bus, and served [Wh].
    engine_h, charging_h : Spread
        The engine's running, whatever for; only to charge [h].
    fuel_l : Spread
        [L].
    min_soc, arrival_soc : Spread
        Lowest and last state of charge [0..1].
    passage_h : Spread
        From departure to arrival, on own tracks each member's, or as far as the forecast serves it [h].
    """

    solar_wh: Spread
    load_wh: Spread
    engine_h: Spread
    charging_h: Spread
    fuel_l: Spread
    min_soc: Spread
    arrival_soc: Spread
    passage_h: Spread


@dataclass(frozen=True)
class ComparedRow:
    """One variant.

    Attributes
    ----------
    name : str
        What is varied.
    figures : Figures or None
        None when it failed.
    difference : Figures or None
        Less the base, member by member; percentiles are those of the paired differences.
    reserve_kept : ReserveKept or None
        Members held out.
    departure, arrival : datetime or None
        UTC.
    ship_offset : timedelta or ShipClock or None
        Ship's time less UTC on that passage.
    failure : str
        Why it could not be planned; empty when it could.
    wiring : tuple of Note
        Strings that are made anew for panels taken off, and panels that then lie idle.
    """

    name: str
    figures: Figures | None
    difference: Figures | None
    reserve_kept: ReserveKept | None
    departure: datetime | None
    arrival: datetime | None
    ship_offset: ShipOffset | None
    failure: str = ""
    wiring: tuple[Note, ...] = ()


@dataclass(frozen=True, repr=False)
class Comparison(Shown):
    """Variants side by side on the same members.

    Attributes
    ----------
    base : ComparedRow
        The passage as its file has it; its difference is zero throughout.
    rows : tuple of ComparedRow
        The variants, as asked for.
    members : int
        Of the forecast.
    """

    base: ComparedRow
    rows: tuple[ComparedRow, ...]
    members: int

    def headline(self) -> str:
        """Return how many variants stand beside the base."""
        return f"{len(self.rows)} variants beside '{self.base.name}' on {self.members} members"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return each variant's hours of charging and lowest SOC, or why it failed."""
        return tuple((row.name, _row_words(row)) for row in (self.base, *self.rows))


def _row_words(row: ComparedRow) -> str:
    if row.figures is None:
        return f"failed: {row.failure}"
    lowest = spread_words(row.figures.min_soc, factor=100.0)
    return f"{spread_words(row.figures.charging_h, 1)} h to charge, lowest bank {lowest} %"
