"""The base of every typed input and the number ranges that they share.

``Between`` says what no boat has, or no sea, and refuses it; ``Usual`` says what boats have, and what lies beyond is
warned of. Both stand with the field and hold their reason. Where no source is named, the ends are readings of common
practice.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time
from itertools import pairwise
from typing import Annotated, Any, Final

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from planner.domain.file_format import FORMAT, Format

Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


class Input(BaseModel):
    """A frozen input that rejects unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False)


class InputFile(Input):
    """What a whole input file holds; it may say its format.

    Attributes
    ----------
    format : int
        Of the file, as ``file_format.FORMAT`` counts; the reader refuses another.
    """

    format: Format = FORMAT


def refuse(problem: str, remedy: str = "") -> PydanticCustomError:
    """Return the error for a validator to raise: the problem as a whole sentence, and the remedy.

    Parameters
    ----------
    problem : str
        What was given and what is allowed; file and key are put before it.
    remedy : str
        The likely cause and what to do.
    """
    return PydanticCustomError("refused", "{problem}", {"problem": problem, "remedy": remedy})


@dataclass(frozen=True)
class Range:
    """A range of figures in the field's units, for ``Annotated``; both ends belong to it.

    Attributes
    ----------
    low, high : float
        Ends, in the field's units.
    reason : str
        What lies there, as a sailor would say it.
    """

    low: float
    high: float
    reason: str

    def holds(self, value: float) -> bool:
        """Return whether a figure lies in the range."""
        return self.low <= value <= self.high


class Usual(Range):
    """What boats have: a figure beyond it is planned with, and warned of."""


@dataclass(frozen=True)
class Between(Range):
    """What is possible: a figure beyond it is refused, with the reason.

    Attributes
    ----------
    low, high, reason
        As of ``Range``.
    remedy : str
        The likely cause of a figure beyond them, and what to do.
    """

    remedy: str = ""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self.checked, handler(source))

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        schema = handler(core)
        return {**schema, "minimum": self.low, "maximum": self.high} if "$ref" not in schema else schema

    def checked(self, value: Any) -> Any:
        """Return a number unchanged when it lies in the range.

        Raises
        ------
        PydanticCustomError
            With the number, both ends and the reason.
        """
        self._check(value)
        return value

    def _check(self, value: float) -> None:
        if self.holds(value):
            return
        # a whole number may have more digits than a floating one can hold
        countable = abs(value) <= sys.float_info.max
        given = f"{value:g}" if countable else f"a number of {len(str(value))} digits"
        percent = countable and abs(value) >= 2.0 * self.high and self.holds(value / 100.0)
        remedy = self.remedy
        if percent and self.high <= MOST_OF_A_PART:
            remedy = f"Did you mean {value / 100.0:g}?" + (f" {remedy}" if remedy not in {PART, ""} else "")
        raise refuse(f"{given} is not {self.low:g} to {self.high:g}: {self.reason}.", remedy)


class ValuesBetween(Between):
    """The same for every figure in the column ``value`` of a table, whose range depends on what it tabulates."""

    def checked(self, value: Any) -> Any:
        """Return a table unchanged when all its figures lie in the range; raise as ``Between`` does."""
        for figure in value.value:
            self._check(figure)
        return value


def _of_our_times(moment: datetime) -> datetime:
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise refuse(f"the year {moment.year} is not {FIRST_YEAR} to {LAST_YEAR}.", "Is it a slip of the pen?")
    return moment


FIRST_YEAR: Final = 1900  # before the records of weather that a passage could be planned on
LAST_YEAR: Final = 2200  # before 2262, where times counted in nanoseconds end


def _no_count(given: Any) -> Any:
    """Return what is no number: else it would be taken for seconds since 1970."""
    if isinstance(given, int | float):
        raise refuse(f"{given} is no moment.", "Write for example 2027-05-09T10:00:00+12:00.")
    return given


Moment = Annotated[AwareDatetime, BeforeValidator(_no_count), AfterValidator(_of_our_times)]
"""A time with its offset from UTC."""

MOST_OF_A_PART: Final = 2.5  # parts of a whole end here at the most; what is beyond may be percent, or centimetres
IN_METRES: Final = "Is it in metres?"
PART: Final = "It is a part of 1: 0.9 is 90 %."
Fraction = Annotated[Finite, Between(0.0, 1.0, "from nothing to the whole", PART)]
Angle = Annotated[Finite, Between(0.0, 180.0, "from the bow to the stern", "Is it in degrees off the bow?")]
Along = Annotated[Finite, Between(-60.0, 60.0, "sailing yachts are up to 60 m long", IN_METRES)]
Abeam = Annotated[Finite, Between(-15.0, 15.0, "two hulls are up to 30 m wide", IN_METRES)]
Above = Annotated[Finite, Between(-10.0, 90.0, "masts stand up to 90 m above the water", IN_METRES)]
Point = tuple[Along, Abeam, Above]
"""x forward, y to port, z up from the mast foot on deck [m]."""
Breadth = Annotated[Finite, Between(0.05, 30.0, "a strip of canvas to the widest deck", IN_METRES)]
Height = Annotated[
    Finite,
    Between(0.05, 10.0, "a coaming to the highest thing that stands on a deck", IN_METRES),
    Usual(0.2, 4.0, "a hood over the hatch to an arch that a tall crew walks under"),
]
Tilt = Annotated[
    Finite,
    Between(0.0, 180.0, "flat face up to face down", "0 lies flat face up, 90 stands, 180 lies face down."),
    Usual(0.0, 90.0, "flat to upright; beyond, the face looks down at the deck"),
]
Bearing = Annotated[Finite, Between(-360.0, 360.0, "one turn either way", "Is it in degrees?")]
Roll = Annotated[Finite, Between(0.0, 60.0, "beyond is a knockdown", "It is in degrees, to each side.")]
WindSpeed = Annotated[
    Finite, Between(0.0, 200.0, "the strongest gust that a weather station measured is 220 kn", "Is it in knots?")
]  # recalled; a bulletin states a mean
BoatSpeed = Annotated[Finite, Between(0.0, 65.0, "the sailing record is near 65 kn", "Is it in knots?")]  # recalled
Watts = Annotated[Finite, Between(0.0, 50_000.0, "galley and cooling of a 60 m yacht", "Is it in watts?")]
AmpHours = Annotated[
    Finite,
    Between(
        5.0,
        20_000.0,
        "the only battery of a small boat to the bank of a large one",
        "Is it in ampere-hours, of the whole bank?",
    ),
]
Volts = Annotated[
    Finite,
    Between(9.0, 65.0, "an empty bank of 12 V to one of 48 V being equalised", "Give the voltage of the whole bank."),
]
Converts = Annotated[Finite, Between(0.3, 1.0, "a converter that loses more is broken", PART)]
Coefficient = Annotated[
    Finite,
    Between(
        -0.01, 0.01, "silicon and thin films lie within half of it", "It is a part of 1 a degree: -0.4 % is -0.004."
    ),
]
_CLOCK: Final = re.compile(r"([01]?\d|2[0-3])[:.h]?([0-5]\d)")


def _clock_time(given: Any) -> Any:
    """Return a ship's time as it is; a clock's time written otherwise is refused with the way to write it."""
    if isinstance(given, time):
        given = given.isoformat("minutes")
    text = str(given).strip()
    if not isinstance(given, str) or not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", given):
        meant = "00:00" if text[:2] == "24" else ":".join(found.groups()) if (found := _CLOCK.fullmatch(text)) else ""
        near = f'Did you mean "{meant.rjust(5, "0")}"?' if meant else 'Write it as "08:30"; midnight is "00:00".'
        raise refuse(f"{text} is no ship's time from 00:00 to 23:59.", near)
    return given


ClockTime = Annotated[str, BeforeValidator(_clock_time)]
"""Ship's time as HH:MM; '00:00' as an end means midnight."""


def rising(values: tuple[float, ...], what: str) -> tuple[float, ...]:
    """Return an axis unchanged when every node is above the one before.

    Parameters
    ----------
    values : tuple of float
        The nodes.
    what : str
        Their name in the plural, for the message.

    Raises
    ------
    PydanticCustomError
        Naming the node.
    """
    for before, after in pairwise(values):
        if after <= before:
            raise refuse(
                f"{after:g} follows {before:g}; {what} rise.", "Sort the table, or correct a slip of the pen."
            )
    return values


def as_many(values: Sequence[object], axis: Sequence[float] | None, what: str) -> None:
    """Check that a table has one entry for each node of its axis; an axis that is itself at fault is passed over.

    Raises
    ------
    PydanticCustomError
        With both counts.
    """
    if axis is not None and len(values) != len(axis):
        raise refuse(f"{len(values)} entries for {len(axis)} {what}.", "Fill the hole, or drop what is too many.")
