"""Times of a log as moments of UTC: as people and recorders write them, by the ship's clock or any other."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np

from planner.domain.arrays import Times
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.log_mapping import DateOrder, fixed_offset
from planner.domain.ship_clock import ShipClock, ShipOffset

SHOWN: Final = 5  # faults of one kind that are named before the rest are counted
CLOCK_CHANGE_MIN: Final = (20.0, 130.0)  # min that a clock is put back by zones and by summer time
DATE_CHANGE_MIN: Final = (22 * 60.0, 26 * 60.0)  # min, and by the date line
MOST_UNREADABLE: Final = 0.02  # 1, part of the lines whose time may be spoilt
_DATED = re.compile(
    r"(?P<a>\d{1,4})[-/. ](?P<b>\d{1,2}|[A-Za-z]{3,9})[-/. ](?P<c>\d{2,4}),?[ T]+"
    r"(?P<hour>\d{1,2})[:.h](?P<minute>\d{2})(?:[:.](?P<second>\d{2})(?:[.,]\d+)?)?"
    r"\s*(?P<half>[AaPp][Mm])?\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
)
_CLOCK_ALONE = re.compile(r"\d{1,2}[:.h]\d{2}(?:[:.]\d{2})?\s*(?:[AaPp][Mm])?")
_SINCE_1970 = re.compile(r"1\d{9}(?:\d{3})?(?:\.\d+)?")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class LogTimes:
    """Times as logged.

    Attributes
    ----------
    moments : datetime64 array (line,)
        UTC; NaT where a time is spoilt.
    zone : str or None
        Whose clock they keep where they do not say.
    date_order : str or None
        How dates that could be read two ways were read.
    notes : tuple of str
    """

    moments: Times
    zone: str | None
    date_order: DateOrder | None
    notes: tuple[str, ...]


def read_times(
    cells: Sequence[str],
    lines: Sequence[int],
    *,
    where: str,
    zone: str | None,
    date_order: DateOrder | None,
    ship_offset: ShipOffset,
) -> LogTimes:
    """Return the moments of a log's times.

    Parameters
    ----------
    cells : sequence of str (line,)
        Date and time of each line, in the file's order.
    lines : sequence of int (line,)
        Their numbers in the file.
    where : str
        Name of the file.
    zone : str or None
        'ship', 'utc' or an offset, for times that say none.
    date_order : str or None
        For dates such as 05/06/2027; None takes it from the dates themselves.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.

    Raises
    ------
    InputError
        When times cannot be read, say no offset and nobody says it for them, may be read two ways, or jump back as
        the clock was changed.
    """
    parts = [_DATED.fullmatch(cell) for cell in cells]
    order = date_order or _order(parts, where)
    naive: list[datetime | None] = []
    aware: list[datetime | None] = []
    for cell, part in zip(cells, parts, strict=True):
        moment = _moment(cell, part, order)
        naive.append(moment if moment is not None and moment.tzinfo is None else None)
        aware.append(moment if moment is not None and moment.tzinfo is not None else None)
    spoilt = [place for place, pair in enumerate(zip(naive, aware, strict=True)) if pair == (None, None)]
    if len(spoilt) > MOST_UNREADABLE * len(cells):
        raise InputError(_unreadable([(cells[place], lines[place]) for place in spoilt], where))
    says_none = [place for place, moment in enumerate(naive) if moment is not None]
    if says_none and zone is None:
        place = says_none[0]
        problem = f"the time '{cells[place]}' says no offset from UTC; so in {len(says_none)} lines."
        remedy = 'Say whose clock it is in a mapping file: time_zone = "ship", "utc" or an offset such as "+12:00".'
        raise InputError([Fault(where, f"line {lines[place]}", problem, remedy)])
    moments = _to_utc(naive, aware, zone, ship_offset)
    notes = []
    if spoilt:
        named = ", ".join(str(lines[place]) for place in spoilt[:SHOWN])
        notes.append(f"{where}: {len(spoilt)} lines without a time that can be read dropped ({named}).")
    if says_none:
        _clock_put_back(moments, lines, where)
    ambiguous = any(part is not None and len(part["a"]) <= 2 and part["b"].isdigit() for part in parts)
    return LogTimes(moments, zone if says_none else None, order if ambiguous else None, tuple(notes))


def _order(parts: Sequence[re.Match[str] | None], where: str) -> DateOrder:
    """Return the order of dates that begin with one or two figures, where some day among them is beyond 12."""
    firsts = [
        (int(part["a"]), int(part["b"])) for part in parts if part and len(part["a"]) <= 2 and part["b"].isdigit()
    ]
    shown = next((part.group() for part in parts if part and len(part["a"]) <= 2 and part["b"].isdigit()), "")
    if not firsts:
        return "year first"
    day_first, month_first = any(a > 12 for a, _ in firsts), any(b > 12 for _, b in firsts)
    if day_first and not month_first:
        return "day first"
    if month_first and not day_first:
        return "month first"
    problem = f"dates such as '{shown}' may be read as day or as month first."
    remedy = 'Say in a mapping file: date_order = "day first" or "month first".'
    raise InputError([Fault(where, "time", problem, remedy)])


def _moment(cell: str, part: re.Match[str] | None, order: DateOrder) -> datetime | None:
    if _SINCE_1970.fullmatch(cell):  # seconds or milliseconds since 1970 in UTC (POSIX)
        value = float(cell)
        return _EPOCH + timedelta(seconds=value / 1000.0 if value > 1e11 else value)
    try:
        read = datetime.fromisoformat(cell) if len(cell) > 10 else None
        return read if read is None or read.tzinfo is None else read.astimezone(UTC)
    except (ValueError, OverflowError):  # the latter of the first year, which UTC may put before all years
        return _by_parts(part, order) if part else None


def _by_parts(part: re.Match[str], order: DateOrder) -> datetime | None:
    a, b, c = part["a"], part["b"], part["c"]
    word = b[:3].lower() if not b.isdigit() else ""
    if word and word not in _MONTHS:
        return None
    month_or_b = _MONTHS.index(word) + 1 if word else int(b)
    if len(a) == 4 or (order == "year first" and not word):
        year, month, day = int(a), month_or_b, int(c)
    elif order == "month first" and not word:
        year, month, day = int(c), int(a), month_or_b
    else:
        year, month, day = int(c), month_or_b, int(a)
    year += 2000 if year < 100 else 0
    hour, second = int(part["hour"]), int(part["second"] or 0)
    if part["half"]:
        hour = hour % 12 + (12 if part["half"].lower() == "pm" else 0)
    try:
        moment = datetime(year, month, day, hour, int(part["minute"]), second)  # noqa: DTZ001  (told apart below)
    except ValueError:
        return None
    said = part["zone"]
    if said is None:
        return moment
    ahead = timedelta() if said[0] not in "+-" else fixed_offset(f"{said[:3]}:{said[-2:]}")
    try:
        return None if ahead is None else (moment - ahead).replace(tzinfo=UTC)
    except OverflowError:
        return None


def _unreadable(spoilt: Sequence[tuple[str, int]], where: str) -> list[Fault]:
    if all(_CLOCK_ALONE.fullmatch(cell) for cell, _ in spoilt):
        cell, line = spoilt[0]
        remedy = "Log the date too, in the same column or in one headed 'date'."
        return [Fault(where, f"line {line}", f"the time '{cell}' has no date; so in {len(spoilt)} lines.", remedy)]
    faults = [
        Fault(where, f"line {line}", f"'{cell}' is no time.", "Write 2027-05-10T09:00+12:00 or 2027-05-10 09:00.")
        for cell, line in spoilt[:SHOWN]
    ]
    if len(spoilt) > SHOWN:
        faults.append(Fault(where, "time", f"so are {len(spoilt) - SHOWN} more."))
    return faults


def _to_utc(
    naive: Sequence[datetime | None], aware: Sequence[datetime | None], zone: str | None, ship_offset: ShipOffset
) -> Times:
    moments = np.full(len(naive), np.datetime64("NaT", "ns"))
    last: datetime | None = None
    ahead = fixed_offset(zone)
    for place, (logged, known) in enumerate(zip(naive, aware, strict=True)):
        if known is not None:
            last = known.replace(tzinfo=None)
        elif logged is not None and ahead is not None:
            last = logged - ahead
        elif logged is not None:
            last = _from_ship(logged, ship_offset, last)
        else:
            continue
        moments[place] = np.datetime64(last, "ns")
    return moments


def _from_ship(logged: datetime, ship_offset: ShipOffset, last: datetime | None) -> datetime:
    """Return the moment at which the ship's clock shows a time; of two, the first not before the line before."""
    if not isinstance(ship_offset, ShipClock):
        return logged - ship_offset
    shown_by = [ship_offset.first, *(offset for _, offset in ship_offset.changes)]
    may_be = sorted({logged - offset for offset in shown_by if (logged - offset) + ship_offset == logged})
    if not may_be:  # a time that the clock leaves out as it is put on
        return logged - ship_offset.at(logged - ship_offset.first)
    return next((moment for moment in may_be if last is None or moment >= last), may_be[-1])


def _clock_put_back(moments: Times, lines: Sequence[int], where: str) -> None:
    """Raise where a clock was put back in the midst of the log, so that an hour or a date occurs twice."""
    good = np.flatnonzero(~np.isnat(moments))
    minutes = moments[good].astype(np.int64) / 60e9
    back = np.flatnonzero(np.diff(minutes) < 0.0)
    if back.size > 3:  # nobody changes the clock so often: the lines are out of order
        return
    for place in back:
        size = minutes[place] - minutes[place + 1]
        if not any(low <= size <= high for low, high in (CLOCK_CHANGE_MIN, DATE_CHANGE_MIN)):
            continue
        before, after = minutes[: place + 1], minutes[place + 1 :]
        again = after[(after < before.max()) & (np.maximum.accumulate(after) == after)]
        spacing = float(np.median(np.diff(before))) if before.size > 2 else np.inf
        logged = np.sort(before)
        later = np.minimum(np.searchsorted(logged, again), logged.size - 1)
        nearest = np.minimum(np.abs(logged[later] - again), np.abs(logged[np.maximum(later - 1, 0)] - again))
        goes_on = after.max() > before.max()
        if again.size > 1 and goes_on and bool(np.mean(nearest <= 0.75 * spacing) > 0.5):
            line = lines[int(good[place + 1])]
            problem = f"the time jumps back by {size:.0f} min and an hour is told twice: the clock was put back."
            if size > CLOCK_CHANGE_MIN[1]:
                problem = f"the time jumps back by {size / 60:.0f} h and a date is told twice: the date line."
            remedy = (
                'Let the passage file\'s ship_time hold the change and say time_zone = "ship"; or give the parts'
                " before and after as two logs, with offsets in their times."
            )
            raise InputError([Fault(where, f"line {line}", problem, remedy)])
