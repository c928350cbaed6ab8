"""What an input key, an output or a topic is."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.inputs.reference import Entry


@dataclass(frozen=True)
class Explained:
    """The entries of a topic, or its text.

    Attributes
    ----------
    topic : str
        As it was asked for; empty for what there is to ask.
    entries : tuple of Entry
        In the order of the files.
    text : str
        Where the topic is told in a text of its own.
    """

    topic: str
    entries: tuple[Entry, ...] = ()
    text: str = ""
