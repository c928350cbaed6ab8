"""A drawing of figures with their doubt: a row each, a whisker from p10 to p90, a mark where the plan stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from planner.domain.results.figures import Spread
from planner.presentation.drawing.frame import NARROW, Paper, even_ticks, named_rows, on_both_papers
from planner.presentation.drawing.svg import markup


@dataclass(frozen=True)
class Whisker:
    """One row; ``css`` is 'first' or 'second', which differ in shape as well as in colour.

    ``short`` is the name on narrow paper, where it is another.
    """

    name: str
    value: Spread
    css: str
    short: str = ""


def whiskers(rows: Sequence[Whisker], *, unit: str, label: str) -> tuple[Markup, Markup]:
    """Return the drawing on wide and on narrow paper.

    Parameters
    ----------
    rows : sequence of Whisker
        From top to bottom.
    unit : str
        Of the values.
    label : str
        What a reader who does not see it is told.
    """
    triples = [(row.value.p10, row.value.planned, row.value.p90) for row in rows]
    values = [0.0, *(value for triple in triples for value in triple)]

    def draw(paper: Paper) -> Markup:
        names = [row.short if row.short and paper is NARROW else row.name for row in rows]
        ticks = even_ticks(min(values), max(values), paper.most_ticks)
        frame = named_rows(paper, names, ticks, unit=unit, label=label)
        for number, (row, triple) in enumerate(zip(rows, triples, strict=True)):
            frame.whisker_across(row.css, triple, -number)
        return markup(frame.root)

    return on_both_papers(draw)
