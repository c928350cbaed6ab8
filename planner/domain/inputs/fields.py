"""The base of every typed input and the number ranges that they share.

A range says what no boat has, or no sea; it stands with the field, and its reason beside it. Where no source is
named, the ends are generous readings of common practice.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Annotated, Any, Final

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from planner.domain.file_format import FORMAT, Format

Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
NonNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Fraction = Annotated[float, Field(strict=True, ge=0, le=1)]
AboveZeroFraction = Annotated[float, Field(strict=True, gt=0, le=1)]
Name = Annotated[str, Field(min_length=1, max_length=60)]
ClockTime = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
"""Ship's time as HH:MM; '00:00' as an end means midnight."""


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
class Between:
    """The range of a number, for ``Annotated``: both ends are allowed, what lies beyond is refused with both.

    Attributes
    ----------
    low, high : float
        Ends, in the field's units.
    remedy : str
        The likely cause of a figure beyond them, and what to do.
    """

    low: float
    high: float
    remedy: str = ""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self.checked, handler(source))

    def checked(self, value: Any) -> Any:
        """Return a number unchanged when it lies in the range.

        Raises
        ------
        PydanticCustomError
            With the number and both ends.
        """
        self._check(value)
        return value

    def _check(self, value: float) -> None:
        if not self.low <= value <= self.high:
            # a whole number may have more digits than a floating one can hold
            given = f"{value:g}" if abs(value) <= sys.float_info.max else f"a number of {len(str(value))} digits"
            raise refuse(f"{given} is not {self.low:g} to {self.high:g}.", self.remedy)


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
Moment = Annotated[AwareDatetime, AfterValidator(_of_our_times)]
"""A time with its offset from UTC."""

IN_METRES = "Is it in metres?"
# m; sailing yachts are up to 60 m long, and 30 m wide over two hulls; their masts stand up to 90 m above the water
Along = Annotated[Finite, Between(-60.0, 60.0, IN_METRES)]
Abeam = Annotated[Finite, Between(-15.0, 15.0, IN_METRES)]
Above = Annotated[Finite, Between(-10.0, 90.0, IN_METRES)]
Point = tuple[Along, Abeam, Above]
"""x forward, y to port, z up from the mast foot on deck [m]."""
# m; from a strip of canvas to the widest deck, and to the highest thing that stands on it
Breadth = Annotated[Finite, Between(0.05, 30.0, IN_METRES)]
Height = Annotated[Finite, Between(0.05, 10.0, IN_METRES)]
Tilt = Annotated[Finite, Between(0.0, 180.0, "0 lies flat face up, 90 stands, 180 lies face down.")]  # degree
Bearing = Annotated[Finite, Between(-360.0, 360.0, "Is it in degrees?")]  # degree; one turn either way
Roll = Annotated[Finite, Between(0.0, 60.0, "It is in degrees, to each side.")]  # degree; beyond is a knockdown
# kn; a bulletin states a mean: the strongest gust that a weather station measured is 220 kn (recalled)
WindSpeed = Annotated[Finite, Between(0.0, 200.0, "Is it in knots?")]
BoatSpeed = Annotated[Finite, Between(0.0, 65.0, "Is it in knots?")]  # kn; the sailing record is near 65 (recalled)
Watts = Annotated[Finite, Between(0.0, 50_000.0, "Is it in watts?")]  # W; galley and cooling of a 60 m yacht
# Ah; from the only battery of a small boat to the bank of a large one
AmpHours = Annotated[Finite, Between(5.0, 20_000.0, "Is it in ampere-hours, of the whole bank?")]
# V; from an empty bank of 12 V to one of 48 V being equalised, at 62.4 V
Volts = Annotated[Finite, Between(9.0, 65.0, "Give the voltage of the whole bank.")]
# 1; a converter that loses more is broken
Converts = Annotated[Finite, Between(0.3, 1.0, "It is a part of 1: 0.9 is 90 %.")]
# 1/C; silicon and thin films lie within half of it
Coefficient = Annotated[Finite, Between(-0.01, 0.01, "It is a part of 1 a degree: -0.4 %/C is -0.004.")]


def rising(values: tuple[float, ...], what: str, *, most: float | None = None) -> tuple[float, ...]:
    """Return an axis unchanged when every node is above the one before and none above the most.

    Parameters
    ----------
    values : tuple of float
        The nodes.
    what : str
        Their name in the plural, for the message.
    most : float, optional
        Upper limit.

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
    if most is not None and values and values[-1] > most:
        raise refuse(f"{values[-1]:g} is beyond {most:g}, where {what} end.")
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
