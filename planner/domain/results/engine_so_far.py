"""What the engine has done on the passage before a plan begins."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class EngineSoFar:
    """The engine's log of the passage so far.

    Attributes
    ----------
    hours : float
        Run since the first departure [h].
    fuel_l : float
        Burnt since the first departure [L].
    source : str
        'log', 'the last plan', or one after the other.
    """

    hours: float
    fuel_l: float
    source: str
