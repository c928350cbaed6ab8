"""Ship's time where it changes under way: added to a moment of UTC, a ship's clock gives what it shows then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(frozen=True)
class ShipClock:
    """A clock that is put on or back at moments of the passage.

    Attributes
    ----------
    first : timedelta
        Ship's time less UTC at departure.
    changes : tuple of (datetime, timedelta)
        Moments, UTC, rising, and ship's time less UTC from then on.
    """

    first: timedelta
    changes: tuple[tuple[datetime, timedelta], ...]

    def at(self, moment: datetime) -> timedelta:
        """Return ship's time less UTC at a moment; a naive one is UTC."""
        known = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        offset = self.first
        for begins, later in self.changes:
            if begins <= known:
                offset = later
        return offset

    def __radd__(self, moment: datetime) -> datetime:
        return moment + self.at(moment)


ShipOffset = timedelta | ShipClock
"""Ship's time less UTC, fixed or changing; either may be added to a moment of UTC."""


def offset_at(offset: ShipOffset, moment: datetime) -> timedelta:
    """Return ship's time less UTC at a moment."""
    return offset.at(moment) if isinstance(offset, ShipClock) else offset


def moment_in_full(moment: datetime, offset: ShipOffset) -> str:
    """Return a moment to the minute as 'Tue 11 May 2027 08:00 ship's time (Mon 10 May 20:00 UTC)'."""
    utc = moment.astimezone(UTC)
    shown = utc + offset
    return f"{shown:%a} {shown.day} {shown:%b %Y %H:%M} ship's time ({utc:%a} {utc.day} {utc:%b %H:%M} UTC)"


def clock_from(first_h: float, changes: Iterable[tuple[datetime, float]]) -> ShipOffset:
    """Return ship's time less UTC from what it is first, and from each moment on [h]."""
    later = tuple((moment, timedelta(hours=hours)) for moment, hours in changes)
    first = timedelta(hours=first_h)
    return ShipClock(first, later) if later else first
