"""What a result has to say, as facts: presentation turns them into sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final


@dataclass(frozen=True)
class Note:
    """One fact with its figures.

    Attributes
    ----------
    code : str
        Which fact; ``presentation/words/templates/`` has its sentence.
    figures : mapping of str to object
        What the sentence states, under the names that it uses: numbers, text, moments (by the ship's clock where the
        sentence says so, else UTC), notes, or sequences of these.
    then : tuple of Note
        What is said in the same breath.
    """

    code: str
    figures: Mapping[str, object] = field(default_factory=dict)
    then: tuple[Note, ...] = ()


NOTHING: Final = Note("nothing")
"""Where there is nothing to say."""


def together(notes: Sequence[Note]) -> Note:
    """Return notes that belong in one remark as the first of them, the others following."""
    return replace(notes[0], then=(*notes[0].then, *notes[1:])) if notes else NOTHING
