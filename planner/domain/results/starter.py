"""What a new passage begins with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Starter:
    """Files to put one's own figures into.

    Attributes
    ----------
    folder : Path
        Where they are written.
    files : mapping of str to bytes
        By their names.
    edited : tuple of str
        Names of those that a crew edits.
    """

    folder: Path
    files: Mapping[str, bytes]
    edited: tuple[str, ...]
