"""What the crew may choose at each change of watch: the steps in which a run is allowed, and its lengths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.domain.arrays import Bools, Ints

RUN_INCREMENT_MIN = 30  # min, finest difference between two lengths of run that a crew cares for (common practice)


@dataclass(frozen=True, eq=False)
class Choices:
    """The lengths of run open to each watch, the shortest first; choice 0 is not to run.

    Attributes
    ----------
    first_step, end_step : int array (epoch,)
        Steps of each epoch, end exclusive.
    allowed : bool array (time,)
        Steps in which the engine may run to charge; steps under engine are not among them.
    under_engine : bool array (time,)
        Steps in which the engine drives the boat.
    minutes : int array (epoch, choice)
        Length of run to charge [min]; -1 where the epoch has no such choice.
    printed_minutes : int array (epoch, choice)
        The same as a policy counts it: with the steps under engine that come before the run's end [min].
    step_s : float
        Length of a step [s].
    """

    first_step: Ints
    end_step: Ints
    allowed: Bools
    under_engine: Bools
    minutes: Ints
    printed_minutes: Ints
    step_s: float

    def running(self, epoch: int, choice: int) -> Bools:
        """Return whether the engine runs, whatever for, in each step of an epoch under a choice.

        Parameters
        ----------
        epoch, choice : int
            Which epoch, which of its choices.

        Returns
        -------
        bool array (step,)
            One flag for each step of the epoch.
        """
        steps = slice(int(self.first_step[epoch]), int(self.end_step[epoch]))
        allowed = self.allowed[steps]
        wanted = round(int(self.minutes[epoch, choice]) * 60.0 / self.step_s)
        run: Bools = allowed & (np.cumsum(allowed) <= wanted)
        return run | self.under_engine[steps]


def choices_of(
    first_step: Ints,
    end_step: Ints,
    permitted: Bools,
    under_engine: Bools,
    *,
    step_s: float,
    min_run_min: int,
    max_run_min: int,
) -> Choices:
    """Lay out the lengths of run open to each epoch.

    A run takes the allowed steps of its epoch from the first. Spells of permitted steps shorter than the shortest
    run are closed, unless the engine drives the boat just before or after them, and so is any length that would
    leave less than the shortest run in the last spell that it reaches.

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
    min_run_min, max_run_min : int
        Shortest and longest run in an epoch [min].

    Returns
    -------
    Choices
        The lengths, whole steps each.
    """
    shortest = max(1, int(np.ceil(min_run_min * 60.0 / step_s)))
    longest = int(max_run_min * 60.0 // step_s)
    increment = max(1, round(RUN_INCREMENT_MIN * 60.0 / step_s))
    allowed = np.zeros(permitted.size, dtype=np.bool_)
    lengths: list[list[int]] = []
    for first, end in zip(first_step.tolist(), end_step.tolist(), strict=True):
        spells = _spells(permitted[first:end] & ~under_engine[first:end], under_engine[first:end], shortest)
        for start, stop in spells:
            allowed[first + start : first + stop] = True
        cumulative = np.cumsum([0, *(stop - start for start, stop in spells)])
        most = min(longest, int(cumulative[-1]))
        open_lengths = [0]
        for length in range(shortest, most + 1, increment):
            spell = int(np.searchsorted(cumulative, length, side="left")) - 1
            if length - cumulative[spell] >= min(shortest, spells[spell][1] - spells[spell][0]):
                open_lengths.append(length)
        lengths.append(open_lengths)
    minutes = np.full((len(lengths), max(map(len, lengths), default=1)), -1, dtype=np.int64)
    printed = minutes.copy()
    for epoch, open_lengths in enumerate(lengths):
        steps = slice(int(first_step[epoch]), int(end_step[epoch]))
        # count of steps with the engine running at the end of each allowed step, 0 for no run
        counted = np.cumsum(allowed[steps] | under_engine[steps])[allowed[steps]]
        used = np.concatenate([[0], counted])[open_lengths]
        minutes[epoch, : len(open_lengths)] = np.round(np.array(open_lengths) * step_s / 60.0).astype(np.int64)
        printed[epoch, : len(open_lengths)] = np.round(used * step_s / 60.0).astype(np.int64)
    return Choices(
        first_step=first_step,
        end_step=end_step,
        allowed=allowed,
        under_engine=under_engine,
        minutes=minutes,
        printed_minutes=printed,
        step_s=step_s,
    )


def _spells(open_steps: Bools, under_engine: Bools, shortest: int) -> list[tuple[int, int]]:
    """Return start and stop of each spell of open steps that is long enough or joins a spell under engine."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], open_steps, [False]])))
    spells: list[tuple[int, int]] = []
    for start, stop in edges.reshape(-1, 2).tolist():
        joins = (start > 0 and under_engine[start - 1]) or (stop < open_steps.size and under_engine[stop])
        if stop - start >= shortest or joins:
            spells.append((start, stop))
    return spells


def starts_of(choices: Choices) -> tuple[Ints, Bools]:
    """Count the engine starts of each choice, over those that driving the boat needs anyway.

    Parameters
    ----------
    choices : Choices
        What is open.

    Returns
    -------
    starts : int array (epoch, choice, 2)
        Times that the engine goes from stopped to running, when it was stopped (0) or running (1) before the epoch,
        less those of driving alone after a stop; -1 where a run joins on to driving and saves its start.
    runs_on : bool array (epoch, choice)
        Whether it runs in the epoch's last step.
    """
    epochs, count = choices.minutes.shape
    starts = np.zeros((epochs, count, 2), dtype=np.int64)
    runs_on = np.zeros((epochs, count), dtype=np.bool_)
    for epoch in range(epochs):
        for choice in np.flatnonzero(choices.minutes[epoch] >= 0).tolist():
            running = choices.running(epoch, choice)
            rises = int(np.sum(running[1:] & ~running[:-1]))
            starts[epoch, choice] = rises + int(running[0]), rises
            runs_on[epoch, choice] = running[-1]
    starts -= starts[:, :1, :1].copy()
    return starts, runs_on
