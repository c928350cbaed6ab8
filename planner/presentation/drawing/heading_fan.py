"""The heading fan: round a compass card, what each heading of one watch wins or costs beside the planned one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.domain.results.studies import HeadingFan, HeadingOption
from planner.presentation.drawing.frame import even_ticks
from planner.presentation.drawing.labels import LINE_PX, Edges, about, breadth, clear
from planner.presentation.drawing.svg import (
    MARK_PX,
    PaperPoint,
    add,
    dot,
    markup,
    path,
    picture,
    polyline,
    readable,
    rings,
    stroke,
    whisker,
    words,
)
from planner.presentation.words.content import Figure
from planner.presentation.words.headings import (
    TACKS,
    answer,
    heading_sentences,
    magnetic,
    miles,
    options_table,
    signed,
    turn_words,
)
from planner.presentation.words.wording import EN_DASH, MINUS, bearing, clock, date_words, duration

Radius = Callable[[float], float]

HUB = 0.24  # of the card's radius: the lowest value lies there, the boat within
EDGE = 0.96  # of the card's radius: the highest value lies there
BAND_PX = 7.0
GRADUATION_DEG = 10
NUMBER_DEG = 30
MOST_RINGS = 4
LEAST_REACH_WH = 20.0  # Wh; so that differences worth nothing lie close to the planned ring
APART_DEG = 3.8  # degree; by which headings of different tacks stand apart, so that both are seen
HULL = ((0.0, -15.0), (5.0, -4.0), (5.5, 6.0), (4.0, 12.0), (-4.0, 12.0), (-5.5, 6.0), (-5.0, -4.0))  # px, bow up


@dataclass(frozen=True)
class Card:
    """The paper: breadth of the square and radius of the card [px]."""

    name: str
    width: float
    radius: float

    @property
    def middle(self) -> PaperPoint:
        """Where the boat is [px]."""
        return self.width / 2, self.width / 2

    @property
    def rim(self) -> float:
        """Outer radius of the graduated margin [px]."""
        return self.radius + BAND_PX

    def at(self, bearing_deg: float, radius: float) -> PaperPoint:
        """Return where a bearing and a distance from the middle lie."""
        angle = np.radians(bearing_deg)
        return self.width / 2 + radius * float(np.sin(angle)), self.width / 2 - radius * float(np.cos(angle))

    def arc(self, first_deg: float, last_deg: float, radius: float) -> str:
        """Return the path along a circle from one bearing to another."""
        turn = np.arange(first_deg, last_deg, np.copysign(3.0, last_deg - first_deg))
        return polyline(np.array([self.at(float(each), radius) for each in (*turn, last_deg)]))

    def pointer(self, bearing_deg: float, tip: float, base: float) -> str:
        """Return the path of a pointer along a bearing, from one distance to another."""
        half_deg = float(np.degrees(6.0 / base))
        sides = (self.at(bearing_deg + turn, base) for turn in (-half_deg, half_deg))
        return rings([np.array([self.at(bearing_deg, tip), *sides])])


WIDE = Card(name="wide", width=560.0, radius=218.0)
NARROW = Card(name="narrow", width=360.0, radius=126.0)


def heading_fan(plan: Plan) -> Figure | None:
    """Return the fan of the watch that was tried, with its table, or None where none was.

    Parameters
    ----------
    plan : Plan
        Its ``fan`` is drawn.
    """
    fan = plan.fan
    if fan is None:
        return None
    return Figure(
        key="headings",
        title=f"Other headings, {date_words(fan.start, fan.ship_offset)} {_span(fan)}",
        lead=(
            f"Of the first two days this watch has most sun, so that a heading counts for most in it. "
            f"{heading_sentences(fan)[-1]} {answer(fan)} "
            "Wind, sea and traffic decide what may be steered."
        ),
        caption=(
            "Compass card, magnetic, north up. Outside the heavy ring a heading brings more than the planned one, "
            "inside less [Wh of sun less steering over these hours]; bars hold eight forecasts in ten. "
            f"{_surroundings(fan)}"
        ),
        legend=(
            ("mark first", "starboard tack"),
            ("mark second", "port tack"),
            ("line planned-ring", "as planned"),
            *((("line spoke drives", "the engine must drive"),) if any(map(_driven, fan.options)) else ()),
        ),
        drawings=tuple(_draw(card, fan) for card in (WIDE, NARROW)),
        readings=tuple(_reading(option, fan) for option in fan.options),
        table=options_table(fan),
        steps="heading by heading",
    )


def _span(fan: HeadingFan) -> str:
    end = fan.start + timedelta(hours=fan.hours)
    return f"{clock(fan.start, fan.ship_offset)}{EN_DASH}{clock(end, fan.ship_offset)}"


def _surroundings(fan: HeadingFan) -> str:
    words = f"Arrow: the wind, from {bearing(fan.wind_from_deg - fan.variation_deg)}M. "
    if fan.sun_elevation_deg > 0.0:
        words += f"Disc: the sun, up to {fan.sun_elevation_deg:.0f}\N{DEGREE SIGN} high. "
    return f"{words}Triangle: {fan.toward}, {bearing(fan.toward_bearing_deg - fan.variation_deg)}M."


def _driven(option: HeadingOption) -> bool:
    return option.engine_driving_h > 0.0


def _reading(option: HeadingOption, fan: HeadingFan) -> str:
    words = f"{magnetic(option)}, {TACKS[option.tack]} tack, {turn_words(option, fan)}: "
    if option is fan.planned:
        words += f"{option.solar_wh.p50:.0f} Wh of sun"
    else:
        words += f"{signed(option.difference_wh)} Wh, {miles(option)}"
    words += f"; {option.speed_kn:.1f} kn"
    return f"{words}, engine drives {duration(60.0 * option.engine_driving_h)}" if _driven(option) else words


def _draw(card: Card, fan: HeadingFan) -> Markup:
    values = [v for o in fan.options for v in (o.difference_wh.p50, o.difference_wh.p10, o.difference_wh.p90)]
    ticks = even_ticks(min([-LEAST_REACH_WH, *values]), max([LEAST_REACH_WH, *values]), MOST_RINGS)

    def radius(value: float) -> float:
        return card.radius * float(np.interp(value, (ticks[0], ticks[-1]), (HUB, EDGE)))

    low, high = (pick(option.difference_wh.p50 for option in fan.options) for pick in (min, max))
    label = (
        f"Headings on a compass card, {low:.0f} to {high:.0f} watt-hours beside the planned one. Its table follows."
    )
    root = picture(card.width, card.width, label=label, css=f"fan {card.name}")
    for tick in ticks:
        dot(root, "line grid" if tick else "line planned-ring", card.middle, radius(tick))
    _rim(root, card)
    _weather(root, card, fan)
    drawn = np.array(
        [_option(root, card, option, at, radius) for option, at in _bearings(fan)]
    )  # (option, end or mark, 2)
    _ring_names(root, card, fan, [(tick, radius(tick)) for tick in ticks], drawn.reshape(-1, 2))
    turn = f"translate({card.width / 2:.0f} {card.width / 2:.0f}) rotate({fan.planned.heading_magnetic_deg:.0f})"
    path(add(root, "g", {"transform": turn}), "bow", rings([np.array(HULL)]))
    readable(root, drawn[:, 1], radius=7.0)
    return markup(root)


def _rim(root: ET.Element, card: Card) -> None:
    """Draw the card's graduated margin with its numbers."""
    for first in range(0, 360, 2 * GRADUATION_DEG):
        band = card.arc(first, first + GRADUATION_DEG, card.radius + BAND_PX / 2)
        add(root, "path", {"class": "line rim", "d": band, "stroke-width": BAND_PX})
    for at in (card.radius, card.rim):
        dot(root, "neat", card.middle, at)
    for number in range(0, 360, NUMBER_DEG):
        x, y = card.at(number, card.rim + 14.0)
        words(root, "meridian", (x, y + 4.5), f"{number:03d}")


def _weather(root: ET.Element, card: Card, fan: HeadingFan) -> None:
    """Mark wind, sun and waypoint where they stand round the card."""
    wind, waypoint = fan.wind_from_deg - fan.variation_deg, fan.toward_bearing_deg - fan.variation_deg
    stroke(root, "line wind", card.at(wind, card.rim + 52.0), card.at(wind, card.rim + 27.0))
    path(root, "wind-head", card.pointer(wind, card.rim + 24.0, card.rim + 34.0))
    path(root, "waypoint-head", card.pointer(waypoint, card.radius, card.rim - 21.0))
    if fan.sun_elevation_deg > 0.0:
        first, last = (azimuth - fan.variation_deg for azimuth in fan.sun_azimuth_deg)
        turn = (last - first + 180.0) % 360.0 - 180.0
        path(root, "line sun-path", card.arc(first, first + turn, card.rim + 32.0))
        dot(root, "solar", card.at(first + turn / 2, card.rim + 32.0), 6.0)


def _bearings(fan: HeadingFan) -> list[tuple[HeadingOption, float]]:
    """Return each heading and the bearing at which it is drawn: near one of the other tack it steps aside."""
    found = []
    for option in fan.options:
        others = [each.heading_magnetic_deg for each in fan.options if each.tack != option.tack]
        off = [(option.heading_magnetic_deg - other + 180.0) % 360.0 - 180.0 for other in others]
        nearest = min(off, key=abs, default=APART_DEG)
        aside = np.copysign(max(0.0, APART_DEG - abs(nearest)) / 2.0, nearest if abs(nearest) > 1e-9 else option.tack)
        found.append((option, option.heading_magnetic_deg + float(aside)))
    return found


def _option(
    root: ET.Element, card: Card, option: HeadingOption, at: float, radius: Radius
) -> tuple[PaperPoint, PaperPoint, PaperPoint]:
    """Draw a heading's spoke, bar and mark and return where bar and mark stand."""
    stroke(
        root,
        "line spoke drives" if _driven(option) else "line spoke",
        card.at(at, HUB * card.radius),
        card.at(at, card.radius),
    )
    spread = option.difference_wh
    low, planned, high = (card.at(at, radius(value)) for value in (spread.p10, spread.p50, spread.p90))
    whisker(root, "first" if option.tack > 0 else "second", (low, planned, high))
    return low, planned, high


def _ring_names(
    root: ET.Element, card: Card, fan: HeadingFan, named: Sequence[tuple[float, float]], drawn: Floats
) -> None:
    """Write the rings' values clear of marks, and of the margin if they can, near the middle of the widest gap."""
    headings = np.sort(np.array([option.heading_magnetic_deg for option in fan.options]) % 360.0)
    gaps = np.diff(np.append(headings, headings[0] + 360.0))
    middle = float(headings[np.argmax(gaps)] + gaps.max() / 2.0)
    taken: list[Edges] = [about((x, y), 2.5 * MARK_PX, 2.5 * MARK_PX) for x, y in drawn]
    for value, radius in named:
        name = f"{value:+g}".replace("-", MINUS) if value else "0"
        places = (card.at(middle + turn, radius) for turn in sorted(range(-180, 180, 2), key=abs))
        boxes = [(at, about(at, breadth(name), LINE_PX)) for at in places]
        boxes.sort(key=lambda each: not _within(card, each[1]))
        free = next((at for at, box in boxes if clear(box, taken)), None)
        if free is not None:
            taken.append(about(free, breadth(name), LINE_PX))
            words(root, "ring-name", (free[0], free[1] + 4.5), name)


def _within(card: Card, box: Edges) -> bool:
    """Return whether a box lies within the card's graduated margin."""
    (left, top, right, bottom), (x, y) = box, card.middle
    return float(np.hypot(max(x - left, right - x), max(y - top, bottom - y))) < card.radius
