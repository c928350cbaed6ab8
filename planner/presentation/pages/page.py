"""What a study shows: its answer, its tables, a figure; as text for a terminal and as one page of HTML."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from planner.presentation.drawing.figure import Table
from planner.presentation.files.whole_file import write_text
from planner.presentation.pages.look import Links, asset, environment, script_source
from planner.presentation.words.bill_words import plain

WIDTH = 100  # columns of the terminal that tables are laid out for
LEAST_WORDS = 22  # columns that words need
MANY_COLUMNS = 9  # from which on columns stand closer
CAUTION = "A planning aid, not for navigation. Forecasts err: read the meter, keep a lookout, and trust what you see."


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


def as_text(page: Page, *, width: int = WIDTH) -> str:
    """Return a page's words and tables as plain text.

    Parameters
    ----------
    page : Page
    width : int
        Columns; lines are wrapped to it.

    Returns
    -------
    str
        No escape codes and no characters beyond Latin-1; ends in a newline.
    """
    from rich.console import Console
    from rich.text import Text

    paper = io.StringIO()
    console = Console(file=paper, width=width, color_system=None, force_terminal=False, highlight=False)
    console.print(Text(plain(page.title)))
    for sentence in page.answer:
        console.print(Text(plain(sentence)))
    for table in page.tables:
        console.print()
        console.print(Text(plain(table.caption)))
        console.print(_rich_table(table, width))
        if table.note:
            console.print(Text(plain(table.note)))
    return "\n".join(line.rstrip() for line in paper.getvalue().splitlines()) + "\n"


def write_page(path: Path, page: Page, links: Links = ()) -> None:
    """Write a page of HTML that needs no network, whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder is made when it does not exist.
    page : Page
    links : sequence of (str, str)
        Pages beside it, where it does not stand alone.
    """
    write_text(path, html_of(page, links))


def html_of(page: Page, links: Links = ()) -> str:
    """Return a page as HTML that needs no network."""
    script = asset("red_light.js") + asset("tables.js")
    return (
        environment()
        .get_template("studies.html.j2")
        .render(
            page=page,
            links=links,
            caution=CAUTION,
            style=asset("report.css"),
            own_style=asset("studies.css"),
            script=script,
            script_source=script_source(script),
        )
    )


def _rich_table(table: Table, width: int) -> object:
    """Return the table with words wrapped and, where there is room, figures unbroken.

    Headings of figures stand word under word.
    """
    from rich.table import Table as Grid

    gap = 1 if len(table.columns) > MANY_COLUMNS else 2
    needed = sum(
        max((len(row[place]) for row in table.rows), default=0) + gap if column.align == "right" else LEAST_WORDS
        for place, column in enumerate(table.columns)
    )
    grid = Grid(box=None, pad_edge=False, padding=(0, gap, 0, 0))
    for place, column in enumerate(table.columns):
        figures = column.align == "right"
        heading = plain(column.heading)
        longest = max((len(row[place]) for row in table.rows), default=0)
        grid.add_column(
            heading.replace(" ", "\n") if figures else heading,
            justify=column.align,
            no_wrap=figures and needed <= width,
            min_width=min(LEAST_WORDS, longest) if place == 0 and not figures else None,
            overflow="fold",
            vertical="top",
        )
    for row in table.rows:
        grid.add_row(*(plain(cell) for cell in row))
    return grid
