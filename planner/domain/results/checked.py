"""What came of looking at a passage before planning it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.inputs.given import Inputs
from planner.domain.results.note import Note


@dataclass(frozen=True, eq=False)
class Checked:
    """A passage that will be planned, and what is odd about it.

    Attributes
    ----------
    inputs : Inputs
        As read.
    warnings : tuple of Note
        What is legal but beyond any boat, the worst first; each has the figure ``key`` by which the passage
        acknowledges it.
    """

    inputs: Inputs
    warnings: tuple[Note, ...]
