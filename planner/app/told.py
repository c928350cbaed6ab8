"""What a use case says: to a reader at a terminal, and to another program."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Told:
    """The same result twice.

    Attributes
    ----------
    text : str
        Words and tables; ends in a newline.
    json : str
        One JSON object; ends in a newline.
    """

    text: str
    json: str
