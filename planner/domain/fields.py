"""The base of every typed input and the number ranges that they share."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from planner.domain.file_format import FORMAT, Format

Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
NonNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Fraction = Annotated[float, Field(strict=True, ge=0, le=1)]
AboveZeroFraction = Annotated[float, Field(strict=True, gt=0, le=1)]
Name = Annotated[str, Field(min_length=1, max_length=60)]
ClockTime = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
"""Ship's time as HH:MM; '00:00' as an end means midnight."""
Point = tuple[Finite, Finite, Finite]
"""x forward, y to port, z up from the mast foot on deck [m]."""


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


def refuse(problem: str, mend: str = "") -> PydanticCustomError:
    """Return the error for a validator to raise: the problem as a whole sentence, and the mend.

    Parameters
    ----------
    problem : str
        What was given and what is allowed; file and key are put before it.
    mend : str
        The likely cause and what to do.
    """
    return PydanticCustomError("refused", "{problem}", {"problem": problem, "mend": mend})


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
            raise refuse(f"{after:g} follows {before:g}; {what} rise.", "Sort the table, or mend a slip of the pen.")
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
