"""The passage as its file describes it: when, where from, watches, wishes, and how finely to compute."""

from __future__ import annotations

from datetime import datetime
from difflib import get_close_matches
from typing import Annotated, Any, Final, Literal
from zoneinfo import available_timezones

from pydantic import AwareDatetime, BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from planner.domain.inputs.fields import (
    PART,
    Bearing,
    Between,
    ClockTime,
    Finite,
    Fraction,
    Input,
    InputFile,
    Moment,
    Name,
    Usual,
    refuse,
)
from planner.domain.inputs.hand_weather import WeatherRow, in_order
from planner.domain.inputs.route import Leg, RoutePoint, Wait

ZONES: Final = "Allowed: 'nautical', 'destination', or a zone of the IANA database such as 'Pacific/Tongatapu'."


def _one_or_several(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


SunlightGiven = Literal[
    "at its time", "over the step", "since 3 h", "since 6 h", "since 12 h", "since 24 h", "since the start"
]


def _zone_alone(value: Any) -> Any:
    return {"zone": value} if isinstance(value, str) else value


class Start(Input):
    """The bank at departure.

    Attributes
    ----------
    state_of_charge : float
        SOC by the meter [0..1].
    """

    state_of_charge: Fraction


class Watch(Input):
    """One watch of the day.

    Attributes
    ----------
    start : str
        When it begins, ship's time, HH:MM.
    end : str
        When it ends, ship's time, HH:MM; midnight is 00:00.
    role : str, optional
        Who stands it every day: a role, not a name. None where the passage's ``watchkeepers`` take turns.
    """

    start: ClockTime
    end: ClockTime
    role: Name | None = None


class Wishes(Input):
    """What the skipper asks of the plan.

    Attributes
    ----------
    confidence : float
        Wanted probability that the reserve is kept throughout [0..1].
    arrival_soc : float
        SOC wanted on arrival [0..1].
    quiet_hours : tuple of (str, str)
        Ship's-time spans in which the engine must not start or run to charge.
    meter_error : float
        Standard deviation of the battery monitor's reading [0..1].
    start_cost_min : float
        What one more engine start is worth in minutes of running [min].
    full_charge_every_days : float, optional
        Lead banks want a full charge this often [d].
    ladder : {'card', 'watch'}
        'card': each watch of the day has one ladder for the whole passage, but for a few watches that are named.
        'watch': every watch of the passage has its own, with finer readings: somewhat less engine, far more to read.
    """

    confidence: Annotated[Finite, Between(0.0, 0.999, "nothing is certain at sea", PART)] = 0.9
    arrival_soc: Fraction = 0.5
    quiet_hours: tuple[tuple[ClockTime, ClockTime], ...] = ()
    meter_error: Annotated[
        Finite,
        Between(0.0, 0.5, "a guess errs by as much", "It is a part of 1: 0.02 is 2 %."),
        Usual(0.005, 0.1, "a good shunt, set right weekly, to one that nobody sets right"),
    ] = 0.02
    start_cost_min: Annotated[
        Finite,
        Between(0.0, 1440.0, "a day's running", "Is it in minutes of running?"),
        Usual(0.0, 60.0, "an hour of running to spare one start is a lot"),
    ] = 10.0
    full_charge_every_days: (
        Annotated[
            Finite,
            Between(0.25, 365.0, "each watch to once a year", "Is it in days?"),
            Usual(1.0, 30.0, "lead asks for it every week or two"),
        ]
        | None
    ) = None
    ladder: Literal["card", "watch"] = "card"


class Current(Input):
    """Set and drift: constant, or as the forecast file has them.

    Attributes
    ----------
    source : {'constant', 'forecast'}
        Whether ``set_deg`` and ``drift_kn`` hold, or the forecast's grid of currents.
    set_deg : float
        Direction that the water moves toward, true [degree].
    drift_kn : float
        Its speed [kn].
    """

    source: Literal["constant", "forecast"] = "constant"
    set_deg: Bearing = 0.0
    drift_kn: Annotated[
        Finite,
        Between(0.0, 25.0, "the fastest tidal rapids run at some 22 kn", "Is it in knots?"),
        Usual(0.0, 5.0, "the strongest ocean currents"),
    ] = 0.0  # recalled

    @field_validator("drift_kn")
    @classmethod
    def _one_source(cls, drift_kn: float, info: ValidationInfo) -> float:
        if drift_kn > 0.0 and info.data.get("source") == "forecast":
            raise refuse("a constant drift beside source = 'forecast'.", "Keep one of them.")
        return drift_kn


class ShipTime(Input):
    """The clock that the crew lives by: fixed, unless a zone is named.

    Attributes
    ----------
    offset_hours : float, optional
        Fixed offset from UTC [h]; None takes the departure's.
    zone : str, optional
        'nautical' for the zones of longitude, put right at a change of watch in the afternoon; 'destination' for
        that of the last waypoint; or a zone of the IANA database such as 'Pacific/Tongatapu', where the country keeps
        another date or hour. In the file ``ship_time = "destination"`` says the same as its key ``zone``.
    from_day : int
        Day of the passage, from 1, on which the destination's zone, or the one ashore, takes the place of the
        departure's clock.
    """

    offset_hours: (
        Annotated[Finite, Between(-14.0, 14.0, "zones reach from -12 to +14", "Is it in hours, east positive?")]
        | None
    ) = None
    zone: str | None = None
    from_day: Annotated[int, Between(1, 60, "a passage is planned for 60 days at most")] = Field(
        default=1, validate_default=True
    )

    @field_validator("from_day")
    @classmethod
    def _of_one_zone(cls, day: int, info: ValidationInfo) -> int:
        if day > 1 and info.data.get("zone") in {None, "nautical"}:
            raise refuse("a day without a zone to take from it on.", 'Write zone = "destination", or a zone ashore.')
        return day

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, zone: str | None, info: ValidationInfo) -> str | None:
        if zone is None:
            return zone
        if info.data.get("offset_hours") is not None:
            raise refuse("a zone beside offset_hours.", "Keep one of them.")
        known = {"nautical", "destination", *available_timezones()}
        if zone not in known:
            near = get_close_matches(zone, known, n=1)
            raise refuse(f"there is no zone '{zone}'.", f"Did you mean '{near[0]}'?" if near else ZONES)
        return zone


class Model(Input):
    """How finely to compute.

    Attributes
    ----------
    step_min : int
        Inner step [min]; divides an hour.
    points : int
        Shade sample points a cell, about.
    roll_nodes : int
        Quadrature nodes over the roll.
    seed : int
        Seed of every random draw.
    lone_outcomes : int
        How many outcomes are drawn of a forecast without members, or of weather typed by hand; 1 plans on the one run
        without a doubt.
    tracks : {'control', 'own'}
        'own': the plan is scored with each member on its own track, by its own wind and current, and does not count
        on the charge of driving through the control's calms. 'control': all members sail the control's track, whose
        driving is counted on; the doubt of the wind is then not in the share that keeps the reserve.
    """

    step_min: Literal[1, 2, 5, 10] = 10
    points: Annotated[int, Between(4, 64, "fewer miss a shroud, more only take time")] = 16
    roll_nodes: Annotated[int, Between(1, 15, "one is upright, more only take time")] = 3
    seed: Annotated[int, Between(0, 2**32 - 1, "what every generator of random numbers takes")] = 1
    lone_outcomes: Annotated[int, Between(1, 200, "one run alone to more than any ensemble has")] = 20
    tracks: Literal["control", "own"] = "own"


class Passage(InputFile):
    """The whole passage file.

    Attributes
    ----------
    departure : datetime
        When she leaves, with the offset of the ship's clock from UTC.
    first_departure : datetime, optional
        Of the whole passage where this is the rest of it, as after a replan; days are numbered from it.
    arrival : datetime, optional
        Wanted: she waits for it where a wait is open-ended, else she slows down.
    boat : str
        Her file, relative to the passage file.
    route : str, optional
        File of the route, relative to the passage file: GPX, CSV with name, lat and lon, or GeoJSON.
    route_element : {'rte', 'trk', 'wpt'}
        What of a GPX file is the route: its route, its track, or its single waypoints in the file's order.
    waypoints : tuple of RoutePoint
        In the file ``[[waypoints]]``: the route itself, instead of a file.
    refuge : tuple of RoutePoint
        In the file ``[[refuge]]``: ports to divert to when something fails; the failure card says when one is nearer.
    forecast : tuple of str
        Forecast file or files; in the file one name or a list, with * and ? as in ``ens/*.nc`` for many. None
        where the weather is typed by hand.
    sunlight_given : str, optional
        What each value of the forecast's sunlight is, where its files leave that open and a day's energy hangs on it:
        as bright as it is 'at its time', the mean or sum 'over the step' that ends there, or one that begins anew
        every so many hours ('since 3 h', 6, 12, 24) or with the forecast ('since the start').
    weather : tuple of WeatherRow
        Typed by hand, in the file ``[[weather]]``: all weather, or what a forecast file lacks or does not reach.
    sailings : {'great_circle', 'rhumb_line', 'composite'}
        How legs run; composite is the great circle, but along the limiting parallel where it would go beyond.
    limiting_lat_deg : float, optional
        Of composite sailing, north and south [degree].
    legs : tuple of Leg
        What differs on named legs.
    waits : tuple of Wait
        Stays at waypoints.
    watches : tuple of Watch
        They fill the day.
    watchkeepers : tuple of str
        Roles that stand the watches in turn, the first the watch of departure, and on from day to day: where their
        number does not divide that of the watches, as with dogged or uneven ones, the system rotates by itself.
    acknowledged : tuple of str
        Keys that ``check`` warns of and that are so all the same: they are warned of no more.
    """

    departure: Moment
    first_departure: Moment | None = None
    arrival: Moment | None = None
    boat: str
    route: str | None = None
    route_element: Literal["rte", "trk", "wpt"] = "rte"
    waypoints: tuple[RoutePoint, ...] = ()
    refuge: tuple[RoutePoint, ...] = ()
    forecast: Annotated[tuple[str, ...], BeforeValidator(_one_or_several)] = ()
    sunlight_given: SunlightGiven | None = None
    weather: tuple[WeatherRow, ...] = Field(default=(), validate_default=True)
    sailings: Literal["great_circle", "rhumb_line", "composite"] = "great_circle"
    limiting_lat_deg: (
        Annotated[Finite, Between(0.1, 89.9, "between equator and pole", "Is it in degrees?")] | None
    ) = Field(default=None, validate_default=True)
    legs: tuple[Leg, ...] = ()
    waits: tuple[Wait, ...] = ()
    start: Start
    watches: tuple[Watch, ...] = Field(min_length=1)
    watchkeepers: tuple[Name, ...] = Field(default=(), validate_default=True)
    acknowledged: tuple[str, ...] = ()
    wishes: Wishes = Wishes()
    current: Current = Current()
    ship_time: Annotated[ShipTime, BeforeValidator(_zone_alone)] = ShipTime()
    model: Model = Model()

    @field_validator("first_departure")
    @classmethod
    def _first_of_all(cls, first: AwareDatetime | None, info: ValidationInfo) -> AwareDatetime | None:
        departure = info.data.get("departure")
        if first is not None and departure is not None and first > departure:
            raise refuse(
                f"{first.isoformat()} is after the departure, {departure.isoformat()}.",
                "Give the departure of the whole passage, or leave it out.",
            )
        return first

    @field_validator("arrival")
    @classmethod
    def _after_departure(cls, arrival: AwareDatetime | None, info: ValidationInfo) -> AwareDatetime | None:
        departure = info.data.get("departure")
        if arrival is not None and departure is not None and arrival <= departure:
            raise refuse(
                f"{arrival.isoformat()} is not after the departure, {departure.isoformat()}.",
                "Look at the date, and at both offsets from UTC.",
            )
        return arrival

    @field_validator("weather")
    @classmethod
    def _has_weather(cls, weather: tuple[WeatherRow, ...], info: ValidationInfo) -> tuple[WeatherRow, ...]:
        if not weather and info.data.get("forecast") == ():
            problem = "the passage has neither a forecast file nor weather typed by hand."
            raise refuse(problem, 'Write forecast = "forecast.nc", or [[weather]] rows of a bulletin.')
        return in_order(weather)

    @field_validator("limiting_lat_deg")
    @classmethod
    def _of_composite_sailing(cls, limit: float | None, info: ValidationInfo) -> float | None:
        sailings = info.data.get("sailings")
        if sailings == "composite" and limit is None:
            raise refuse("composite sailing needs a limiting latitude.", "Write for example limiting_lat_deg = 45.0.")
        if limit is not None and sailings in {"great_circle", "rhumb_line"}:
            raise refuse(f"sailings = '{sailings}' has no limiting latitude.", "Write sailings = 'composite'.")
        return limit

    @field_validator("waits")
    @classmethod
    def _open_end_has_an_arrival(cls, waits: tuple[Wait, ...], info: ValidationInfo) -> tuple[Wait, ...]:
        open_ended = [wait.at_waypoint for wait in waits if wait.open_ended]
        if open_ended and info.data.get("arrival") is None:
            problem = f"the wait at '{open_ended[0]}' has neither hours nor until, and the passage no arrival."
            raise refuse(problem, "Say how long, or give the passage an arrival.")
        if len(open_ended) > 1:
            raise refuse(f"{len(open_ended)} waits are open-ended; one can follow from the arrival.", "Give hours.")
        return waits

    @field_validator("watchkeepers")
    @classmethod
    def _every_watch_is_stood(cls, keepers: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
        watches = info.data.get("watches", ())
        without = next((watch for watch in watches if watch.role is None), None)
        if not keepers and without is not None:
            problem = f"nobody is named for the watch {without.start}-{without.end}."
            raise refuse(problem, "Give each watch a role, or list watchkeepers that stand them in turn.")
        if keepers and any(watch.role is not None for watch in watches):
            raise refuse("watches have roles and watchkeepers take turns.", "Keep one of them.")
        return keepers

    @property
    def days_from(self) -> datetime:
        """The moment from which days are numbered: the first departure."""
        return self.first_departure or self.departure

    @property
    def roles(self) -> tuple[str, ...]:
        """Whoever stands a watch, each once."""
        return tuple(dict.fromkeys([*self.watchkeepers, *(watch.role for watch in self.watches if watch.role)]))

    @model_validator(mode="after")
    def _has_one_route(self) -> Passage:
        if (self.route is None) == (not self.waypoints):
            found = "both a route file and waypoints" if self.waypoints else "neither a route file nor waypoints"
            raise refuse(f"the passage has {found}.", 'Write route = "route.gpx", or [[waypoints]] of its own.')
        return self
