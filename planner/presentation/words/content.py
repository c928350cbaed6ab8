"""What a page shows: words, tables and figures, before they are laid out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from markupsafe import Markup


@dataclass(frozen=True)
class Picture:
    """A drawing on wide and on narrow paper, and the words round it.

    Attributes
    ----------
    title, caption : str
        Over and under it.
    legend : tuple of (str, str)
        Style class of a swatch and what it stands for.
    drawings : tuple of Markup
        Inline SVG, wide and narrow.
    """

    title: str
    caption: str
    legend: tuple[tuple[str, str], ...]
    drawings: tuple[Markup, ...]


@dataclass(frozen=True)
class Page:
    """A study in words, pictures and tables.

    Attributes
    ----------
    title : str
        Of the study.
    answer : tuple of str
        Sentences; the first answers the question.
    pictures : tuple of Picture
        Shown on the page alone.
    tables : tuple of Table
        In order.
    """

    title: str
    answer: tuple[str, ...]
    pictures: tuple[Picture, ...]
    tables: tuple[Table, ...]


@dataclass(frozen=True)
class Column:
    """A column's heading, and the side its figures stand on."""

    heading: str
    align: Literal["left", "right"] = "right"


@dataclass(frozen=True)
class Table:
    """Rows of text under headings; the first cell of a row names it.

    Attributes
    ----------
    caption : str
        What the table shows.
    columns : tuple of Column
        From left to right.
    rows : tuple of tuple of str
        As many cells as columns.
    note : str
        Under the table; may be empty.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True)
class Figure:
    """A drawing on wide and on narrow paper.

    Attributes
    ----------
    key : str
        Its place in the page, fit for an id.
    title, caption : str
        Over and under it.
    legend : tuple of (str, str)
        Style class of a swatch and what it stands for.
    drawings : tuple of Markup
        Inline SVG.
    readings : tuple of str
        What the cursor reads, one a step.
    table : Table
        The same for those who do not see it.
    lead : str
        A paragraph above it; may be empty.
    steps : str
        How the cursor goes from one reading to the next.
    """

    key: str
    title: str
    caption: str
    legend: tuple[tuple[str, str], ...]
    drawings: tuple[Markup, ...]
    readings: tuple[str, ...]
    table: Table
    lead: str = ""
    steps: str = "hour by hour"
