"""Habits that crews have without a planner, as policies to be scored beside the ladders."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.decision.policy.choices import Choices
from planner.domain.arrays import Ints
from planner.domain.policy import METER_READINGS, Policy

NEVER_STOP: Final = 1.01  # 1, above what any meter shows
HABIT_INCREMENT_MIN: Final = 30  # min, fineness of a tuned timetable
TRIGGER_STOPS: Final = (0.6, 0.7, 0.8, 0.9, 1.0)  # 1, where a tuned trigger may stop


@dataclass(frozen=True)
class Score:
    """How a policy fares on the members that it is tuned on.

    Attributes
    ----------
    kept : float
        Share that keeps the reserve [0..1].
    minutes : float
        Mean running to charge, with what is owed on arrival [min].
    """

    kept: float
    minutes: float


def timetable(choices: Choices, clock_hour: Ints, minutes_at: Mapping[int, int]) -> Policy:
    """Run for fixed times in the watches that hold given hours, whatever the meter says.

    Parameters
    ----------
    choices : Choices
        Which steps are allowed.
    clock_hour : int array (time,)
        Ship's hour of each step.
    minutes_at : mapping of int to int
        Ship's hour to minutes of running in the watch that holds it [min].

    Returns
    -------
    Policy
        A watch that begins after the hour, on the first day, does not run for it.
    """
    minutes = np.zeros((choices.first_step.size, METER_READINGS), dtype=np.int64)
    for epoch, (first, end) in enumerate(zip(choices.first_step.tolist(), choices.end_step.tolist(), strict=True)):
        held = set(clock_hour[first:end].tolist())
        minutes[epoch] = sum(length for hour, length in minutes_at.items() if hour in held)
    return _policy(choices, minutes, NEVER_STOP)


def trigger(choices: Choices, *, start_below: int, stop_at: float) -> Policy:
    """Start when the meter shows less than one figure at a change of watch, run until it shows another.

    Parameters
    ----------
    choices : Choices
        Which steps are allowed, and the longest run.
    start_below : int
        Meter reading [%].
    stop_at : float
        SOC by the meter [0..1].

    Returns
    -------
    Policy
    """
    minutes = np.zeros((choices.first_step.size, METER_READINGS), dtype=np.int64)
    minutes[:, :start_below] = choices.minutes.max(axis=1)[:, None]
    return _policy(choices, minutes, stop_at)


def tuned_timetable(
    choices: Choices, clock_hour: Ints, score: Callable[[Policy], Score], *, hours: tuple[int, int], confidence: float
) -> Policy:
    """Return the cheapest daily timetable of two runs that keeps the reserve often enough on the members given.

    Parameters
    ----------
    choices, clock_hour
        As for ``timetable``.
    score : callable
        Of a policy on the members to tune on.
    hours : tuple of int
        Ship's hours whose watches run.
    confidence : float
        Share that must keep the reserve [0..1].

    Returns
    -------
    Policy
        Where none keeps it, the one that keeps it most often.
    """
    longest = int(choices.minutes.max())
    lengths = range(0, longest + 1, HABIT_INCREMENT_MIN)
    return _cheapest(
        (
            [timetable(choices, clock_hour, {hours[0]: first, hours[1]: second}) for second in lengths]
            for first in lengths
        ),
        score,
        confidence,
    )


def tuned_trigger(choices: Choices, score: Callable[[Policy], Score], *, confidence: float) -> Policy:
    """Return the cheapest trigger that keeps the reserve often enough on the members given.

    Parameters
    ----------
    choices, score, confidence
        As for ``tuned_timetable``.

    Returns
    -------
    Policy
        Where none keeps it, the one that keeps it most often.
    """
    return _cheapest(
        (
            [trigger(choices, start_below=below, stop_at=stop) for below in range(round(stop * 100) + 1)]
            for stop in TRIGGER_STOPS
        ),
        score,
        confidence,
    )


def _policy(choices: Choices, minutes: Ints, stop_soc: float) -> Policy:
    return Policy(
        first_step=choices.first_step,
        end_step=choices.end_step,
        minutes=minutes,
        stop_soc=np.full(choices.first_step.size, stop_soc),
        allowed=choices.allowed,
    )


def _cheapest(families: Iterable[list[Policy]], score: Callable[[Policy], Score], confidence: float) -> Policy:
    """Return the cheapest policy that keeps the reserve, each family going from little running to much."""
    scored: list[tuple[Score, Policy]] = []
    for family in families:
        low, high = -1, len(family) - 1
        scored.append((score(family[high]), family[high]))
        while high - low > 1:
            middle = (low + high) // 2
            scored.append((score(family[middle]), family[middle]))
            low, high = (low, middle) if scored[-1][0].kept >= confidence else (middle, high)
    enough = [pair for pair in scored if pair[0].kept >= confidence]
    if not enough:
        return max(scored, key=lambda pair: (pair[0].kept, -pair[0].minutes))[1]
    return min(enough, key=lambda pair: pair[0].minutes)[1]
