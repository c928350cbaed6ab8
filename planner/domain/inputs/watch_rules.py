"""What a watch system must keep to: the watches fill the day, without gap and without overlap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from planner.domain.errors import Fault
from planner.domain.inputs.passage import Watch

MINUTES_PER_DAY: Final = 1440  # min, exact


def minute_of_day(clock_time: str) -> int:
    """Return the minutes since midnight [min] of a ship's time HH:MM."""
    hours, minutes = clock_time.split(":")
    return 60 * int(hours) + int(minutes)


def span_minutes(start: str, end: str) -> int:
    """Return how long a ship's-time span lasts [min]; an end equal to the start means the whole day."""
    return (minute_of_day(end) - minute_of_day(start)) % MINUTES_PER_DAY or MINUTES_PER_DAY


def clock_time(minute: int) -> str:
    """Return HH:MM of minutes since midnight [min]."""
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}"


def watch_faults(watches: Sequence[Watch], where: str) -> list[Fault]:
    """Return what is wrong with a watch system: every stretch of the day with no watch, or with more than one.

    Parameters
    ----------
    watches : sequence of Watch
        In any order; a watch may pass midnight.
    where : str
        File that holds them.
    """
    standing = [0] * MINUTES_PER_DAY
    for watch in watches:
        first = minute_of_day(watch.start)
        for minute in range(first, first + span_minutes(watch.start, watch.end)):
            standing[minute % MINUTES_PER_DAY] += 1
    faults = []
    begin = 0
    for minute in range(1, MINUTES_PER_DAY + 1):
        if minute < MINUTES_PER_DAY and standing[minute] == standing[begin]:
            continue
        stretch = f"{clock_time(begin)}-{clock_time(minute)} ship's time"
        if standing[begin] == 0:
            faults.append(Fault(where, "watches", f"nobody is on watch {stretch}.", "Let the watches fill the day."))
        elif standing[begin] > 1:
            faults.append(
                Fault(
                    where,
                    "watches",
                    f"{standing[begin]} watches overlap {stretch}.",
                    "End each watch where the next begins.",
                )
            )
        begin = minute
    return faults
