"""What is told of work that goes on: each stage as it begins, and how much of the whole is done by then."""

from __future__ import annotations

import logging
from collections.abc import Callable
from types import MappingProxyType
from typing import Final

from planner.flow.progress import FLOW, Course, Progress

Tell = Callable[[str, float], None]
"""Told each stage as it begins, and the part of the whole that is done by then [0..1]."""

log = logging.getLogger(__name__)


def untold(_stage: str, _share: float) -> None:
    """Tell nobody which stage begins."""


def noted(tell: Tell) -> Tell:
    """Return what tells each stage and notes it in the log."""

    def telling(stage: str, share: float) -> None:
        log.info("%s", stage)
        tell(stage, share)

    return telling


def _amid(start: float, end: float) -> Course:
    """Return the one flow as a part of something longer."""
    return {stage: start + share * (end - start) for stage, share in FLOW.items()}


WRITING: Final = 0.9  # of the whole, when that is done which any verb is asked for
PLANNING: Final[Course] = MappingProxyType(
    {
        **_amid(0.15, 0.37),
        "trying it in trouble": 0.37,
        "sailing each forecast's own track": 0.43,
        "holding other headings": 0.84,
    }
)
HEADINGS: Final[Course] = MappingProxyType({**_amid(0.2, 0.76), "holding other headings": 0.76})
REPLANNING: Final[Course] = MappingProxyType(
    {
        **_amid(0.13, 0.32),
        "planning with the bank that the last plan foresaw": 0.32,
        "trying it in trouble": 0.46,
        "sailing each forecast's own track": 0.51,
        "holding other headings": 0.86,
    }
)


RECONCILING: Final[Course] = MappingProxyType(
    {
        "sailing the track": 0.15,
        "reading the log": 0.17,
        "casting shadows and collecting sunlight": 0.2,
        "holding the readings against the model": 0.6,
    }
)


def along(tell: Tell, course: Course) -> Progress:
    """Return what tells each stage of a course with its share.

    Parameters
    ----------
    tell : callable
        Told stage and share.
    course : mapping of str to float
        A stage that it does not name is told with the share of the one before.
    """
    done, telling = 0.0, noted(tell)

    def progress(stage: str) -> None:
        nonlocal done
        done = course.get(stage, done)
        telling(stage, done)

    return progress
