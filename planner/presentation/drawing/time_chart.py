"""Charts over the time of the passage: courses over nights, a margin graduated in ship's time, a cursor to read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.presentation.drawing.frame import GAP_PX, NARROW, WIDE, Frame, Paper, on_both_papers
from planner.presentation.drawing.labels import breadth
from planner.presentation.drawing.svg import PaperPoint, box, stroke, words
from planner.presentation.words.hours import PassageHours, clock_changes

DAY_H = 24.0
QUARTER_DAY_H = 6.0
PLOT_PX = {WIDE.name: 264.0, NARROW.name: 204.0}
MARGIN_PX = 6.0
STRIP_PX = 14.0
STRIP_GAP_PX = 7.0  # so that the strip's name and the lowest value do not touch
DATE_PX = 62.0  # what 'Wed 5 May' needs
DATE_NUMBER_PX = 18.0


@dataclass(frozen=True)
class StripRun:
    """A span on the strip under the plot, in hours."""

    css: str
    start_h: float
    stop_h: float


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


@dataclass(frozen=True)
class TimeAxis:
    """The hours that a chart goes over.

    Attributes
    ----------
    start : datetime
        Hour 0, naive, in ship's time.
    hours : float
        Length [h].
    nights : tuple of (float, float)
        Shaded, in hours.
    clock_changes : tuple of (float, float)
        At which hours the ship's clock is put on, and by how many; negative when it is put back.
    before_h : float
        From the first departure, from which days are numbered, to hour 0 [h].
    """

    start: datetime
    hours: float
    nights: tuple[tuple[float, float], ...] = ()
    clock_changes: tuple[tuple[float, float], ...] = ()
    before_h: float = 0.0

    def quarters(self) -> list[Quarter]:
        """Return the quarters of the ship's days in order; one in which the clock is changed is longer or shorter."""
        found: list[Quarter] = []
        shown, begin = self.start, 0.0
        for end, put_on_h in (*self.clock_changes, (self.hours, 0.0)):
            number = int(shown.hour // QUARTER_DAY_H)
            opening = shown.replace(hour=int(number * QUARTER_DAY_H), minute=0, second=0, microsecond=0)
            if not found or found[-1].number != number:
                found.append(Quarter(begin, number, shown, bool(found) or shown == opening))
            turn = opening + timedelta(hours=QUARTER_DAY_H)
            while (hour := begin + (turn - shown) / timedelta(hours=1)) < end:
                found.append(Quarter(hour, int(turn.hour // QUARTER_DAY_H), turn, True))
                turn += timedelta(hours=QUARTER_DAY_H)
            shown += timedelta(hours=end - begin + put_on_h)
            begin = end
        return found

    def days(self) -> dict[int, tuple[float, float]]:
        """Return where each day of the passage begins and ends on the chart [h], by its number less one."""
        first, beyond = int(self.before_h // DAY_H), int(np.ceil((self.before_h + self.hours) / DAY_H))
        edges = np.clip(np.arange(first, beyond + 1) * DAY_H - self.before_h, 0.0, self.hours)
        return dict(enumerate(pairwise(edges.tolist()), start=first))


def time_axis(hours: PassageHours, nights: tuple[tuple[float, float], ...]) -> TimeAxis:
    """Return the axis over the hours of a passage or a log, with its nights."""
    changes = clock_changes(hours.start, hours.offset)
    return TimeAxis(hours.start + hours.offset, hours.total_h, nights, changes, hours.before_h)


def corners_of(edges: Floats) -> Floats:
    """Return where the corners (2n,) of means over steps lie, from the steps' edges (n + 1,)."""
    return np.repeat(edges, 2)[1:-1]


def time_chart(
    time: TimeAxis,
    ticks: Sequence[float],
    courses: Callable[[Frame], None],
    *,
    unit: str,
    label: str,
    cursor: tuple[npt.ArrayLike, npt.ArrayLike],
    runs: Sequence[StripRun] = (),
    strip: str = "engine",
) -> tuple[Markup, Markup]:
    """Return a chart on wide and on narrow paper.

    Parameters
    ----------
    time : TimeAxis
    ticks : sequence of float
        Of the upright scale.
    courses : callable
        Draws what the chart shows on its frame, from back to front.
    unit : str
        Over the scale.
    label : str
        For a reader who does not see it.
    cursor : (array, array)
        Hour and value at which each reading stands; where the value is not finite the hair line is alone.
    runs : sequence of StripRun
        What stands on the strip.
    strip : str
        Name of the strip.
    """

    def draw(paper: Paper) -> Markup:
        frame = Frame(
            paper,
            plot_px=PLOT_PX[paper.name],
            below_px=52.0,
            label=label,
            across=(0.0, time.hours),
            up=(ticks[0], ticks[-1]),
        )
        frame.columns("night", time.nights)
        frame.ticks_up(ticks, unit)
        courses(frame)
        _strip(frame, runs, strip)
        _time_margin(frame, time)
        return frame.readings(frame.at(*cursor), hair_below_px=STRIP_GAP_PX + STRIP_PX)

    return on_both_papers(draw)


def _strip(frame: Frame, runs: Sequence[StripRun], name: str) -> None:
    """Draw the strip: a box for each run."""
    top = frame.floor + STRIP_GAP_PX
    words(frame.root, "value", (frame.left - GAP_PX, top + STRIP_PX - 3.0), name)
    box(frame.root, "strip-frame", (frame.left, top), (frame.right, top + STRIP_PX))
    for run in runs:
        sides = (top + 2.0, top + STRIP_PX - 2.0)
        frame.box(f"run {run.css}", run.start_h, run.stop_h, sides, least_px=1.5)


def _time_margin(frame: Frame, time: TimeAxis) -> None:
    """Draw a margin graduated in quarters of a day, dates at midnight, days of the passage along the top."""
    top = frame.floor + STRIP_GAP_PX + STRIP_PX
    below = top + MARGIN_PX
    graduated = time.quarters()
    for quarter, end in zip(graduated, [*(each.hour for each in graduated[1:]), time.hours], strict=True):
        if quarter.number % 2:
            frame.box("graduation", quarter.hour, end, (top, below))
    box(frame.root, "margin-frame", (frame.left, top), (frame.right, below))
    frame.outline()
    day_px = DAY_H / time.hours * (frame.right - frame.left)
    every = int(np.ceil(DATE_NUMBER_PX / day_px))
    midnights = [quarter for quarter in graduated if quarter.number == 0 and quarter.whole]
    begun = 0 if midnights and midnights[0].hour == 0.0 else 1  # of the day in which the chart begins none is shown
    for number, midnight in enumerate(midnights, start=begun):
        x, date = float(frame.x(midnight.hour)), midnight.date
        if number % every == 0:
            stroke(frame.root, "midnight", (x, frame.top), (x, below + 6.0))
            name = f"{date:%a} {date.day} {date:%b}" if day_px >= DATE_PX else f"{date.day}"
            _date(frame.root, (x + 3.0, below + 14.0), name, frame.paper.width)
    for number, (hour, end) in time.days().items():
        x = float(frame.x(hour))
        if number % every == 0:
            stroke(frame.root, "day-start", (x, frame.top - 7.0), (x, frame.top))
            roomy = day_px >= DATE_PX or (number == 0 and every == 1)
            stub = end - hour < DAY_H and end < time.hours  # what is left of the day in which a replan begins
            room = float(frame.x(end)) if stub else frame.paper.width
            _date(frame.root, (x + 3.0, frame.top - 3.0), f"{'day ' * roomy}{number + 1}", room)


def _date(root: ET.Element, at: PaperPoint, name: str, room: float) -> None:
    """Write a date where it ends before the room does."""
    if at[0] + breadth(name) <= room:
        words(root, "date", at, name)
