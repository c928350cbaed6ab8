"""What readings change in a boat file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from planner.domain.inputs.power import Load
from planner.domain.results.note import Note
from planner.domain.shown import Shown

UNLISTED: Final = "not on the list"
"""Name of a load that readings showed."""


@dataclass(frozen=True)
class BoatChange:
    """One key of a boat file that readings contradict.

    Attributes
    ----------
    key : str
        Dotted as for ``--set``, without ``boat.``: items of arrays of tables by their names.
    before : float or None
        In force so far; None where the key stood at a default that the file does not name, or is new.
    after : float or Load
        To be in force; a load is added to the list.
    why : Note
        What it rests on.
    """

    key: str
    before: float | None
    after: float | Load
    why: Note


@dataclass(frozen=True, repr=False)
class Calibration(Shown):
    """A boat file by readings, to stand beside the old one.

    Attributes
    ----------
    old, new : Path
        The boat files.
    changes : tuple of BoatChange
        None where readings call for none; nothing is written then.
    passage_line : str
        What to write in the passage file, so that the next plan goes by it.
    text : str
        Of the new file.
    """

    old: Path
    new: Path
    changes: tuple[BoatChange, ...]
    passage_line: str
    text: str

    def headline(self) -> str:
        """Return which file stands for which."""
        return f"{self.new.name} by readings, for {self.old.name}"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return what each key becomes."""
        return tuple(
            (change.key, change.after.name if isinstance(change.after, Load) else f"{change.after:g}")
            for change in self.changes
        ) or (("changes", "none"),)
