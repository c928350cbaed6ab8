"""The reference as text: a key a paragraph, for a terminal, for a page, and as comments of a starter."""

from __future__ import annotations

import textwrap
from dataclasses import replace

from pydantic import BaseModel

from planner.domain.inputs.reference import Entry, reference
from planner.domain.results.explained import Explained
from planner.presentation.words.content import Column, Page, Table

COMMENT_WIDTH = 116  # columns, as the files of this project have


def explained_text(found: Explained, width: int) -> str:
    """Return a topic for a terminal of so many columns; it ends in a newline."""
    if found.text:
        return found.text
    return "\n".join("\n".join(_paragraph(entry, width)) for entry in found.entries) + "\n"


def _paragraph(entry: Entry, width: int) -> list[str]:
    head = f"{entry.key} [{entry.unit}]" if entry.unit else entry.key
    said = [f"{entry.meaning[:1].upper()}{entry.meaning[1:]}", *_facts(entry)]
    return [head, *textwrap.wrap(" ".join(said), width, initial_indent="    ", subsequent_indent="    ")]


def _facts(entry: Entry) -> list[str]:
    """Return what is to be said of a key's value, a sentence each."""
    default = {"": "", "needed": "Needed.", "none": "May be left out."}.get(
        entry.default, f"Default {entry.default}."
    )
    return [
        *([default] if default else []),
        *([f"Allowed: {entry.allowed}."] if entry.allowed else []),
        *([f"Usual: {entry.usual}."] if entry.usual else []),
        *([f"Example: {entry.example}."] if entry.example and entry.example != entry.default else []),
    ]


def explained_page(found: Explained) -> Page:
    """Return a topic as a page."""
    columns = tuple(Column(heading, "left") for heading in ("Key", "Unit", "Meaning", "Of its value"))
    rows = tuple((each.key, each.unit, each.meaning, " ".join(_facts(each))) for each in found.entries)
    return Page(
        found.topic or "What there is to ask", (found.text,) if found.text else (), (), (Table("", columns, rows),)
    )


def commented_keys(model: type[BaseModel], text: str, before: str = "") -> str:
    """Return every key of a model that a file does not hold, as comments: default, meaning and range of each.

    Parameters
    ----------
    model : type of BaseModel
        Of the file.
    text : str
        What the file holds.
    before : str
        What the reference has before the keys.
    """
    lines = ["", "# Every other key, with its default; NAME stands for that of one of several."]
    for entry in reference(model):
        key = entry.key.removeprefix(before)
        if f"{key.rsplit('.', 1)[-1]} =" in text or entry.default == "its own":
            continue
        unit = f" [{entry.unit}]" if entry.unit else ""
        words = " ".join([entry.meaning, *_facts(replace(entry, example=""))]) + unit
        lines.append(f"# {key} = {entry.example or '...'}")
        lines += textwrap.wrap(words, COMMENT_WIDTH, initial_indent="#     ", subsequent_indent="#     ")
    return "\n".join(lines) + "\n"
