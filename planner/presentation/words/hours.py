"""The passage hour by hour, as sentences, charts and map read it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipClock, ShipOffset, offset_at
from planner.presentation.words.wording import EN_DASH, clock, moment_words

HOUR = np.timedelta64(1, "h")


DAY_H = 24


SECONDS_AN_HOUR = 3600.0


@dataclass(frozen=True, eq=False)
class PassageHours:
    """Clock and steps of a plan.

    Attributes
    ----------
    start : datetime
        Of the first step, naive UTC.
    offset : timedelta or ShipClock
        Ship's time less UTC.
    step_h : float
        Length of a step [h].
    steps : int
        How many there are.
    first_steps : int array (hour,)
        First step of each hour since departure.
    last_day : int
        Number of the last day of the passage as the plan counts them.
    before_h : float
        From the first departure, from which days are numbered, to the first step [h].
    """

    start: datetime
    offset: ShipOffset
    step_h: float
    steps: int
    first_steps: npt.NDArray[np.int64]
    last_day: int
    before_h: float = 0.0

    @property
    def total_h(self) -> float:
        """Length of the passage [h]."""
        return self.steps * self.step_h

    @property
    def edges_h(self) -> Floats:
        """Edges of the hours (hour + 1,) [h]."""
        return np.append(self.first_steps * self.step_h, self.total_h)

    def mean(self, flow: Floats) -> Floats:
        """Return the hourly means (hour,) of a flow (time,)."""
        counts = np.diff(np.append(self.first_steps, self.steps))
        return np.asarray(np.add.reduceat(flow, self.first_steps) / counts)

    def day(self, hour: float) -> int:
        """Return the day of the passage, from 1, in which an hour since the first step lies."""
        return min(1 + int((self.before_h + hour) // DAY_H), self.last_day)

    def moments(self) -> Iterator[tuple[int, datetime]]:
        """Yield the day of the passage and the UTC of each hour."""
        for first in self.first_steps:
            hour = float(first) * self.step_h
            yield self.day(hour), self.start + timedelta(hours=hour)

    def names(self) -> list[str]:
        """Return 'Day 3, Wed 5 May 06:00' in ship's time for each hour."""
        return [f"Day {day}, {moment_words(moment, self.offset)}" for day, moment in self.moments()]

    def since_start(self, moment: datetime) -> float:
        """Return hours from the first step to a moment in UTC."""
        naive = moment if moment.tzinfo is None else moment.replace(tzinfo=None) - (moment.utcoffset() or timedelta())
        return (naive - self.start).total_seconds() / SECONDS_AN_HOUR


def hours_of(plan: Plan) -> PassageHours:
    """Return the clock and steps of a plan."""
    voyage, passage = plan.voyage, plan.passage
    return PassageHours(
        start=voyage.at(0).replace(tzinfo=None),
        offset=voyage.ship_offset,
        step_h=voyage.step_h,
        steps=voyage.steps,
        first_steps=np.arange(0, voyage.steps, round(1.0 / voyage.step_h), dtype=np.int64),
        last_day=plan.days[-1].day,
        before_h=(passage.departure - passage.days_from) / timedelta(hours=1),
    )


def clock_changes(start: datetime, offset: ShipOffset) -> tuple[tuple[float, float], ...]:
    """Return at which hours from a moment, naive UTC, the ship's clock is put on, and by how many hours."""
    if not isinstance(offset, ShipClock):
        return ()
    before, changes = offset_at(offset, start), []
    for moment, later in offset.changes:
        at_h = (moment.replace(tzinfo=None) - start).total_seconds() / SECONDS_AN_HOUR
        if at_h > 0.0:
            changes.append((at_h, (later - before).total_seconds() / SECONDS_AN_HOUR))
            before = later
    return tuple(changes)


def spans(flags: npt.NDArray[np.bool_], step_h: float) -> tuple[tuple[float, float], ...]:
    """Return the spans in hours over which flags (time,) hold."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return tuple((float(a) * step_h, float(b) * step_h) for a, b in edges.reshape(-1, 2))


def nights(plan: Plan, hours: PassageHours) -> tuple[tuple[float, float], ...]:
    """Return the spans in hours with the sun below the horizon."""
    return spans(plan.harvest["sun_elevation_deg"].values < 0.0, hours.step_h)


def engine_words(plan: Plan, hours: PassageHours) -> list[str]:
    """Return for each hour whether the engine charges or drives, and from when to when; empty where it rests."""
    words = ["" for _ in hours.first_steps]
    edges = hours.edges_h
    for window in plan.windows:
        start, stop = hours.since_start(window.start), hours.since_start(window.stop)
        span = f"{clock(window.start, hours.offset)}{EN_DASH}{clock(window.stop, hours.offset)}"
        what = f"{'drives' if window.propels else 'charges'} {span}"
        for index in np.flatnonzero((edges[:-1] < stop) & (edges[1:] > start)):
            words[index] = f"{words[index]}; {what}" if words[index] else what
    return words
