"""The loss account: what each item takes on the way from the panels' rating to the bank, as bars and a table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.presentation.drawing.charts import ceiling
from planner.presentation.drawing.svg import add, markup, numbers, picture
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import DAY_H, hours_of
from planner.presentation.words.wording import percent, whole

FIRST, LAST = "rating", "to the bank"
BAR_PX = 12.0
LEAST_BAR_PX = 1.5  # so that a small item is still seen


@dataclass(frozen=True)
class Sheet:
    """The paper it is drawn on: breadth, room for names at the left and for figures at the right, a row [px]."""

    name: str
    width: float
    left: float
    right: float
    row: float
    top: float = 24.0

    def x(self, value: float, high: float) -> float:
        """Return where a value falls."""
        return self.left + value / high * (self.width - self.left - self.right)

    def y(self, row: int) -> float:
        """Return the middle of a row."""
        return self.top + (row + 0.5) * self.row


WIDE = Sheet(name="wide", width=960.0, left=120.0, right=64.0, row=24.0)
NARROW = Sheet(name="narrow", width=360.0, left=100.0, right=56.0, row=22.0)


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
    names = tuple(name for name, _ in rows)
    changes = np.array([values[-1] for _, values in rows])
    left = np.cumsum(changes[:-1])  # after each item
    rating, bank = float(changes[0]), float(changes[-1])
    gains = bool(np.any(np.round(changes[1:-1]) > 0))
    readings = (
        f"Rating: {whole(rating)} Wh a day from sunrise to sunset, all panels",
        *(
            f"{name.capitalize()}: {'gives' if round(change) > 0 else 'takes'} {whole(abs(change))} Wh a day,"
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
        drawings=tuple(_draw(sheet, names, changes, left, label) for sheet in (WIDE, NARROW)),
        readings=readings,
        table=Table(
            "Loss account [Wh a day]",
            (Column("Item", "left"), *(Column(head) for head in heads)),
            tuple((name.capitalize(), *(whole(value) for value in values)) for name, values in rows),
            "Each item is counted on what those above it left: a column adds up. Cold cells give instead of taking.",
        ),
        steps="item by item",
    )


def _draw(sheet: Sheet, names: tuple[str, ...], changes: Floats, left: Floats, label: str) -> Markup:
    """Return the fall of bars on one paper."""
    last = len(names) - 1
    height = sheet.top + len(names) * sheet.row + 4.0
    root = picture(sheet.width, height, label=label, css=f"account {sheet.name}")
    high, step = ceiling(float(max(left.max(), 1.0)))
    for tick in np.arange(0.0, high + step / 2, step * (2 if sheet.name == "narrow" else 1)):
        x = sheet.x(float(tick), high)
        add(root, "path", {"class": "grid", "d": f"M{x:.1f} {sheet.top}V{height}"})
        add(root, "text", {"x": x, "y": sheet.top - 8.0, "class": "meridian"}, whole(float(tick)))
    starts = np.concatenate([[0.0], left[:-1], [0.0]])
    ends = np.concatenate([left, [changes[-1]]])
    for row, (name, change, start, end) in enumerate(zip(names, changes, starts, ends, strict=True)):
        first, stop = (sheet.x(float(value), high) for value in sorted((start, end)))
        css = "rated" if row == 0 else "stored" if row == last else "solar" if change > 0 else "curtailed"
        bar = {"x": first, "y": sheet.y(row) - BAR_PX / 2, "width": max(stop - first, LEAST_BAR_PX), "height": BAR_PX}
        add(root, "rect", {"class": css, **bar})
        if row < last:
            x = sheet.x(float(end), high)
            add(root, "path", {"class": "fall", "d": f"M{x:.1f} {sheet.y(row):.1f}V{sheet.y(row + 1):.1f}"})
        baseline = sheet.y(row) + 4.5
        add(root, "text", {"x": 8.0, "y": baseline, "class": "item"}, name.capitalize())
        add(root, "text", {"x": sheet.width - 6.0, "y": baseline, "class": "value"}, whole(float(change)))
    rows = np.array([sheet.y(row) for row in range(len(names))])
    root.set("data-x", numbers(np.full(len(names), sheet.left)))  # one x: the pointer reads the row it is in
    root.set("data-y", numbers(rows))
    add(add(root, "g", {"class": "cursor"}), "circle", {"cx": 0.0, "cy": 0.0, "r": 4.0})
    return markup(root)
