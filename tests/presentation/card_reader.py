"""Reads a printed card as a watchkeeper does: find the watch's line, then the reading's, then what to run."""

from __future__ import annotations

import re
from collections.abc import Sequence

SPAN = re.compile(r"^\s*(\d\d:\d\d)[-\N{EN DASH}](\d\d:\d\d)")
RUNG = re.compile(
    r"(?:(?P<least>\d+) % or more|below (?P<below>\d+) %|(?P<low>\d+)(?:[-\N{EN DASH}](?P<high>\d+))? %|(?P<any>any))"
    r"\s+(?P<action>no run|\d+ h \d\d|\d+ h|\d+ min)"
)


def minutes_asked(lines: Sequence[str], start: str, reading: int) -> int:
    """Return the minutes that the card's lines ask of the watch that begins at a ship's time, at a reading.

    Raises
    ------
    LookupError
        Where no rung of the watch, or more than one, holds the reading.
    """
    found, here = [], ""
    for line in lines:
        span = SPAN.match(line)
        here = span[1] if span else here
        rung = RUNG.search(line) if here == start else None
        if rung and _holds(rung, reading):
            found.append(_minutes(rung["action"]))
    if len(found) != 1:
        raise LookupError(f"{len(found)} rungs for {reading} % in the watch from {start}")
    return found[0]


def _holds(rung: re.Match[str], reading: int) -> bool:
    if rung["any"]:
        return True
    if rung["least"]:
        return reading >= int(rung["least"])
    if rung["below"]:
        return reading < int(rung["below"])
    return int(rung["low"]) <= reading <= int(rung["high"] or rung["low"])


def _minutes(action: str) -> int:
    if action == "no run":
        return 0
    numbers = [int(number) for number in re.findall(r"\d+", action)]
    if "h" not in action:
        return numbers[0]
    return 60 * numbers[0] + (numbers[1] if len(numbers) > 1 else 0)
