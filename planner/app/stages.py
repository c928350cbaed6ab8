"""What is reported of work that goes on: each stage as it begins, and how much of the whole is done by then."""

from __future__ import annotations

import logging
from collections.abc import Callable
from types import MappingProxyType
from typing import Final

from planner.flow.progress import FLOW, Progress, StageShares

OnStage = Callable[[str, float], None]
"""Called as each stage begins, with its name and the part of the whole that is done by then [0..1]."""

log = logging.getLogger(__name__)


def unreported(_stage: str, _share: float) -> None:
    """Report to nobody which stage begins."""


def also_logged(on_stage: OnStage) -> OnStage:
    """Return what reports each stage and writes it to the log."""

    def report(stage: str, share: float) -> None:
        log.info("%s", stage)
        on_stage(stage, share)

    return report


def _flow_between(start: float, end: float) -> StageShares:
    """Return the one flow as a part of something longer."""
    return {stage: start + share * (end - start) for stage, share in FLOW.items()}


WRITING: Final = 0.9  # of the whole, when that is done which any verb is asked for
PLANNING: Final[StageShares] = MappingProxyType(
    {
        **_flow_between(0.15, 0.72),
        "letting things fail": 0.72,
        "trying it in trouble": 0.78,
        "holding other headings": 0.84,
    }
)
CHECKING: Final[StageShares] = MappingProxyType({"sailing the tracks": 0.4})
HEADINGS: Final[StageShares] = MappingProxyType({**_flow_between(0.2, 0.76), "holding other headings": 0.76})
REPLANNING: Final[StageShares] = MappingProxyType(
    {
        "reading the log": 0.05,
        **_flow_between(0.13, 0.6),
        "planning with the bank that the last plan foresaw": 0.6,
        "planning with the sky as forecast": 0.7,
        "letting things fail": 0.73,
        "trying it in trouble": 0.8,
        "holding other headings": 0.86,
    }
)


RECONCILING: Final[StageShares] = MappingProxyType(
    {
        "sailing the track": 0.15,
        "reading the log": 0.17,
        "casting shadows and collecting sunlight": 0.2,
        "comparing the readings with the model": 0.6,
    }
)


def along(on_stage: OnStage, shares: StageShares) -> Progress:
    """Return what reports each stage with its share.

    Parameters
    ----------
    on_stage : callable
        Called with stage and share.
    shares : mapping of str to float
        A stage that it does not name is reported with the share of the one before.
    """
    done, report = 0.0, also_logged(on_stage)

    def progress(stage: str) -> None:
        nonlocal done
        done = shares.get(stage, done)
        report(stage, done)

    return progress
