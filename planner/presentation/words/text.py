"""Words and tables as plain text for a terminal."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from planner.presentation.words.content import Page, Table
from planner.presentation.words.wording import plain

if TYPE_CHECKING:
    from rich.console import RenderableType

WIDTH = 100  # columns of the terminal that tables are laid out for


LEAST_WORDS = 22  # columns that words need


MANY_COLUMNS = 9  # from which on columns stand closer


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
    from rich.console import Group
    from rich.text import Text

    parts: list[RenderableType] = [Text(plain(words)) for words in (page.title, *page.answer)]
    for table in page.tables:
        note = [Text(plain(table.note))] if table.note else []
        parts += [Text(""), Text(plain(table.caption)), _rich_table(table, width), *note]
    return printed(Group(*parts), width=width)


def printed(paper: RenderableType, *, width: int) -> str:
    """Return what rich lays out as plain text, a newline at its end."""
    from rich.console import Console

    page = io.StringIO()
    Console(file=page, width=width, color_system=None, force_terminal=False, highlight=False).print(paper)
    return "\n".join(line.rstrip() for line in page.getvalue().splitlines()) + "\n"


def _rich_table(table: Table, width: int) -> RenderableType:
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
