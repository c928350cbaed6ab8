"""Notes as sentences: each code has one template, filled in with the note's figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from string import Formatter
from typing import Any, Final

from planner.domain.results.note import Note
from planner.presentation.words.templates import bill, findings, studies, warnings
from planner.presentation.words.wording import joined

TEMPLATES: Final = {"nothing": "", **bill.TEMPLATES, **warnings.TEMPLATES, **studies.TEMPLATES, **findings.TEMPLATES}
POINTS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
FORMS: Final[dict[str, Callable[[Any, str], str]]] = {
    "percent": lambda fraction, _: f"{round(100.0 * fraction)} %",
    "count": lambda count, noun: f"{count or 'no'} {noun}{'s' if count > 1 else ''}",
    "run": lambda minutes, _: f"{minutes} min" if minutes else "skip",
    "side": lambda degrees, sides: f"{abs(degrees):.2f} {sides[degrees < 0.0]}",
    "point": lambda bearing_deg, _: POINTS[round(bearing_deg / 45.0) % 8],
    "list": lambda parts, _: joined(_each(parts)),
    "each": lambda parts, between: between.join(_each(parts)),
    "clock": lambda moment, _: f"{moment:%H:%M}",
    "date": lambda moment, _: f"{moment:%a} {moment.day} {moment:%b}",
    "moment": lambda moment, _: f"{moment:%a} {moment.day} {moment:%b %H:%M}",
    "moments": lambda moments, _: ", ".join(FORMS["moment"](moment, "") for moment in moments),
    "utc": lambda moment, _: f"{moment:%Y-%m-%d %H:%M} UTC",
}
"""Forms of figures besides the usual ones; what stands after a bar in a template is their second argument."""


class _Figures(Formatter):
    def format_field(self, value: Any, format_spec: str) -> str:
        form, _, detail = format_spec.partition("|")
        if isinstance(value, Note):
            return said(value)
        return FORMS[form](value, detail) if form in FORMS else str(super().format_field(value, format_spec))


def said(note: Note) -> str:
    """Return what a note says, with all that follows in the same breath."""
    words = _Figures().vformat(TEMPLATES[note.code], (), note.figures)
    return " ".join(part for part in (words, *map(said, note.then)) if part)


def all_said(notes: Sequence[Note]) -> list[str]:
    """Return a sentence or two for each note."""
    return list(map(said, notes))


def _each(parts: Sequence[Note | str]) -> list[str]:
    return [said(part) if isinstance(part, Note) else part for part in parts]
