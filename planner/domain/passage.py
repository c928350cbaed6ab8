"""The passage as its file describes it: when, where from, watches, wishes, and how finely to compute."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BeforeValidator, Field

from planner.domain.fields import ClockTime, Finite, Fraction, Input, Name, NonNegative, Positive


def _one_or_several(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


class Leg(Input):
    """What differs on one leg.

    Attributes
    ----------
    from_waypoint : str
        Name of the waypoint where the leg begins.
    speed_kn : float, optional
        Fixed speed through water instead of the polar's [kn].
    """

    from_waypoint: Name
    speed_kn: Positive | None = None


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
    start, end : str
        Ship's time, HH:MM.
    role : str
        Who stands it: a role, not a name.
    """

    start: ClockTime
    end: ClockTime
    role: Name


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
    """

    confidence: Fraction = Field(default=0.9, lt=1)
    arrival_soc: Fraction = 0.5
    quiet_hours: tuple[tuple[ClockTime, ClockTime], ...] = ()
    meter_error: Fraction = 0.02
    start_cost_min: NonNegative = 10.0
    full_charge_every_days: Positive | None = None


class Current(Input):
    """A constant set and drift.

    Attributes
    ----------
    set_deg : float
        Direction that the water moves toward, true [degree].
    drift_kn : float
        Its speed [kn].
    """

    set_deg: Finite = 0.0
    drift_kn: NonNegative = 0.0


class ShipTime(Input):
    """The clock that the crew lives by.

    Attributes
    ----------
    offset_hours : float, optional
        Fixed offset from UTC [h]; None takes the departure's.
    """

    offset_hours: Finite | None = None


class Model(Input):
    """How finely to compute.

    Attributes
    ----------
    step_min : int
        Inner step [min]; divides an hour.
    points : int
        Shade sample points a panel, about.
    roll_nodes : int
        Quadrature nodes over the roll.
    seed : int
        Seed of every random draw.
    """

    step_min: Literal[1, 2, 5, 10] = 10
    points: int = Field(default=60, ge=4, le=4000)
    roll_nodes: int = Field(default=3, ge=1, le=15)
    seed: int = 1


class Passage(Input):
    """The whole passage file.

    Attributes
    ----------
    departure : datetime
        With its offset from UTC.
    boat, route : str
        Files, relative to the passage file.
    forecast : tuple of str
        Forecast file or files; in the file one name or a list.
    sailings : {'great_circle', 'rhumb_line'}
        How legs run.
    legs : tuple of Leg
        What differs on named legs.
    watches : tuple of Watch
        They fill the day.
    """

    departure: AwareDatetime
    boat: str
    route: str
    forecast: Annotated[tuple[str, ...], BeforeValidator(_one_or_several), Field(min_length=1)]
    sailings: Literal["great_circle", "rhumb_line"] = "great_circle"
    legs: tuple[Leg, ...] = ()
    start: Start
    watches: tuple[Watch, ...] = Field(min_length=1)
    wishes: Wishes = Wishes()
    current: Current = Current()
    ship_time: ShipTime = ShipTime()
    model: Model = Model()


class Waypoint(Input):
    """A named position of the route.

    Attributes
    ----------
    name : str
        As the route file has it.
    lat, lon : float
        Degrees north and east, lon in [-180, 180).
    """

    name: str
    lat: float = Field(ge=-90, le=90)
    lon: float = Field(ge=-180, lt=180)


Route = tuple[Waypoint, ...]
