"""The smallest order of a forecast that a plan is served by, and how it is thinned to keep a limit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import ceil, floor
from typing import Any, Final, Literal

from planner.domain.errors import Fault, InputError
from planner.domain.results.request import Area, ForecastRequest, Thinned, WantedVariable
from planner.readers.forecast.grids.grid import CIRCLE_DEG, POLE_DEG, Corridor
from planner.readers.forecast.terms import TERMS

RAIN: Final = "rain_mm_h"
BITS: Final = {
    # wind to .1 m/s over 100 m/s, air to .25 K over 64 K, sunlight to 1 W/m2 over 2000, rain to .2 mm/h over 50
    **dict.fromkeys(("wind_east_m_s", "wind_north_m_s"), 10),
    "air_temp_c": 8,
    "ghi_w_m2": 11,
    RAIN: 8,
    **dict.fromkeys(("current_east_m_s", "current_north_m_s"), 8),  # to .05 m/s over 10 m/s
}
CURRENTS: Final = ("current_east_m_s", "current_north_m_s")
# bytes of a message beside its values, WMO FM 92 GRIB edition 2: sections 0, 1, 3 (template 3.0), 5 (5.0), 6, 7, 8
FRAME_BYTES: Final = 16 + 21 + 72 + 21 + 6 + 5 + 4
# section 4: templates 4.0, 4.8 of a single run, 4.1, 4.11 of a member; at a moment, over a span
PRODUCT_BYTES: Final = {(False, "moments"): 34, (False, "spans"): 58, (True, "moments"): 37, (True, "spans"): 61}
LONGEST_H: Final = 384.0  # h; forecasts that anybody may have reach 10 to 16 days (common practice)


@dataclass(frozen=True)
class _Order:
    """An order's choices."""

    spacing_deg: float = 0.25
    step_h: float = 3.0
    members: int = 21
    rain: int = 1
    hours: float = LONGEST_H


_THINNINGS: Final[tuple[tuple[Literal["rain", "spacing_deg", "members", "step_h", "hours"], float], ...]] = (
    ("rain", 0),  # a plan does without: dirt stays on
    ("spacing_deg", 0.5),  # along a day's sail the light errs by 4 %, then by 6 and 10 % (test_forecast_request.py)
    ("members", 11),  # the spread is known less closely, its middle hardly
    ("step_h", 6.0),  # wind between is interpolated, sunlight follows the sun within its span
    ("spacing_deg", 1.0),
    ("members", 1),  # outcomes are drawn of a single run's measured doubt
    ("spacing_deg", 2.0),
    ("hours", 120.0),  # beyond some five days a run tells little more than the season does
    ("step_h", 12.0),
)
"""What is taken away in turn until a limit is kept: what a plan misses least goes first, by judgement."""


def smallest_request(
    passage: str,
    corridor: Corridor,
    span: tuple[datetime, datetime],
    *,
    currents: bool,
    most_bytes: int | None,
) -> ForecastRequest:
    """Return what to ask a forecast service for.

    Parameters
    ----------
    passage : str
        Name of its file, for the result.
    corridor : (south, north, west, east)
        East above west, and may exceed 180 [degree].
    span : (start, end) of datetime
        UTC, of the passage.
    currents : bool
        Whether the passage takes its current from the forecast.
    most_bytes : int or None
        That it may have when packed.

    Raises
    ------
    InputError
        When the smallest of use is larger.
    """
    order, thinned = _Order(), []
    request = _request(passage, corridor, span, order, currents=currents)
    for what, after in _THINNINGS:
        if most_bytes is None or request.kilobytes * 1000.0 <= most_bytes:
            break
        before = request.hours if what == "hours" else getattr(order, what)
        if after < before or (what in {"spacing_deg", "step_h"} and after > before):
            changed: dict[str, Any] = {what: after}
            order = replace(order, **changed)
            request = _request(passage, corridor, span, order, currents=currents)
            thinned.append(Thinned(what, float(before), float(after)))
    if most_bytes is not None and request.kilobytes * 1000.0 > most_bytes:
        area = request.area
        problem = (
            f"the smallest order of use is of {ceil(request.kilobytes)} kB, and {most_bytes / 1000.0:g} kB are "
            f"allowed: a single run, {area.rows} by {area.columns} points every {request.spacing_deg:g} degrees, "
            f"{request.times} times every {request.step_h:g} h, {len(request.variables)} variables."
        )
        remedy = "Allow for that, or type the weather of a bulletin by hand: [[weather]] rows need no file."
        raise InputError([Fault("--limit", "", problem, remedy)])
    limit = None if most_bytes is None else most_bytes / 1000.0
    return replace(request, limit_kilobytes=limit, thinned=tuple(thinned))


def _request(
    passage: str, corridor: Corridor, span: tuple[datetime, datetime], order: _Order, *, currents: bool
) -> ForecastRequest:
    area = _area(corridor, order.spacing_deg)
    step = timedelta(hours=order.step_h)
    first = _down(span[0], step)
    wanted = -(-(span[1] - first) // step)
    steps = min(wanted, floor(order.hours / order.step_h))
    quantities = [name for name in BITS if name != RAIN or order.rain]
    variables = tuple(_wanted(name) for name in quantities if currents or name not in CURRENTS)
    points, several = area.rows * area.columns, order.members > 1
    size = sum(
        (FRAME_BYTES + PRODUCT_BYTES[several, each.holds] + ceil(points * each.bits / 8))
        * (steps + (each.holds == "moments"))
        for each in variables
    )
    return ForecastRequest(
        passage=passage,
        area=area,
        spacing_deg=order.spacing_deg,
        first=first,
        last=first + steps * step,
        step_h=order.step_h,
        times=steps + 1,
        hours=steps * order.step_h,
        members=order.members,
        variables=variables,
        kilobytes=size * order.members / 1000.0,
        limit_kilobytes=None,
        thinned=(),
        cut_short=steps < wanted,
    )


def _wanted(quantity: str) -> WantedVariable:
    term = TERMS[quantity]
    holds: Literal["moments", "spans"] = "moments" if term.flux is None else "spans"
    return WantedVariable(term.words, term.standard_names[0], term.height_m, holds, BITS[quantity])


def _area(corridor: Corridor, spacing: float) -> Area:
    """Return the corridor widened to nodes of a grid that has one at 0 N 0 E."""
    low = [floor(edge / spacing) for edge in (max(corridor[0], -POLE_DEG), corridor[2])]
    high = [ceil(edge / spacing) for edge in (min(corridor[1], POLE_DEG), corridor[3])]
    high[1] = min(high[1], low[1] + round(CIRCLE_DEG / spacing) - 1)
    west, east = low[1] * spacing, high[1] * spacing
    half = 0.5 * CIRCLE_DEG
    return Area(
        south=low[0] * spacing,
        north=high[0] * spacing,
        west=(west + half) % CIRCLE_DEG - half,
        east=(east + half) % CIRCLE_DEG - half,
        west_360=west % CIRCLE_DEG,
        east_360=east % CIRCLE_DEG,
        rows=high[0] - low[0] + 1,
        columns=high[1] - low[1] + 1,
    )


def _down(moment: datetime, step: timedelta) -> datetime:
    """Return the last time of the day's steps at or before a moment."""
    midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight + (moment - midnight) // step * step
