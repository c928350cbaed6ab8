"""The route as the passage file describes it, and as it was read: legs, waits and waypoints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import AwareDatetime, BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from planner.domain.inputs.fields import Between, BoatSpeed, Finite, Input, Moment, Usual, refuse


def _number_or_name(key: Any) -> Any:
    right = len(key) in range(1, 61) if isinstance(key, str) else isinstance(key, int) and key >= 1
    if not right or isinstance(key, bool):
        raise refuse(f"{key!r} is no waypoint.", "Write its name, or its number in the route from 1.")
    return key


WaypointKey = Annotated[int | str, BeforeValidator(_number_or_name)]
"""A waypoint by its number in the route, from 1, or by its name where no other bears it."""


class Leg(Input):
    """What differs on one leg.

    Attributes
    ----------
    from_waypoint : str or int
        Name, or number from 1, of the waypoint where the leg begins.
    speed_kn : float, optional
        Fixed speed through water instead of the polar's [kn].
    """

    from_waypoint: WaypointKey
    speed_kn: (
        Annotated[
            BoatSpeed,
            Between(0.1, 65.0, "slower, she makes no passage"),
            Usual(1.0, 25.0, "what a cruising yacht is sailed at"),
        ]
        | None
    ) = None


class RoutePoint(Input):
    """A waypoint written in the passage file.

    Attributes
    ----------
    name : str
        Empty numbers it.
    position : str, optional
        Latitude and longitude in one, as navigators write them: ``35-18.7S 174-07.4E``; decimals do, too.
    lat : float or str, optional
        Or the latitude on its own, north positive.
    lon : float or str, optional
        And the longitude, east positive.
    """

    name: str = ""
    position: str | None = None
    lat: Finite | str | None = None
    lon: Finite | str | None = None

    @model_validator(mode="after")
    def _is_somewhere(self) -> RoutePoint:
        apart = self.lat is not None and self.lon is not None
        if (self.position is not None) == apart or (self.lat is None) != (self.lon is None):
            raise refuse(
                "a waypoint has either a position, or lat and lon.", 'Write position = "35-18.7S 174-07.4E".'
            )
        return self


class Wait(Input):
    """A stay at a waypoint before the next leg.

    Attributes
    ----------
    at_waypoint : str or int
        Its name, or its number from 1; not the last one.
    how : {'anchor', 'hove_to'}
        At anchor she lies head to wind; hove-to she drifts.
    hours : float, optional
        For so long [h].
    until : datetime, optional
        Or until then. With neither, for as long as the passage's fixed arrival asks.
    """

    at_waypoint: WaypointKey
    how: Literal["anchor", "hove_to"] = "anchor"
    hours: (
        Annotated[Finite, Between(0.01, 1440.0, "a passage is planned for 60 days at most", "Is it in hours?")] | None
    ) = None
    until: Moment | None = None

    @field_validator("until")
    @classmethod
    def _one_of_both(cls, until: AwareDatetime | None, info: ValidationInfo) -> AwareDatetime | None:
        if until is not None and info.data.get("hours") is not None:
            raise refuse("a wait has hours, or until, not both.", "Keep one of them.")
        return until

    @property
    def open_ended(self) -> bool:
        """Whether its length follows from the fixed arrival."""
        return self.hours is None and self.until is None


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


class Thinned(NamedTuple):
    """What a route had before points near the line of the others were left out: how many, and how near [nm]."""

    points: int
    off_nm: float


def places_of(route: Sequence[Waypoint], key: str | int) -> list[int]:
    """Return where in a route a waypoint stands, from 0: none when there is no such, several where a name is shared.

    Parameters
    ----------
    route : sequence of Waypoint
        In order.
    key : str or int
        Name, or number from 1.
    """
    if isinstance(key, int):
        return [key - 1] if 1 <= key <= len(route) else []
    return [place for place, waypoint in enumerate(route) if waypoint.name == key]
