"""Weather typed by hand: what a bulletin heard on the radio, or a look at the sky, says for one span of time."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationInfo, field_validator

from planner.domain.errors import suggest
from planner.domain.inputs.fields import Between, Finite, Input, Moment, Usual, WindSpeed, refuse

OKTAS: Final = 8.0  # eighths of the sky, WMO code table 2700
SKY_OBSCURED: Final = 9.0  # the same table: fog or the like hides the sky
WORD_OKTAS: Final = {"clear": 0.0, "few": 1.5, "scattered": 3.5, "broken": 6.0, "overcast": 8.0}
"""Middles of the ranges that ICAO Annex 3 gives the words: FEW 1-2, SCT 3-4, BKN 5-7, OVC 8 oktas."""
POINTS: Final = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
POINT_DEG: Final = 22.5  # degree, from point to point of sixteen
FROM: Final = "It is the bearing that the wind blows from."
DEFAULT_AIR_TEMP_C: Final = 20.0  # C; the project's own: 10 C more or less changes a panel's power by some 4 %


class WeatherRow(Input):
    """What a bulletin says: it holds from its time until the next row begins, then the next one holds at once.

    Attributes
    ----------
    from : datetime
        When it begins to hold, with its offset from UTC; ``begins`` from Python.
    until : datetime, optional
        When it ends; only the last row needs it, as the others end where the next begins.
    sky : {'clear', 'few', 'scattered', 'broken', 'overcast'}, optional
        Cloud in the words of a bulletin: 0, 1-2, 3-4, 5-7 and 8 oktas, taken at 0, 1.5, 3.5, 6 and 8.
    oktas : float, optional
        Or in eighths of the sky [0..8].
    wind_from : str, optional
        Point of the compass that the wind blows from, true, of sixteen: 'SE', or 'southeast'.
    wind_from_deg : float, optional
        Or its direction [0..360 degree, true].
    wind_kn : float, optional
        Speed of the wind over ground [kn]. Speed and direction may both be left out where a forecast file has them.
    air_temp_c : float, optional
        Air temperature [C]; without it that of the row before holds on, or else of the first row that gives one.
        Where none does, a forecast file's last one is held, and without such 20 C is taken.
    rain_mm_h : float, optional
        Rain [mm/h]; none where it is left out.
    instead : bool
        Whether what the row gives stands instead of a forecast file's; else the file wins wherever it reaches.
    """

    begins: Moment = Field(alias="from")
    until: Moment | None = None
    sky: Literal["clear", "few", "scattered", "broken", "overcast"] | None = None
    oktas: Finite | None = Field(default=None, validate_default=True)
    wind_from: str | None = None
    wind_from_deg: Annotated[Finite, Between(0.0, 360.0, "one turn of the compass", FROM)] | None = None
    wind_kn: Annotated[WindSpeed, Usual(0.0, 64.0, "a hurricane begins at 64 kn")] | None = Field(
        default=None, validate_default=True
    )
    air_temp_c: (
        Annotated[
            Finite,
            Between(-40.0, 55.0, "no air at sea is colder or hotter", "Is it in degrees Celsius?"),
            Usual(-5.0, 40.0, "the air on passages that yachts make"),
        ]
        | None
    ) = None
    rain_mm_h: (
        Annotated[
            Finite,
            Between(0.0, 500.0, "the most measured in an hour is 305 mm", "Is it in millimetres an hour?"),
            Usual(0.0, 50.0, "a downpour; a whole row of more is none"),
        ]
        | None
    ) = None  # recalled
    instead: bool = False

    @field_validator("until")
    @classmethod
    def _after_its_beginning(cls, until: datetime | None, info: ValidationInfo) -> datetime | None:
        begins = info.data.get("begins")
        if until is not None and begins is not None and until <= begins:
            raise refuse(
                f"{until.isoformat()} is not after the row's from, {begins.isoformat()}.",
                "Look at the date, and at both offsets from UTC.",
            )
        return until

    @field_validator("oktas")
    @classmethod
    def _one_cloud(cls, oktas: float | None, info: ValidationInfo) -> float | None:
        if "sky" not in info.data:
            return oktas  # the word is at fault itself
        if (oktas is None) == (info.data["sky"] is None):
            given = "neither sky nor oktas" if oktas is None else "both sky and oktas"
            raise refuse(f"the row has {given}.", 'Write sky = "broken", or oktas = 6.')
        if oktas == SKY_OBSCURED:
            raise refuse(
                "9 oktas says that the sky is obscured (WMO code table 2700), not how much cloud there is.",
                "In fog write oktas = 8; else leave the report out.",
            )
        if oktas is not None and not 0.0 <= oktas <= OKTAS:
            raise refuse(f"{oktas:g} is not 0 to 8.", "Oktas are eighths of the sky: is it tenths, or percent?")
        return oktas

    @field_validator("wind_from")
    @classmethod
    def _known_point(cls, word: str | None) -> str | None:
        return None if word is None else _point_of(word)

    @field_validator("wind_from_deg")
    @classmethod
    def _one_direction(cls, direction: float | None, info: ValidationInfo) -> float | None:
        if direction is None:
            return None
        if info.data.get("wind_from") is not None:
            raise refuse("the row has both wind_from and wind_from_deg.", "Keep one of them.")
        return direction

    @field_validator("wind_kn")
    @classmethod
    def _whole_wind(cls, speed: float | None, info: ValidationInfo) -> float | None:
        if "wind_from" not in info.data or "wind_from_deg" not in info.data:
            return speed  # the direction is at fault itself
        direction = info.data["wind_from"] is not None or info.data["wind_from_deg"] is not None
        if direction and speed is None:
            raise refuse("the row says where the wind blows from, but not how hard.", "Add wind_kn.")
        if speed is not None and not direction:
            raise refuse("the row says how hard it blows, but not from where.", 'Add wind_from = "SE", for example.')
        return speed

    @property
    def cover(self) -> float:
        """Total cloud cover as an observer states it [0..1]."""
        oktas = self.oktas if self.oktas is not None else WORD_OKTAS[self.sky or "clear"]
        return oktas / OKTAS

    @property
    def blows_from_deg(self) -> float | None:
        """Direction that the wind blows from, true [degree]; None where the row has no wind."""
        return self.wind_from_deg if self.wind_from is None else POINT_DEG * POINTS.index(self.wind_from)


def in_order(rows: tuple[WeatherRow, ...]) -> tuple[WeatherRow, ...]:
    """Return rows unchanged when they follow each other without gap or overlap and the last one ends.

    Raises
    ------
    PydanticCustomError
        With every fault between rows, which are named by their times.
    """
    problems = list(_disorder(rows))
    if problems:
        raise refuse(" ".join(problem for problem, _ in problems), " ".join(dict.fromkeys(m for _, m in problems)))
    return rows


def end_of(rows: tuple[WeatherRow, ...]) -> datetime:
    """Return when the last of rows in order ends."""
    until = rows[-1].until
    assert until is not None  # seen to by ``in_order``
    return until


def _disorder(rows: tuple[WeatherRow, ...]) -> Iterator[tuple[str, str]]:
    """Yield each problem between rows, and its remedy."""
    for row, following in pairwise(rows):
        begins, named = following.begins.isoformat(), f"the row from {row.begins.isoformat()}"
        if following.begins <= row.begins:
            yield f"the row from {begins} follows {named}, and is not later.", "Sort the rows by their from."
        elif row.until is not None and row.until > following.begins:
            problem = f"{named} holds until {row.until.isoformat()}, and the next begins before, at {begins}."
            yield problem, "Drop the earlier until: a row ends where the next begins."
        elif row.until is not None and row.until < following.begins:
            problem = f"nothing is said from {row.until.isoformat()} to {begins}."
            yield problem, "Drop the until before it, so that the row holds on, or add a row."
    if rows and rows[-1].until is None:
        yield "the last row has no until.", "Say until when it holds, as the bulletin does."


def _point_of(word: str) -> str:
    """Return the point of the compass that a word means."""
    plain = re.sub(r"[\s-]", "", word.lower()).removesuffix("erly")
    for name in ("north", "east", "south", "west"):
        plain = plain.replace(name, name[0])
    point = plain.upper()
    if point not in POINTS:
        near = suggest(point, POINTS)
        raise refuse(
            f"'{word}' is no point of the compass.",
            f"{near} A wind that varies has the direction it blows from most, and a small wind_kn.",
        )
    return point
