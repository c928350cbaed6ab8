"""What the crew may choose at each change of watch: the steps in which a run is allowed, and its lengths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Bools, Ints

RUN_INCREMENT_MIN: Final = (
    30  # min, finest difference between two lengths of run that a crew cares for (common practice)
)


@dataclass(frozen=True, eq=False)
class Choices:
    """The lengths of run open to each watch, the shortest first; choice 0 is not to run.

    Attributes
    ----------
    first_step, end_step : int array (epoch,)
        Steps of each epoch, end exclusive.
    allowed : bool array (member, time)
        Steps in which the engine may run to charge; steps under engine are not among them.
    under_engine : bool array (member, time)
        Steps in which the engine drives the boat.
    minutes : int array (epoch, choice)
        Length of run as a policy counts it, with the steps under engine that come before its end [min]; -1 where the
        epoch has no such choice.
    step_s : float
        Length of a step [s].
    """

    first_step: Ints
    end_step: Ints
    allowed: Bools
    under_engine: Bools
    minutes: Ints
    step_s: float

    def running(self, epoch: int, choice: int) -> Bools:
        """Return whether the engine runs, whatever for, in each step of an epoch under a choice, (member, step)."""
        allowed, driving = (each[:, self._steps(epoch)] for each in (self.allowed, self.under_engine))
        counted = np.cumsum(allowed | driving, axis=1)
        run: Bools = allowed & (counted <= round(int(self.minutes[epoch, choice]) * 60.0 / self.step_s))
        return run | driving

    def charging_min(self, epoch: int, choice: int) -> Ints:
        """Return the minutes that each member's engine runs to charge alone, (member,) [min]."""
        charging = self.running(epoch, choice) & ~self.under_engine[:, self._steps(epoch)]
        minutes: Ints = np.round(charging.sum(axis=1) * self.step_s / 60.0).astype(np.int64)
        return minutes

    def _steps(self, epoch: int) -> slice:
        return slice(int(self.first_step[epoch]), int(self.end_step[epoch]))


def open_steps(
    first_step: Ints, end_step: Ints, permitted: Bools, under_engine: Bools, *, step_s: float, min_run_min: int
) -> Bools:
    """Return the steps in which a run may take place along one track.

    Spells of permitted steps shorter than the shortest run are closed, unless the engine drives the boat just before
    or after them.

    Parameters
    ----------
    first_step, end_step : int array (epoch,)
        Steps of each epoch, end exclusive.
    permitted : bool array (time,)
        Steps that no quiet hour, heel or broken engine forbids.
    under_engine : bool array (time,)
        Steps in which the engine drives the boat.
    step_s : float
        Length of a step [s].
    min_run_min : int
        Shortest run in an epoch [min].

    Returns
    -------
    bool array (time,)
    """
    allowed = np.zeros(permitted.size, dtype=np.bool_)
    for first, end in zip(first_step.tolist(), end_step.tolist(), strict=True):
        driving = under_engine[first:end]
        for start, stop in _spells(permitted[first:end] & ~driving):
            joins = (start > 0 and driving[start - 1]) or (stop < driving.size and driving[stop])
            if joins or stop - start >= _shortest(min_run_min, step_s):
                allowed[first + start : first + stop] = True
    return allowed


def choices_of(
    first_step: Ints,
    end_step: Ints,
    allowed: Bools,
    under_engine: Bools,
    *,
    step_s: float,
    min_run_min: int,
    max_run_min: int,
) -> Choices:
    """Lay out the lengths of run open to each epoch, the same for all members.

    A run takes the allowed steps of its epoch from the first. A length is closed where it would leave more than half
    of the members that can use it with less than the shortest run in the last spell that it reaches.

    Parameters
    ----------
    first_step, end_step : int array (epoch,)
        Steps of each epoch, end exclusive.
    allowed, under_engine : bool array (member, time)
        As ``Choices`` has them.
    step_s : float
        Length of a step [s].
    min_run_min, max_run_min : int
        Shortest and longest run in an epoch [min].

    Returns
    -------
    Choices
        The lengths, whole steps each.
    """
    shortest = _shortest(min_run_min, step_s)
    longest = int(max_run_min * 60.0 // step_s)
    increment = max(1, round(RUN_INCREMENT_MIN * 60.0 / step_s))
    lengths: list[list[int]] = []
    for first, end in zip(first_step.tolist(), end_step.tolist(), strict=True):
        ends = [
            _last_ends(may, may | driving, shortest)
            for may, driving in zip(allowed[:, first:end], under_engine[:, first:end], strict=True)
        ]
        most = min(longest, max(reached.size for reached in ends))
        lengths.append([0, *(length for length in range(shortest, most + 1, increment) if _serves(ends, length))])
    minutes = np.full((len(lengths), max(map(len, lengths), default=1)), -1, dtype=np.int64)
    for epoch, open_lengths in enumerate(lengths):
        minutes[epoch, : len(open_lengths)] = np.round(np.array(open_lengths) * step_s / 60.0).astype(np.int64)
    return Choices(
        first_step=first_step,
        end_step=end_step,
        allowed=allowed,
        under_engine=under_engine,
        minutes=minutes,
        step_s=step_s,
    )


def _last_ends(allowed: Bools, usable: Bools, shortest: int) -> Bools:
    """Return, for runs of 1, 2, ... steps, whether each may end there, (length,); up to the last allowed step."""
    may_end = np.zeros(allowed.size, dtype=np.bool_)
    for start, stop in _spells(allowed):
        joins = start > 0 and usable[start - 1]
        may_end[start + (0 if joins else min(shortest, stop - start) - 1) : stop] = True
    last = int(np.flatnonzero(allowed).max(initial=-1)) + 1
    ends: Bools = may_end[:last][usable[:last]]
    return ends


def _serves(ends: list[Bools], length: int) -> bool:
    """Return whether a run of so many steps may end as it does for half or more of those long enough for it."""
    able = [bool(reached[length - 1]) for reached in ends if reached.size >= length]
    return 2 * sum(able) >= len(able)


def _shortest(min_run_min: int, step_s: float) -> int:
    return max(1, int(np.ceil(min_run_min * 60.0 / step_s)))


def _spells(flags: Bools) -> list[tuple[int, int]]:
    """Return start and stop of each unbroken spell of set flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]])))
    return [(start, stop) for start, stop in edges.reshape(-1, 2).tolist()]


def starts_of(choices: Choices) -> tuple[Ints, Bools]:
    """Count the engine starts of each choice, over those that driving the boat needs anyway.

    Parameters
    ----------
    choices : Choices
        What is open.

    Returns
    -------
    starts : int array (epoch, choice, 2, member)
        Times that the engine goes from stopped to running, when it was stopped (0) or running (1) before the epoch,
        less those of driving alone after a stop; -1 where a run joins on to driving and saves its start.
    runs_on : bool array (epoch, choice, member)
        Whether it runs in the epoch's last step.
    """
    epochs, count = choices.minutes.shape
    members = choices.allowed.shape[0]
    starts = np.zeros((epochs, count, 2, members), dtype=np.int64)
    runs_on = np.zeros((epochs, count, members), dtype=np.bool_)
    for epoch in range(epochs):
        for choice in np.flatnonzero(choices.minutes[epoch] >= 0).tolist():
            running = choices.running(epoch, choice)
            rises = np.sum(running[:, 1:] & ~running[:, :-1], axis=1)
            starts[epoch, choice] = rises + running[:, 0], rises
            runs_on[epoch, choice] = running[:, -1]
    starts -= starts[:, :1, :1].copy()
    return starts, runs_on
