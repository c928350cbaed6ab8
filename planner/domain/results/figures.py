"""Figures with their spread over the members."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

PROOF: Final = 0.95  # 1, confidence of what so many members can show at best

Wind = Literal["own", "control", "forecast"]


@dataclass(frozen=True)
class Spread:
    """A figure on the planned course and over the members.

    Attributes
    ----------
    planned : float
        On the members' mean weather.
    p10, p50, p90 : float
        Percentiles over the members.
    """

    planned: float
    p10: float
    p50: float
    p90: float

    @property
    def middle(self) -> Spread:
        """The same about the middle member, where the mean weather is another course and may lie outside them all."""
        return replace(self, planned=self.p50)


@dataclass(frozen=True)
class ReserveKept:
    """How often members that the policy had not seen stayed above the reserve.

    Attributes
    ----------
    kept, members : int
        k of n members held out.
    low, high : float
        90 % Wilson score interval of the probability [0..1].
    confidence : float
        What was asked for [0..1].
    wind : {'own', 'control', 'forecast'}
        Whose wind they sailed in: each member in its own; all in the control's; or in the one that the forecast has.
    """

    kept: int
    members: int
    low: float
    high: float
    confidence: float
    wind: Wind = "control"

    @property
    def can_show(self) -> float:
        """Share that so many members show if all keep it, with 95 % confidence, one-sided [0..1]."""
        return float((1.0 - PROOF) ** (1.0 / self.members))

    @property
    def as_asked(self) -> bool:
        """Whether as many kept it as was asked for."""
        return self.kept >= self.confidence * self.members


@dataclass(frozen=True)
class Count:
    """So many of so many.

    Attributes
    ----------
    k, n : int
        k of n.
    """

    k: int
    n: int


def spread_words(spread: Spread, digits: int = 0, factor: float = 1.0) -> str:
    """Return a planned figure and its middle eight tenths, as '120 (80 to 150)'."""
    planned, low, high = (
        f"{round(value * factor, digits) + 0.0:.{digits}f}" for value in (spread.planned, spread.p10, spread.p90)
    )
    return planned if planned == low == high else f"{planned} ({low} to {high})"
