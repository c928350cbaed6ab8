"""watch-bill.ics: watches and engine runs as calendar events with alarms (RFC 5545, name as in RFC 7986)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import NAMESPACE_OID, uuid5

from planner.domain.results.bill import EngineWindow, WatchRow
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import offset_at
from planner.presentation.words.bill.sentences import ladder_words, may_run, stop_sentence, wake_sentence
from planner.presentation.words.notes import said
from planner.presentation.words.wording import clock, duration, offset_words, plain

if TYPE_CHECKING:
    from icalendar import Event

PRODUCT = "-//passage-energy//watch bill//EN"
ENGINE_ALARM = timedelta(minutes=-10)  # before a run: time to look over the side for lines (common practice)
WATCH_ALARM = timedelta(minutes=-15)  # before a change of watch: time to wake and dress (common practice)


def to_calendar(plan: Plan, *, stamp: datetime | None = None) -> bytes:
    """Return the bill as an iCalendar file.

    Times are UTC, so that any calendar shows them right in whatever zone it keeps; words give ship's time.

    Parameters
    ----------
    plan : Plan
    stamp : datetime, optional
        When the file is said to be made; departure when None, so that the same plan gives the same bytes.

    Returns
    -------
    bytes
        UTF-8, lines folded and ended as the standard asks.
    """
    from icalendar import Calendar

    made = (stamp or plan.passage.departure).astimezone(UTC)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"Watch bill {plan.route[0].name} to {plan.route[-1].name}")
    for row in plan.watches:
        calendar.add_component(_watch_event(plan, row, made))
    for window in plan.windows:
        calendar.add_component(_engine_event(plan, window, made))
    return bytes(calendar.to_ical())


def _watch_event(plan: Plan, row: WatchRow, made: datetime) -> Event:
    words = [
        f"Day {row.day}, ship's time {_span(plan, row.start, row.end)}.",
        f"Bank at the start {round(100 * row.soc.planned)} %. Engine by the meter: {ladder_words(row)}.",
        *([stop_sentence(row)] if may_run(row) else []),
        said(row.reason),
        wake_sentence(row),
    ]
    event = _event(
        plan,
        kind="watch",
        made=made,
        begin=row.start,
        end=row.end,
        summary=f"Watch: {row.role}",
        words=words,
        alarm=WATCH_ALARM,
    )
    event.add("transp", "TRANSPARENT")
    return event


def _engine_event(plan: Plan, window: EngineWindow, made: datetime) -> Event:
    minutes = (window.stop - window.start) / timedelta(minutes=1)
    purpose = "under engine" if window.propels else "engine to charge"
    words = [
        f"Ship's time {_span(plan, window.start, window.stop)}.",
        f"About {round(window.expected_ah)} Ah into the bank, {window.fuel_l:.1f} L of fuel.",
        *([] if window.propels else ["As planned; the meter's reading at the change of watch decides."]),
        said(window.reason),
    ]
    return _event(
        plan,
        kind="engine",
        made=made,
        begin=window.start,
        end=window.stop,
        summary=f"{purpose.capitalize()}, {plain(duration(minutes))}: {window.role}",
        words=words,
        alarm=ENGINE_ALARM,
    )


def _event(
    plan: Plan,
    *,
    kind: str,
    made: datetime,
    begin: datetime,
    end: datetime,
    summary: str,
    words: list[str],
    alarm: timedelta,
) -> Event:
    from icalendar import Alarm, Event

    departure, begins = (moment.astimezone(UTC).isoformat() for moment in (plan.passage.departure, begin))
    event = Event()
    event.add("uid", str(uuid5(NAMESPACE_OID, f"passage-energy {departure} {kind} {begins}")))
    event.add("dtstamp", made)
    event.add("dtstart", begin.astimezone(UTC))
    event.add("dtend", end.astimezone(UTC))
    event.add("summary", summary)
    event.add("description", "\n".join(words))
    event.add("categories", [kind])
    bell = Alarm()
    bell.add("action", "DISPLAY")
    bell.add("trigger", alarm)
    bell.add("description", summary)
    event.add_component(bell)
    return event


def _span(plan: Plan, begin: datetime, end: datetime) -> str:
    offset = plan.ship_offset
    return f"{clock(begin, offset)} to {clock(end, offset)} ({plain(offset_words(offset_at(offset, begin)))})"
