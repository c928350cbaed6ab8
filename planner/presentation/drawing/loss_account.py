"""The loss account: what each item takes on the way from the panels' rating to the bank, as bars and a table."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.presentation.drawing.frame import Paper, even_ticks, named_rows, on_both_papers
from planner.presentation.drawing.svg import stroke
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import DAY_H, hours_of
from planner.presentation.words.wording import percent, whole

FIRST, LAST = "rating", "to the bank"
HALF_BAR_PX = 6.0
LEAST_BAR_PX = 1.5  # so that a small item is still seen


def loss_rows(plan: Plan) -> tuple[tuple[str, ...], tuple[tuple[str, Floats], ...]]:
    """Return heads and rows of the loss account over the passage.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    heads : tuple of str
        Panels, then "all panels".
    rows : tuple of (str, array (head,))
        The rating, each item in its order, what reaches the bank [Wh a day]; losses negative: a column adds up.
    """
    whole_passage = plan.losses.sum("day")
    days = hours_of(plan).total_h / DAY_H

    def row(panels: Floats) -> Floats:
        return np.append(panels, panels.sum()) / days

    heads = (*(str(name) for name in whole_passage["panel"].values), "all panels")
    losses = tuple(
        (str(item), row(-whole_passage["loss_wh"].sel(item=item).values)) for item in whole_passage["item"].values
    )
    return heads, (
        (FIRST, row(whole_passage["rating_wh"].values)),
        *losses,
        (LAST, row(whole_passage["bank_wh"].values)),
    )


def loss_account(plan: Plan) -> Figure:
    """Return the account of all panels as a fall of bars from rating to bank, with a table of each panel."""
    heads, rows = loss_rows(plan)
    names = tuple(name.capitalize() for name, _ in rows)
    changes = np.array([values[-1] for _, values in rows])
    left = np.cumsum(changes[:-1])  # after each item
    rating, bank = float(changes[0]), float(changes[-1])
    gains = bool(np.any(np.round(changes[1:-1]) > 0))
    readings = (
        f"Rating: {whole(rating)} Wh a day from sunrise to sunset, all panels",
        *(
            f"{name}: {'gives' if round(change) > 0 else 'takes'} {whole(abs(change))} Wh a day,"
            f" {percent(abs(change) / rating if rating else 0.0)} of the rating; {whole(after)} left"
            for name, change, after in zip(names[1:-1], changes[1:-1], left[1:], strict=True)
        ),
        f"To the bank: {whole(bank)} Wh a day, {percent(bank / rating if rating else 0.0)} of the rating",
    )
    label = (
        f"Of {whole(rating)} watt-hours a day at the panels' rating {whole(bank)} reach the bank;"
        " a bar for what each item takes. Its table follows."
    )
    legend = [("area curtailed", "taken"), ("area stored", "reaches the bank")]
    if gains:
        legend.insert(1, ("area solar", "given"))
    return Figure(
        key="losses",
        title="Where the sun's watt-hours go",
        caption="All panels, mean of the forecasts, from the rating while the sun is up to the bus [Wh a day].",
        legend=tuple(legend),
        drawings=on_both_papers(lambda paper: _draw(paper, names, changes, label)),
        readings=readings,
        table=Table(
            "Loss account [Wh a day]",
            (Column("Item", "left"), *(Column(head) for head in heads)),
            tuple((name, *map(whole, values)) for name, (_, values) in zip(names, rows, strict=True)),
            "Each item is counted on what those above it left: a column adds up. Cold cells give instead of taking.",
        ),
        steps="item by item",
    )


def _draw(paper: Paper, names: tuple[str, ...], changes: Floats, label: str) -> Markup:
    """Return the fall of bars on one paper."""
    last = len(names) - 1
    ends = np.append(np.cumsum(changes[:-1]), changes[-1])
    starts = np.concatenate([[0.0], ends[:-2], [0.0]])
    ticks = even_ticks(0.0, max(float(ends.max()), 1.0), paper.most_ticks)
    figures = [whole(change) for change in changes]
    frame = named_rows(paper, names, ticks, unit="Wh a day", label=label, figures=figures)
    middles = frame.y(-np.arange(len(names)))
    for row, (change, start, end, y) in enumerate(zip(changes, starts, ends, middles, strict=True)):
        css = "rated" if row == 0 else "stored" if row == last else "solar" if change > 0 else "curtailed"
        sides = (float(y) - HALF_BAR_PX, float(y) + HALF_BAR_PX)
        frame.box(css, min(start, end), max(start, end), sides, least_px=LEAST_BAR_PX)
        if row < last:
            x = float(frame.x(end))
            stroke(frame.root, "fall", (x, float(y)), (x, float(middles[row + 1])))
    return frame.readings(np.column_stack([np.full(len(names), frame.left), middles]))  # one x: the row is read
