"""Notes as sentences: each code has one template, filled in with the note's figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from string import Formatter
from typing import Any, Final

from planner.domain.results.note import Note
from planner.presentation.words.templates import bill, failures, findings, studies, warnings
from planner.presentation.words.wording import clock, date_words, joined, moment_words

TEMPLATES: Final = {
    "nothing": "",
    **bill.TEMPLATES,
    **failures.TEMPLATES,
    **warnings.TEMPLATES,
    **studies.TEMPLATES,
    **findings.TEMPLATES,
}
POINTS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
SHIP_TIME: Final = timedelta()  # notes hold moments as the ship's clock shows them
FORMS: Final[dict[str, Callable[[Any, str], str]]] = {
    "percent": lambda fraction, _: f"{round(100.0 * fraction)} %",
    "count": lambda count, noun: f"{count or 'no'} {noun}{'s' if count > 1 else ''}",
    "run": lambda minutes, _: f"{minutes} min" if minutes else "skip",
    "side": lambda degrees, sides: f"{abs(degrees):.2f} {sides[degrees < 0.0]}",
    "point": lambda bearing_deg, _: POINTS[round(bearing_deg / 45.0) % 8],
    "list": lambda parts, _: joined(_each(parts)),
    "each": lambda parts, between: between.join(_each(parts)),
    "clock": lambda moment, _: clock(moment, SHIP_TIME),
    "date": lambda moment, _: date_words(moment, SHIP_TIME),
    "moment": lambda moment, _: moment_words(moment, SHIP_TIME),
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
