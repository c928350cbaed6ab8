"""How far a plan has come when each of its stages begins, for whoever shows progress."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

SHARES: Final[Mapping[str, float]] = MappingProxyType(
    # parts of the time that the demo takes, by the clock, libraries not yet loaded
    {
        "reading": 0.05,
        "sailing the track": 0.37,
        "casting shadows and collecting sunlight": 0.42,
        "deciding when the engine runs": 0.58,
        "running the ledger": 0.8,
        "sailing each forecast's own track": 0.82,
        "planning with the bank that the last plan foresaw": 0.84,
        "holding other headings": 0.86,
        "writing": 0.88,
    }
)


def share_of(stage: str) -> float:
    """Return the part of the work done [0..1] when a stage begins; 0 for one that is not known."""
    return SHARES.get(stage, 0.0)
