"""A controller's yield over the expected through the months: days as dots, months with their intervals, the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.history_results import JudgedDay, Trend
from planner.presentation.charts import NARROW, WIDE, Frame
from planner.presentation.labels import breadth
from planner.presentation.svg import add, markup, picture, polyline, ribbon

PERCENT = 100.0
STEP_PERCENT = 10.0
DOT_PX = 2.2
MARK_PX = 5.0
CAP_PX = 5.0
EDGE = timedelta(days=3)


@dataclass(frozen=True)
class _Plot:
    """Where moments and ratios fall on the paper."""

    frame: Frame
    first: datetime
    last: datetime
    low: float
    high: float

    @property
    def floor(self) -> float:
        return self.frame.height - self.frame.bottom

    @property
    def right(self) -> float:
        return self.frame.width - self.frame.right

    def x(self, moment: datetime) -> float:
        """Return where a moment falls [px]."""
        part = (moment - self.first) / (self.last - self.first)
        return self.frame.left + part * (self.right - self.frame.left)

    def y(self, ratio: float) -> float:
        """Return where a ratio falls, held within the plot [px]."""
        percent = min(max(PERCENT * ratio, self.low), self.high)
        return self.floor - (percent - self.low) / (self.high - self.low) * (self.floor - self.frame.top)


def trend_drawings(trend: Trend, days: Sequence[JudgedDay], *, label: str) -> tuple[Markup, ...]:
    """Return the drawing on wide and on narrow paper.

    Parameters
    ----------
    trend : Trend
        With one month or more.
    days : sequence of JudgedDay
        Of the same controller.
    label : str
        What a reader who does not see it is told.
    """
    ends = [value for one in trend.months for value in (one.ratio.low, one.ratio.high)]
    values = [*ends, *(day.ratio.value for day in days), 1.0]
    low = STEP_PERCENT * np.floor(PERCENT * max(min(values), 0.0) / STEP_PERCENT - 0.2)
    high = STEP_PERCENT * np.ceil(PERCENT * min(max(values), 1.5) / STEP_PERCENT + 0.2)
    first = min(day.begins for day in days) - EDGE
    last = max(day.begins for day in days) + timedelta(days=1) + EDGE
    low = float(max(low, 0.0))
    return tuple(_draw(_Plot(frame, first, last, low, float(high)), trend, days, label) for frame in (WIDE, NARROW))


def _draw(plot: _Plot, trend: Trend, days: Sequence[JudgedDay], label: str) -> Markup:
    root = picture(plot.frame.width, plot.frame.height, label=label, css=f"chart {plot.frame.name}")
    _axes(root, plot)
    fitted = [(one.middle, one.fitted) for one in trend.months if one.fitted is not None]
    if fitted:
        x = np.array([plot.x(moment) for moment, _ in fitted])
        below, middle, above = (
            np.array([plot.y(getattr(line, end)) for _, line in fitted]) for end in ("low", "value", "high")
        )
        add(root, "path", {"class": "area spread", "d": ribbon(x, below, above)})
        add(root, "path", {"class": "line planned", "d": polyline(x, middle)})
    for day in days:
        place = {"cx": plot.x(day.begins + timedelta(hours=12)), "cy": plot.y(day.ratio.value), "r": DOT_PX}
        add(root, "circle", {"class": "day-dot", **place})
    level = plot.y(1.0)
    add(root, "line", {"class": "line load", "x1": plot.frame.left, "x2": plot.right, "y1": level, "y2": level})
    for one in trend.months:
        _month(root, plot, plot.x(one.middle), (one.ratio.low, one.ratio.value, one.ratio.high))
    return markup(root)


def _month(root: ET.Element, plot: _Plot, x: float, ratio: tuple[float, float, float]) -> None:
    low, middle, high = (plot.y(value) for value in ratio)
    add(root, "line", {"class": "whisker second", "x1": x, "x2": x, "y1": low, "y2": high})
    for end in (low, high):
        add(root, "line", {"class": "whisker second", "x1": x - CAP_PX, "x2": x + CAP_PX, "y1": end, "y2": end})
    corner = {"x": x - MARK_PX, "y": middle - MARK_PX, "width": 2.0 * MARK_PX, "height": 2.0 * MARK_PX}
    add(root, "rect", {"class": "mark second", **corner})


def _axes(root: ET.Element, plot: _Plot) -> None:
    frame = plot.frame
    add(root, "text", {"x": 2.0, "y": frame.top - 10.0}, "% of expected")
    for value in np.arange(plot.low, plot.high + STEP_PERCENT / 2.0, STEP_PERCENT):
        y = plot.y(value / PERCENT)
        add(root, "line", {"class": "grid", "x1": frame.left, "x2": plot.right, "y1": y, "y2": y})
        add(root, "text", {"class": "value", "x": frame.left - 6.0, "y": y + 4.0}, f"{value:.0f}")
    starts = _month_starts(plot.first, plot.last)
    room = (plot.right - frame.left) / max((plot.last - plot.first) / timedelta(days=30.4), 1.0)
    every = int(np.ceil((breadth("May 2027") + 6.0) / room)) if room < breadth("May 2027") + 6.0 else 1
    for number, start in enumerate(starts):
        x = plot.x(start)
        add(root, "line", {"class": "midnight", "x1": x, "x2": x, "y1": frame.top, "y2": plot.floor + 6.0})
        words = f"{start:%b} {start.year}"
        if number % every == 0 and x + 3.0 + breadth(words) <= frame.width:
            add(root, "text", {"class": "date", "x": x + 3.0, "y": plot.floor + 18.0}, words)
    size = {"width": plot.right - frame.left, "height": plot.floor - frame.top}
    add(root, "rect", {"class": "plot-frame", "x": frame.left, "y": frame.top, **size})
    if not starts:
        add(root, "text", {"class": "date", "x": frame.left + 3.0, "y": plot.floor + 18.0}, _span(plot))


def _span(plot: _Plot) -> str:
    first, last = plot.first + EDGE, plot.last - EDGE
    return f"{first.day} {first:%b} to {last.day} {last:%b} {last.year}"


def _month_starts(first: datetime, last: datetime) -> list[datetime]:
    """Return the beginnings of months between two moments, UTC."""
    starts = []
    year, month = first.year, first.month
    while (start := datetime(year, month, 1, tzinfo=UTC)) < last:
        if start >= first:
            starts.append(start)
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return starts
