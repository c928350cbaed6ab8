"""The planner's exceptions.

::

    PlannerError
    ├── InputError (also ValueError)   the user's files or values are wrong; holds every fault found
    ├── OutputError                    files could not be written: a full disk, a file held open
    └── ContractError                  a stage handed on a dataset that breaks the glossary: our mistake
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


class PlannerError(Exception):
    """Root of every exception that the planner raises on purpose."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with one input.

    Attributes
    ----------
    where : str
        File (or option) and, where known, its line.
    key : str
        Dotted key or column; empty when the whole file is at fault.
    problem : str
        What was given and what is allowed.
    remedy : str
        The likely cause and what to do; empty when the problem says it all.
    """

    where: str
    key: str
    problem: str
    remedy: str = ""

    def __str__(self) -> str:
        place = f"{self.where}: {self.key}" if self.key else self.where
        return f"{place}: {self.problem}" + (f" {self.remedy}" if self.remedy else "")


class InputError(PlannerError, ValueError):
    """The user's input is wrong; every fault that could be found is listed.

    Parameters
    ----------
    faults : iterable of Fault
        At least one.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        """Go from process to process by its faults, of which the message is made."""
        return type(self), (self.faults,)


class OutputError(PlannerError):
    """Outputs could not be written where they were asked for."""


class ContractError(PlannerError):
    """A dataset between two stages lacks a variable, or has other dims or units than the glossary says."""


def suggest(given: str, allowed: Iterable[str]) -> str:
    """Return a hint naming the near match of a mistyped word, or the allowed words when none is near."""
    words = sorted(allowed)
    near = difflib.get_close_matches(given, words, n=1, cutoff=0.6)
    if near:
        return f"Did you mean '{near[0]}'?"
    return f"Allowed: {', '.join(words)}." if words else ""
