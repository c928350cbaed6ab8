"""What a study shows, as one page of HTML: its answer, a figure, its tables."""

from __future__ import annotations

from planner.presentation.pages.look import Links, filled
from planner.presentation.words.cautions import AID
from planner.presentation.words.content import Page, Table


def with_rows(*tables: Table) -> tuple[Table, ...]:
    """Return the tables that have rows."""
    return tuple(table for table in tables if table.rows)


def html_of(page: Page, links: Links = ()) -> str:
    """Return a page as HTML that needs no network."""
    content = {**vars(page), "first_alone": True, "caution": AID}
    return filled("studies", content, links=links, scripts=["tables"], styles=["studies"])
