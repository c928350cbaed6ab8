"""The stages of the flow, as they are reported while it runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

Progress = Callable[[str], None]
"""Called as each stage begins, with its name."""


StageShares = Mapping[str, float]
"""Stages and the part of the whole that is done when each begins [0..1]."""


FLOW: Final[StageShares] = MappingProxyType(
    # by the clock on the demo, as are the rest
    {
        "sailing the track": 0.0,
        "casting shadows and collecting sunlight": 0.02,
        "sailing each forecast's own track": 0.12,
        "deciding when the engine runs": 0.66,
        "running the ledger": 0.97,
    }
)


def silent(_stage: str) -> None:
    """Report to nobody which stage begins."""
