"""Notes as sentences: each code has one template, filled in with the note's figures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from string import Formatter
from typing import Any, Final

from planner.domain.results.note import Note
from planner.presentation.words.templates import bill, warnings
from planner.presentation.words.wording import joined

TEMPLATES: Final = {"nothing": "", **bill.TEMPLATES, **warnings.TEMPLATES}
MOMENTS: Final = {
    "clock": "%H:%M",
    "date": "%a {0.day} %b",
    "moment": "%a {0.day} %b %H:%M",
    "utc": "%Y-%m-%d %H:%M UTC",
}


class _Figures(Formatter):
    """Formats the figures of notes: besides the usual specs, ``percent``, ``list``, and those of moments."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, Note):
            return said(value)
        if format_spec == "percent":
            return f"{round(100.0 * value)} %"
        if format_spec == "list":
            return joined([said(each) if isinstance(each, Note) else each for each in value])
        if format_spec == "moments":
            return ", ".join(self.format_field(each, "moment") for each in value)
        if isinstance(value, datetime) and format_spec in MOMENTS:
            return value.strftime(MOMENTS[format_spec].format(value))
        return str(super().format_field(value, format_spec))


def said(note: Note) -> str:
    """Return what a note says, with all that follows in the same breath."""
    words = _Figures().vformat(TEMPLATES[note.code], (), note.figures)
    return " ".join(part for part in (words, *map(said, note.then)) if part)


def all_said(notes: Sequence[Note]) -> list[str]:
    """Return a sentence or two for each note."""
    return list(map(said, notes))
