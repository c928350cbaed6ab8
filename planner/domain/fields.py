"""The base of every typed input and the number ranges that they share."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

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
