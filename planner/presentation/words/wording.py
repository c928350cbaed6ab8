"""Figures as a crew reads them: whole percents, five minutes, whole amp-hours, ship's time."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, time, timedelta
from pathlib import PurePath

from planner.domain.results.bill import Rung, Stop
from planner.domain.results.figures import Spread
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipClock, ShipOffset
from planner.domain.version import __version__

MINUS = "\N{MINUS SIGN}"
EN_DASH = "\N{EN DASH}"
PRIME = "\N{PRIME}"
NO_BREAK = "\N{NO-BREAK SPACE}"
ROUND_MIN = 5
SHOWN_DIGITS = 12
HOUR_MIN = 60
_PLAIN = str.maketrans(
    {NO_BREAK: " ", EN_DASH: "-", MINUS: "-", PRIME: "'", "\N{RIGHTWARDS ARROW}": "to", "\N{THIN SPACE}": ""}
)


def plain(text: str) -> str:
    """Return a typeset text in characters that every terminal and calendar can show."""
    return text.translate(_PLAIN)


def percent(fraction: float) -> str:
    """Return a fraction [0..1] as whole percent."""
    return f"{round(100 * fraction)}{NO_BREAK}%"


def joined(words: Sequence[str], last: str = "and") -> str:
    """Return words as a list in a sentence."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"


def boat_file_words(plan: Plan) -> str:
    """Return the boat file that a plan was made with, and the start of its checksum where it was read from a file."""
    name = PurePath(plan.passage.boat).name
    checksum = plan.voyage.inputs.files.get(name, "")
    return f"{name} (SHA-256 {checksum[:SHOWN_DIGITS]})" if checksum else name


def percent_span(spread: Spread) -> str:
    """Return the p10 to p90 of a fraction [0..1] as whole percents."""
    low, high = round(100 * spread.p10), round(100 * spread.p90)
    return f"{low}{NO_BREAK}%" if low == high else f"{low}{EN_DASH}{high}{NO_BREAK}%"


def whole(value: float) -> str:
    """Return a number rounded to a whole one, thousands parted by a thin space, minus typeset."""
    text = f"{abs(round(value)):,}".replace(",", "\N{THIN SPACE}")
    return f"{MINUS}{text}" if round(value) < 0 else text


def tens(value: float) -> str:
    """Return a number rounded to tens: watt-hours as far as they are worth reading."""
    return whole(10 * round(value / 10))


def to_five(minutes: float) -> int:
    """Return minutes rounded half up to five: the one rounding of moments and durations."""
    return ROUND_MIN * math.floor(minutes / ROUND_MIN + 0.5)


def duration(minutes: float) -> str:
    """Return minutes, rounded to five, as hours and minutes: '1 h 30', '45 min', 'none'."""
    rounded = to_five(minutes)
    if rounded <= 0:
        return "none"
    hours, rest = divmod(rounded, HOUR_MIN)
    if not hours:
        return f"{rest}{NO_BREAK}min"
    return f"{hours}{NO_BREAK}h{NO_BREAK}{rest:02d}" if rest else f"{hours}{NO_BREAK}h"


def duration_span(hours: Spread) -> str:
    """Return the p10 to p90 of a duration [h]."""
    low, high = duration(HOUR_MIN * hours.p10), duration(HOUR_MIN * hours.p90)
    return low if low == high else f"{low} to {high}"


def ladder_action(minutes: int) -> str:
    """Return what a rung asks for: 'no run' or so long."""
    return duration(minutes) if minutes > 0 else "no run"


def ladder_lines(ladder: Sequence[Rung]) -> list[tuple[str, str]]:
    """Return the ladder's rungs from high reading to low as (readings, action), neighbours that agree joined."""
    joined: list[Rung] = []
    for rung in sorted(ladder, key=lambda rung: rung.from_percent, reverse=True):
        if joined and joined[-1].minutes == rung.minutes:
            joined[-1] = rung
        else:
            joined.append(rung)
    if len(joined) == 1:
        return [("any", ladder_action(joined[0].minutes))]
    lines = []
    above: int | None = None
    for rung in joined:
        if above is None:
            readings = f"{rung.from_percent}{NO_BREAK}% or more"
        elif rung is joined[-1]:
            readings = f"below {above}{NO_BREAK}%"
        elif rung.from_percent == above - 1:
            readings = f"{rung.from_percent}{NO_BREAK}%"
        else:
            readings = f"{rung.from_percent}{EN_DASH}{above - 1}{NO_BREAK}%"
        lines.append((readings, ladder_action(rung.minutes)))
        above = rung.from_percent
    return lines


def stop_lines(stop: Stop) -> tuple[str, str, str]:
    """Return when to stop a run, whichever comes first: reading, charge put in, current fallen to."""
    return (
        f"{stop.soc_percent}{NO_BREAK}%",
        f"{stop.amp_hours}{NO_BREAK}Ah{NO_BREAK}in",
        f"{stop.tail_a}{NO_BREAK}A{NO_BREAK}tail",
    )


def bearing(degrees: float) -> str:
    """Return a bearing as three figures."""
    return f"{round(degrees) % 360:03d}\N{DEGREE SIGN}"


def latitude(degrees: float) -> str:
    """Return a latitude in degrees and whole minutes."""
    return _degrees_minutes(degrees, "N", "S", width=2)


def longitude(degrees: float) -> str:
    """Return a longitude in degrees and whole minutes, taken to [-180, 180)."""
    return _degrees_minutes((degrees + 180) % 360 - 180, "E", "W", width=3)


def _degrees_minutes(degrees: float, positive: str, negative: str, *, width: int) -> str:
    whole_degrees, minutes = divmod(round(abs(degrees) * 60), 60)
    side = positive if degrees >= 0 else negative
    return f"{whole_degrees:0{width}d}\N{DEGREE SIGN}{minutes:02d}{PRIME}{NO_BREAK}{side}"


def ship_clock(moment: datetime, offset: ShipOffset) -> datetime:
    """Return ship's time, to five minutes, as a naive datetime; a naive moment is UTC."""
    utc = moment.astimezone(UTC).replace(tzinfo=None) if moment.tzinfo else moment
    shown = utc + offset
    midnight = datetime.combine(shown, time())
    return midnight + timedelta(minutes=to_five((shown - midnight) / timedelta(minutes=1)))


def clock(moment: datetime, offset: ShipOffset) -> str:
    """Return ship's time as HH:MM."""
    return ship_clock(moment, offset).strftime("%H:%M")


def date_words(moment: datetime, offset: ShipOffset) -> str:
    """Return the ship's date as 'Wed 5 May'."""
    shown = ship_clock(moment, offset)
    return f"{shown:%a} {shown.day} {shown:%b}"


def moment_words(moment: datetime, offset: ShipOffset) -> str:
    """Return ship's date and time as 'Wed 5 May 06:00'."""
    return f"{date_words(moment, offset)} {clock(moment, offset)}"


def which_plan(plan: Plan) -> str:
    """Return what tells one printed plan from another: departure, cycle of the forecast, version of the planner."""
    issued = str(plan.voyage.inputs.forecast.attrs.get("issued", "")).removesuffix("Z")
    forecast = f"forecast begun {moment_words(datetime.fromisoformat(issued), timedelta())} UTC; " if issued else ""
    leaves = moment_words(plan.passage.departure, plan.ship_offset)
    return f"Plan for the departure of {leaves}; {forecast}planner {__version__}."


def days_sentence(plan: Plan) -> str:
    """Say from when days are numbered in the rest of a passage, empty for a whole one."""
    first = plan.passage.first_departure
    if first is None or first == plan.passage.departure:
        return ""
    return f"Days are numbered from the first departure, {moment_words(first, first.utcoffset() or timedelta())}."


def offset_words(offset: ShipOffset) -> str:
    """Return what ship's time is: 'UTC+12' or 'UTC-3:30'; where it changes under way 'UTC+12, then UTC-12'."""
    if isinstance(offset, ShipClock):
        return ", then ".join(offset_words(each) for each in (offset.first, *(later for _, later in offset.changes)))
    minutes = round(offset.total_seconds() / 60)
    hours, rest = divmod(abs(minutes), HOUR_MIN)
    sign = "+" if minutes >= 0 else MINUS
    return f"UTC{sign}{hours}" + (f":{rest:02d}" if rest else "")


def with_span(spread: Spread | None, show: Callable[[float], str], *, between: str = " to ") -> str:
    """Return a planned figure and its middle eight tenths, '120 (80 to 150)'.

    Parameters
    ----------
    spread : Spread or None
        Of None nothing is said.
    show : callable
        Puts one figure into words; where all come to the same words they stand once.
    between : str
        What parts the span's ends.
    """
    if spread is None:
        return ""
    planned, low, high = map(show, (spread.planned, spread.p10, spread.p90))
    return planned if planned == low == high else f"{planned} ({low}{between}{high})"


def tenths(value: float) -> str:
    """Return a figure with one decimal, nought without a sign."""
    return f"{round(value, 1) + 0.0:.1f}"


def signed(value: float, digits: int = 0) -> str:
    """Return a change with its sign, nought without."""
    text = f"{value:+.{digits}f}"
    return text if text.strip("+-0.") else text.lstrip("+-")


def signed_tenths(value: float) -> str:
    """Return a change with its sign and one decimal."""
    return signed(value, 1)


def signed_points(fraction: float) -> str:
    """Return a change of a fraction [0..1] in whole points of percent."""
    return signed(100.0 * fraction)
