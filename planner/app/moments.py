"""Moments as the command line gives them: an instant with its offset, or a day and a ship's time."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from planner.domain.errors import Fault, InputError

_SHIP_TIME = re.compile(r"^(?:day\s*(\d{1,3})\s+)?([01]?\d|2[0-3]):([0-5]\d)$", re.IGNORECASE)
HOW = "Write for example 2027-05-10T09:00:00+12:00, '09:00' or 'day 3 09:00' (ship's time)."


def read_moment(text: str, *, option: str, departure: datetime, ship_offset: timedelta) -> datetime:
    """Return the moment that a text names.

    Parameters
    ----------
    text : str
        ISO 8601 with an offset; ``HH:MM``, the first such ship's time from departure on; or ``day N HH:MM``, in the
        24 hours that begin N - 1 days after departure.
    option : str
        Whose value it is, for messages.
    departure : datetime
        With its offset.
    ship_offset : timedelta
        Ship's time less UTC.

    Returns
    -------
    datetime
        UTC.

    Raises
    ------
    InputError
        When it is no moment, or one without an offset.
    """
    match = _SHIP_TIME.match(text.strip())
    if match:
        day, hour, minute = int(match[1] or 1), int(match[2]), int(match[3])
        if day < 1:
            raise InputError([Fault(option, "", f"'{text}': days are counted from 1, the day of departure.", HOW)])
        begins = departure.astimezone(UTC) + timedelta(days=day - 1)
        shown = begins + ship_offset
        wanted = shown.replace(hour=hour, minute=minute, second=0, microsecond=0)
        return begins + (wanted - shown) % timedelta(days=1)
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError([Fault(option, "", f"'{text}' is no moment.", HOW)]) from None
    if moment.tzinfo is None:
        raise InputError([Fault(option, "", f"the time '{text}' says no offset from UTC.", HOW)])
    return moment.astimezone(UTC)
