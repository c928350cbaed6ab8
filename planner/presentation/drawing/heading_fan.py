"""The heading fan: round a compass card, what each heading of one watch wins or costs beside the planned one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.domain.results.studies import HeadingFan, HeadingOption
from planner.presentation.drawing.svg import add, markup, numbers, picture, polyline
from planner.presentation.drawing.whiskers import even_ticks
from planner.presentation.words.content import Figure
from planner.presentation.words.headings import TACKS, answer, magnetic, miles, options_table, signed, turn_words
from planner.presentation.words.wording import EN_DASH, bearing, clock, date_words, duration

Radius = Callable[[float], float]

HUB = 0.24  # of the card's radius: the lowest value lies there, the boat within
BAND_PX = 7.0
GRADUATION_DEG = 10
NUMBER_DEG = 30
MOST_RINGS = 4
LEAST_REACH_WH = 20.0  # Wh; so that differences worth nothing lie close to the planned ring
MARK_PX = 5.0
APART_DEG = 1.6  # degree; by which two gybes of one heading step aside
HULL = ((0.0, -15.0), (5.0, -4.0), (5.5, 6.0), (4.0, 12.0), (-4.0, 12.0), (-5.5, 6.0), (-5.0, -4.0))  # px, bow up


@dataclass(frozen=True)
class Card:
    """The paper: breadth of the square and radius of the card [px]."""

    name: str
    width: float
    radius: float

    def at(self, bearing_deg: float, radius: float) -> tuple[float, float]:
        """Return where a bearing and a distance from the middle lie."""
        angle = np.radians(bearing_deg)
        return self.width / 2 + radius * float(np.sin(angle)), self.width / 2 - radius * float(np.cos(angle))

    def arc(self, first_deg: float, last_deg: float, radius: float) -> str:
        """Return the path along a circle from one bearing to another."""
        turn = np.arange(first_deg, last_deg, np.copysign(3.0, last_deg - first_deg))
        x, y = np.array([self.at(float(each), radius) for each in (*turn, last_deg)]).T
        return polyline(x, y)


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
            f"Of the first two days this watch has most sun, so that a heading counts for most in it. {answer(fan)} "
            "Wind, sea and traffic decide what may be steered."
        ),
        caption=(
            "Compass card, magnetic, north up. Outside the heavy ring a heading brings more than the planned one, "
            "inside less [Wh of sun less steering over these hours]; bars hold eight forecasts in ten. "
            f"{_surroundings(fan)}"
        ),
        legend=(
            ("dot mark first", "starboard tack"),
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
        words += f"{option.solar_wh.planned:.0f} Wh of sun"
    else:
        words += f"{signed(option.difference_wh)} Wh, {miles(option)}"
    words += f"; {option.speed_kn:.1f} kn"
    return f"{words}, engine drives {duration(60.0 * option.engine_driving_h)}" if _driven(option) else words


def _draw(card: Card, fan: HeadingFan) -> Markup:
    values = [v for o in fan.options for v in (o.difference_wh.planned, o.difference_wh.p10, o.difference_wh.p90)]
    rings = even_ticks(min([-LEAST_REACH_WH, *values]), max([LEAST_REACH_WH, *values]), MOST_RINGS)

    def radius(value: float) -> float:
        share = (value - rings[0]) / (rings[-1] - rings[0])
        return card.radius * (HUB + (0.96 - HUB) * share)

    low, high = (pick(option.difference_wh.planned for option in fan.options) for pick in (min, max))
    label = (
        f"Headings on a compass card, {low:.0f} to {high:.0f} watt-hours beside the planned one. Its table follows."
    )
    root = picture(card.width, card.width, label=label, css=f"fan {card.name}")
    middle = card.width / 2
    for ring in rings:
        css = "planned-ring" if abs(ring) < 1e-9 * (rings[-1] - rings[0]) else "grid"
        add(root, "circle", {"class": f"line {css}", "cx": middle, "cy": middle, "r": radius(ring)})
    _rim(root, card)
    _weather(root, card, fan)
    places = np.array([_option(root, card, option, fan, radius) for option in fan.options])
    _ring_names(root, card, fan, [(ring, radius(ring)) for ring in rings])
    heading = fan.planned.heading_magnetic_deg
    hull = add(root, "g", {"transform": f"translate({middle:.0f} {middle:.0f}) rotate({heading:.0f})"})
    add(hull, "path", {"class": "bow", "d": _outline(np.array(HULL))})
    root.set("data-x", numbers(places[:, 0]))
    root.set("data-y", numbers(places[:, 1]))
    add(add(root, "g", {"class": "cursor"}), "circle", {"cx": 0.0, "cy": 0.0, "r": 7.0})
    return markup(root)


def _rim(root: ET.Element, card: Card) -> None:
    """Draw the card's graduated margin with its numbers."""
    rim = card.radius + BAND_PX
    for first in range(0, 360, 2 * GRADUATION_DEG):
        band = card.arc(first, first + GRADUATION_DEG, card.radius + BAND_PX / 2)
        add(root, "path", {"class": "line rim", "d": band, "stroke-width": BAND_PX})
    for at in (card.radius, rim):
        add(root, "circle", {"class": "neat", "cx": card.width / 2, "cy": card.width / 2, "r": at})
    for number in range(0, 360, NUMBER_DEG):
        x, y = card.at(number, rim + 14.0)
        add(root, "text", {"class": "meridian", "x": x, "y": y + 4.5}, f"{number:03d}")


def _weather(root: ET.Element, card: Card, fan: HeadingFan) -> None:
    """Mark wind, sun and waypoint where they stand round the card."""
    rim = card.radius + BAND_PX
    wind = fan.wind_from_deg - fan.variation_deg
    tail, head = card.at(wind, rim + 52.0), card.at(wind, rim + 27.0)
    add(root, "path", {"class": "line wind", "d": polyline(*np.array([tail, head]).T)})
    add(root, "path", {"class": "wind-head", "d": _outline(_triangle(card, wind, rim + 24.0, rim + 34.0))})
    waypoint = fan.toward_bearing_deg - fan.variation_deg
    add(root, "path", {"class": "waypoint-head", "d": _outline(_triangle(card, waypoint, card.radius, rim - 21.0))})
    if fan.sun_elevation_deg > 0.0:
        first, last = fan.sun_azimuth_deg
        first -= fan.variation_deg
        turn = (last - fan.variation_deg - first + 180.0) % 360.0 - 180.0
        add(root, "path", {"class": "line sun-path", "d": card.arc(first, first + turn, rim + 32.0)})
        x, y = card.at(first + turn / 2, rim + 32.0)
        add(root, "circle", {"class": "solar", "cx": x, "cy": y, "r": 6.0})


def _option(
    root: ET.Element, card: Card, option: HeadingOption, fan: HeadingFan, radius: Radius
) -> tuple[float, float]:
    """Draw a heading's spoke, bar and mark and return where the mark stands."""
    at = option.heading_magnetic_deg
    if any(abs(other.turn_deg - option.turn_deg) < APART_DEG for other in fan.options if other is not option):
        at += APART_DEG * option.tack
    spread, css = option.difference_wh, "first" if option.tack > 0 else "second"

    def along(first: float, last: float) -> str:
        return polyline(*np.array([card.at(at, first), card.at(at, last)]).T)

    spoke = "line spoke drives" if _driven(option) else "line spoke"
    add(root, "path", {"class": spoke, "d": along(HUB * card.radius, card.radius)})
    add(root, "path", {"class": f"whisker {css}", "d": along(radius(spread.p10), radius(spread.p90))})
    x, y = card.at(at, radius(spread.planned))
    if option.tack > 0:
        add(root, "circle", {"class": "mark first", "cx": x, "cy": y, "r": MARK_PX})
    else:
        corner = {"x": x - MARK_PX, "y": y - MARK_PX, "width": 2.0 * MARK_PX, "height": 2.0 * MARK_PX}
        add(root, "rect", {"class": "mark second", **corner})
    return x, y


def _ring_names(root: ET.Element, card: Card, fan: HeadingFan, rings: list[tuple[float, float]]) -> None:
    """Write the rings' values along the middle of the widest gap between headings."""
    taken = np.sort(np.array([option.heading_magnetic_deg for option in fan.options]) % 360.0)
    gaps = np.diff(np.append(taken, taken[0] + 360.0))
    widest = int(np.argmax(gaps))
    at = float(taken[widest] + gaps[widest] / 2.0)
    for value, radius in rings:
        x, y = card.at(at, radius)
        name = f"{value:+g}".replace("-", "\N{MINUS SIGN}") if value else "0"
        add(root, "text", {"class": "ring-name", "x": x, "y": y + 4.5}, name)


def _triangle(card: Card, bearing_deg: float, tip: float, base: float) -> Floats:
    """Return the corners of a pointer along a bearing, (3, 2)."""
    half_deg = float(np.degrees(6.0 / base))
    return np.array(
        [card.at(bearing_deg, tip), card.at(bearing_deg - half_deg, base), card.at(bearing_deg + half_deg, base)]
    )


def _outline(corners: Floats) -> str:
    return polyline(corners[:, 0], corners[:, 1]) + "Z"
