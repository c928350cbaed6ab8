"""Charts over the time of the passage: layers over nights, a margin graduated in ship's time, a cursor to read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.presentation.drawing.labels import breadth
from planner.presentation.drawing.svg import add, markup, numbers, picture, polyline, ribbon

DAY_H = 24.0
QUARTER_DAY_H = 6.0
MARGIN_PX = 6.0
STRIP_PX = 14.0
STRIP_GAP_PX = 7.0  # so that the strip's name and the lowest value do not touch
DATE_PX = 62.0  # what 'Wed 5 May' needs
DATE_NUMBER_PX = 18.0


@dataclass(frozen=True)
class Frame:
    """The paper a chart is drawn on.

    Attributes
    ----------
    name : str
        Style class.
    width, height : float
        Of the paper [px].
    left, right, top, bottom : float
        Margins outside the plot [px].
    """

    name: str
    width: float
    height: float
    left: float = 48.0
    right: float = 10.0
    top: float = 24.0
    bottom: float = 52.0


WIDE = Frame(name="wide", width=960.0, height=340.0)
NARROW = Frame(name="narrow", width=360.0, height=280.0, left=40.0, right=6.0)


@dataclass(frozen=True, eq=False)
class Line:
    """A course through points; ``css`` styles it."""

    css: str
    hours: Floats
    value: Floats


@dataclass(frozen=True, eq=False)
class Band:
    """The span between two courses over the same hours."""

    css: str
    hours: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class Level:
    """A value that holds throughout, with its label at the right."""

    css: str
    value: float
    label: str


@dataclass(frozen=True)
class Run:
    """A span on the strip under the plot, in hours."""

    css: str
    start_h: float
    stop_h: float


Layer = Line | Band | Level


@dataclass(frozen=True, eq=False)
class Chart:
    """What is drawn.

    Attributes
    ----------
    label : str
        What a reader who does not see it is told.
    unit : str
        Over the value axis.
    low, high, step : float
        Value axis and the distance of its ticks.
    start : datetime
        Hour 0, naive, in ship's time.
    hours : float
        Length of the time axis [h].
    layers : tuple of Layer
        From back to front.
    runs : tuple of Run
        What stands on the strip, the engine's unless said otherwise.
    nights : tuple of (float, float)
        Shaded, in hours.
    cursor_hours, cursor_value : array (reading,)
        Where the cursor stands for each reading; a value that is not finite shows the hair line alone.
    clock_changes : tuple of (float, float)
        At which hours the ship's clock is put on, and by how many; negative when it is put back.
    strip : str
        Name of the strip.
    before_h : float
        From the first departure, from which days are numbered, to hour 0 [h].
    """

    label: str
    unit: str
    low: float
    high: float
    step: float
    start: datetime
    hours: float
    layers: tuple[Layer, ...]
    runs: tuple[Run, ...]
    nights: tuple[tuple[float, float], ...]
    cursor_hours: Floats
    cursor_value: Floats
    clock_changes: tuple[tuple[float, float], ...] = ()
    strip: str = "engine"
    before_h: float = 0.0


@dataclass(frozen=True)
class _Plot:
    """Where values and hours fall on the paper."""

    chart: Chart
    frame: Frame

    @property
    def bottom(self) -> float:
        return self.frame.height - self.frame.bottom

    @property
    def right(self) -> float:
        return self.frame.width - self.frame.right

    def x(self, hours: Floats | float) -> Floats:
        """Return where hours fall, held within the plot."""
        inside = np.clip(np.asarray(hours, dtype=np.float64), 0.0, self.chart.hours)
        return np.asarray(self.frame.left + inside / self.chart.hours * (self.right - self.frame.left))

    def y(self, value: Floats | float) -> Floats:
        """Return where values fall, held within the plot."""
        inside = np.clip(np.asarray(value, dtype=np.float64), self.chart.low, self.chart.high)
        part = (inside - self.chart.low) / (self.chart.high - self.chart.low)
        return np.asarray(self.bottom - part * (self.bottom - self.frame.top))


def steps(hours: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Return a mean over each step (n,) as corners (2n,) from step edges (n + 1,)."""
    return np.repeat(hours, 2)[1:-1], np.repeat(value, 2)


def ceiling(value: float) -> tuple[float, float]:
    """Return a round top for an axis from 0 that holds ``value``, and its tick distance."""
    for step in (10.0, 20.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0, 5000.0):
        if value <= 6 * step:
            return step * max(1.0, float(np.ceil(value / step))), step
    step = 10.0 ** np.ceil(np.log10(value / 6))
    return float(step * np.ceil(value / step)), float(step)


def draw(chart: Chart, frame: Frame) -> Markup:
    """Return the chart as inline SVG on this paper."""
    plot = _Plot(chart, frame)
    root = picture(frame.width, frame.height, label=chart.label, css=f"chart {frame.name}")
    root.set("data-x", numbers(plot.x(chart.cursor_hours)))
    root.set("data-y", numbers(plot.y(chart.cursor_value)))
    _nights(root, plot)
    _value_axis(root, plot)
    for layer in chart.layers:
        _layer(root, plot, layer)
    _strip(root, plot)
    _time_margin(root, plot)
    _cursor(root, plot)
    return markup(root)


def _box(parent: ET.Element, css: str, x: tuple[float, float], y: tuple[float, float]) -> None:
    add(parent, "rect", {"class": css, "x": x[0], "y": y[0], "width": x[1] - x[0], "height": y[1] - y[0]})


def _nights(root: ET.Element, plot: _Plot) -> None:
    group = add(root, "g", {})
    for start, stop in plot.chart.nights:
        _box(group, "night", (float(plot.x(start)), float(plot.x(stop))), (plot.frame.top, plot.bottom))


def _value_axis(root: ET.Element, plot: _Plot) -> None:
    chart, frame = plot.chart, plot.frame
    group = add(root, "g", {"class": "axis"})
    add(group, "text", {"x": 2.0, "y": frame.top - 10.0}, chart.unit)
    for value in np.arange(chart.low, chart.high + chart.step / 2, chart.step):
        y = float(plot.y(value))
        add(group, "line", {"class": "grid", "x1": frame.left, "x2": plot.right, "y1": y, "y2": y})
        add(group, "text", {"class": "value", "x": frame.left - 6.0, "y": y + 4.0}, f"{value:.0f}")


def _layer(root: ET.Element, plot: _Plot, layer: Layer) -> None:
    if isinstance(layer, Line):
        path = polyline(plot.x(layer.hours), plot.y(layer.value))
        add(root, "path", {"class": f"line {layer.css}", "d": path})
    elif isinstance(layer, Band):
        path = ribbon(plot.x(layer.hours), plot.y(layer.low), plot.y(layer.high))
        add(root, "path", {"class": f"area {layer.css}", "d": path})
    else:
        y = float(plot.y(layer.value))
        add(root, "line", {"class": f"line {layer.css}", "x1": plot.frame.left, "x2": plot.right, "y1": y, "y2": y})
        add(root, "text", {"class": f"note {layer.css}", "x": plot.right - 4.0, "y": y + 14.0}, layer.label)


def _strip(root: ET.Element, plot: _Plot) -> None:
    """Draw the strip: a box for each run."""
    group = add(root, "g", {"class": "strip"})
    top = plot.bottom + STRIP_GAP_PX
    add(group, "text", {"class": "value", "x": plot.frame.left - 6.0, "y": top + STRIP_PX - 3.0}, plot.chart.strip)
    _box(group, "strip-frame", (plot.frame.left, plot.right), (top, top + STRIP_PX))
    for run in plot.chart.runs:
        start, stop = float(plot.x(run.start_h)), float(plot.x(run.stop_h))
        _box(group, f"run {run.css}", (start, max(stop, start + 1.5)), (top + 2.0, top + STRIP_PX - 2.0))


@dataclass(frozen=True)
class Quarter:
    """A quarter of a day by the ship's clock.

    Attributes
    ----------
    hour : float
        Where it begins, or the chart within it [h].
    number : int
        Of the day, from 0 at midnight.
    date : datetime
        Of the ship's clock.
    whole : bool
        Whether it begins there, and not the chart.
    """

    hour: float
    number: int
    date: datetime
    whole: bool


def quarters(chart: Chart) -> list[Quarter]:
    """Return the quarters of the ship's days in order; one in which the clock is changed is longer or shorter."""
    found: list[Quarter] = []
    shown, begin = chart.start, 0.0
    for end, put_on_h in (*chart.clock_changes, (chart.hours, 0.0)):
        number = int(shown.hour // QUARTER_DAY_H)
        if not found or found[-1].number != number:
            sharp = shown == shown.replace(hour=int(number * QUARTER_DAY_H), minute=0, second=0, microsecond=0)
            found.append(Quarter(begin, number, shown, bool(found) or sharp))
        opening = shown.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(hours=number * QUARTER_DAY_H)
        turn = opening + timedelta(hours=QUARTER_DAY_H)
        while (hour := begin + (turn - shown) / timedelta(hours=1)) < end:
            found.append(Quarter(hour, int(turn.hour // QUARTER_DAY_H), turn, True))
            turn += timedelta(hours=QUARTER_DAY_H)
        shown += timedelta(hours=end - begin + put_on_h)
        begin = end
    return found


def day_spans(chart: Chart) -> dict[int, tuple[float, float]]:
    """Return where each day of the passage begins and ends on the chart [h], by its number less one."""
    first, beyond = int(chart.before_h // DAY_H), int(np.ceil((chart.before_h + chart.hours) / DAY_H))
    edges = {number: number * DAY_H - chart.before_h for number in range(first, beyond + 1)}
    return {number: (max(edges[number], 0.0), min(edges[number + 1], chart.hours)) for number in range(first, beyond)}


def _time_margin(root: ET.Element, plot: _Plot) -> None:
    """Draw a margin graduated in quarters of a day, dates at midnight, days of the passage along the top."""
    chart, frame = plot.chart, plot.frame
    group = add(root, "g", {"class": "margin"})
    top = plot.bottom + STRIP_GAP_PX + STRIP_PX
    graduated = quarters(chart)
    ends = [*(quarter.hour for quarter in graduated[1:]), chart.hours]
    for quarter, end in zip(graduated, ends, strict=True):
        if quarter.number % 2:
            edges = float(plot.x(quarter.hour)), float(plot.x(end))
            _box(group, "graduation", edges, (top, top + MARGIN_PX))
    _box(group, "margin-frame", (frame.left, plot.right), (top, top + MARGIN_PX))
    _box(group, "plot-frame", (frame.left, plot.right), (frame.top, plot.bottom))
    day_px = DAY_H / chart.hours * (plot.right - frame.left)
    every = int(np.ceil(DATE_NUMBER_PX / day_px))
    midnights = [quarter for quarter in graduated if quarter.number == 0 and quarter.whole]
    begun = 0 if midnights and midnights[0].hour == 0.0 else 1  # of the day in which the chart begins none is shown
    for number, midnight in enumerate(midnights, start=begun):
        if number % every:
            continue
        x, date = float(plot.x(midnight.hour)), midnight.date
        add(group, "line", {"class": "midnight", "x1": x, "x2": x, "y1": frame.top, "y2": top + MARGIN_PX + 6.0})
        words = f"{date:%a} {date.day} {date:%b}" if day_px >= DATE_PX else f"{date.day}"
        if x + 3.0 + breadth(words) <= frame.width:
            add(group, "text", {"class": "date", "x": x + 3.0, "y": top + MARGIN_PX + 14.0}, words)
    for number, (hour, end) in day_spans(chart).items():
        if number % every:
            continue
        x = float(plot.x(hour))
        add(group, "line", {"class": "day-start", "x1": x, "x2": x, "y1": frame.top - 7.0, "y2": frame.top})
        roomy = day_px >= DATE_PX or (number == 0 and every == 1)
        words = f"day {number + 1}" if roomy else f"{number + 1}"
        stub = end - hour < DAY_H and end < chart.hours  # what is left of the day in which a replan begins
        if x + 3.0 + breadth(words) <= (float(plot.x(end)) if stub else frame.width):
            add(group, "text", {"class": "date", "x": x + 3.0, "y": frame.top - 3.0}, words)


def _cursor(root: ET.Element, plot: _Plot) -> None:
    group = add(root, "g", {"class": "cursor"})
    add(group, "line", {"x1": 0.0, "x2": 0.0, "y1": plot.frame.top, "y2": plot.bottom + STRIP_GAP_PX + STRIP_PX})
    add(group, "circle", {"cx": 0.0, "cy": 0.0, "r": 4.0})
