"""Moments, positions and charges as they are typed: an instant with its offset, a ship's time, a fix, percents."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from planner.domain.errors import Fault, InputError
from planner.domain.ship_clock import ShipClock, ShipOffset, offset_at
from planner.readers.positions import read_angle

_SHIP_TIME = re.compile(r"^(?:day\s*(\d{1,3})\s+)?([01]?\d|2[0-3]):([0-5]\d)$", re.IGNORECASE)
HOW = (
    "Write for example 2027-05-10T09:00:00+12:00, '09:00' or 'day 3 09:00' (ship's time, days from the first "
    "departure)."
)
HOW_FIX = 'Write latitude and longitude in one, such as "-30.52 177.25" or "30-31.2S 177-15.0E".'
DAY = timedelta(days=1)


@dataclass(frozen=True)
class ShipMoment:
    """A ship's time on a day of the passage, to be found on the ship's clock.

    Attributes
    ----------
    day : int or None
        From 1: the 24 hours that begin so many days less one after the first departure. None: the first such time.
    hour, minute : int
        By the ship's clock.
    """

    day: int | None
    hour: int
    minute: int


GivenMoment = datetime | ShipMoment
"""A moment in UTC, or one to be found on the ship's clock."""


def read_moment(given: str | GivenMoment, *, option: str) -> GivenMoment:
    """Return the moment that a text names; one that is no text stays as it is.

    Parameters
    ----------
    given : str, datetime or ShipMoment
        ISO 8601 with an offset; ``HH:MM``, a ship's time without a day; or ``day N HH:MM``, in the 24 hours that
        begin N - 1 days after the first departure.
    option : str
        Whose value it is, for messages.

    Raises
    ------
    InputError
        When it is no moment, or one without an offset.
    """
    if isinstance(given, ShipMoment):
        return given
    text = given if isinstance(given, str) else given.isoformat()
    match = _SHIP_TIME.match(text.strip())
    if match:
        day, hour, minute = int(match[1]) if match[1] else None, int(match[2]), int(match[3])
        if day is not None and day < 1:
            raise InputError(
                [Fault(option, "", f"'{text}': days are counted from 1, the day of the first departure.", HOW)]
            )
        return ShipMoment(day, hour, minute)
    try:
        moment = datetime.fromisoformat(text.strip())
        utc = moment.astimezone(UTC)  # of one without an offset, which is refused next, it means nothing
    except (ValueError, OverflowError):  # the latter of the first year, which UTC may put before all years
        raise InputError([Fault(option, "", f"'{text}' is no moment.", HOW)]) from None
    if moment.tzinfo is None:
        raise InputError([Fault(option, "", f"the time '{text}' says no offset from UTC.", HOW)])
    return utc


def moment_of(
    given: GivenMoment, *, departure: datetime, ship_offset: ShipOffset, earliest: datetime | None = None
) -> datetime:
    """Return a moment in UTC, found on the ship's clock where it was given by that.

    Parameters
    ----------
    given : datetime or ShipMoment
    departure : datetime
        The first one, from which days are numbered, with its offset.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    earliest : datetime, optional
        A ship's time without a day is the first such time from here on; from departure on when None.

    Returns
    -------
    datetime
        UTC. Of a time that the clock shows twice the first; one that it leaves out is taken from the day after.
    """
    if isinstance(given, datetime):
        return given
    begins = (earliest or departure) if given.day is None else departure + DAY * (given.day - 1)
    begins = begins.astimezone(UTC)
    offsets = {ship_offset}
    if isinstance(ship_offset, ShipClock):
        offsets = {ship_offset.first, *(later for _, later in ship_offset.changes)}
    shown = []
    for offset in offsets:
        clock = begins + offset
        wanted = clock.replace(hour=given.hour, minute=given.minute, second=0, microsecond=0)
        first = begins + (wanted - clock) % DAY
        shown += [
            moment for moment in (first, first + DAY, first + 2 * DAY) if offset_at(ship_offset, moment) == offset
        ]
    return min(shown)


def read_observed(
    *, fix: str | tuple[float, float], time: str | GivenMoment, soc: str | float | None
) -> tuple[tuple[float, float], GivenMoment, float | None]:
    """Return position, moment and charge of a fix, each as typed or as it is.

    Parameters
    ----------
    fix : str or tuple of float
        Latitude and longitude [degree].
    time : str, datetime or ShipMoment
    soc : str, float or None
        '0.72', '72%' or [0..1]; None where the monitor is not read.

    Raises
    ------
    InputError
        With what is wrong with each.
    """
    faults: list[Fault] = []
    position = _read_fix(fix, faults) if isinstance(fix, str) else fix
    charge = _read_soc(str(soc), faults) if soc is not None else None
    try:
        given = read_moment(time, option="--time")
    except InputError as error:
        raise InputError([*faults, *error.faults]) from None
    if faults:
        raise InputError(faults)
    return position, given, charge


def _read_soc(text: str, faults: list[Fault]) -> float:
    """Return a charge written as a fraction or in percent [0..1]."""
    bare = text.strip()
    try:
        value = float(bare.rstrip("% ")) / 100.0 if bare.endswith("%") else float(bare)
    except ValueError:
        faults.append(Fault("--soc", "", f"'{text}' is no charge.", "Write 0.72 or 72%."))
        return 0.0
    if not 0.0 <= value <= 1.0:
        remedy = f"Did you mean {value:g}%?" if 1.0 < value <= 100.0 else "Write 0.72 or 72%."
        faults.append(Fault("--soc", "", f"'{text}' is not 0 to 1.", remedy))
    return value


def _read_fix(text: str, faults: list[Fault]) -> tuple[float, float]:
    """Return latitude and longitude of a fix in one text, parted by a comma, a hemisphere letter or a blank."""
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2:
        match = re.match(r"^\s*(.*?[NSns]|[^\s]+)\s+(.+?)\s*$", text)
        parts = [match[1], match[2]] if match else []
    if len(parts) != 2:
        faults.append(Fault("--fix", "", f"'{text}' is no latitude and longitude.", HOW_FIX))
        return 0.0, 0.0
    try:
        return read_angle(parts[0], "lat"), read_angle(parts[1], "lon")
    except ValueError as error:
        faults.append(Fault("--fix", "", str(error), HOW_FIX))
        return 0.0, 0.0
