"""The daily charge schedule by watch, for a terminal and for a tired reader."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import groupby
from typing import TYPE_CHECKING

from planner.domain.results import Day, Plan, Spread, WatchRow
from planner.presentation.bill_words import hours_left_words, plain, rung_words, stop_sentence
from planner.presentation.wording import (
    bearing,
    clock,
    date_words,
    duration,
    duration_span,
    moment_words,
    offset_words,
)

if TYPE_CHECKING:
    from rich.console import Group, RenderableType

WIDTH = 100  # columns that the schedule is laid out for


def render(plan: Plan, *, width: int = WIDTH) -> str:
    """Return the schedule as plain text.

    Parameters
    ----------
    plan : Plan
    width : int
        Columns; lines are wrapped to it.

    Returns
    -------
    str
        No escape codes and no characters beyond Latin-1; ends in a newline.
    """
    from rich.console import Console

    page = io.StringIO()
    console = Console(file=page, width=width, color_system=None, force_terminal=False, highlight=False)
    console.print(schedule(plan))
    return "\n".join(line.rstrip() for line in page.getvalue().splitlines()) + "\n"


def schedule(plan: Plan) -> Group:
    """Return the schedule for a rich console: the passage, a table a day, prices, cautions.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    rich.console.Group
    """
    from rich.console import Group

    parts: list[RenderableType] = [*_head(plan)]
    days = {day.day: day for day in plan.days}
    for number, rows in groupby(plan.watches, key=lambda row: row.day):
        parts += _day(plan, days[number], list(rows))
    parts += [*_foot(plan)]
    return Group(*parts)


def _head(plan: Plan) -> Iterator[RenderableType]:
    from rich.text import Text

    offset = plan.ship_offset
    kept = plan.reserve_kept
    miles = sum(day.distance_nm for day in plan.days)
    yield Text(f"{plan.route[0].name} to {plan.route[-1].name}, {miles:.0f} nm", style="bold")
    yield Text(
        f"Departs {plain(moment_words(plan.passage.departure, offset))}, "
        f"arrives {plain(moment_words(plan.arrival, offset))}. "
        f"All times are ship's time, {plain(offset_words(offset))}; headings are magnetic, wind true."
    )
    yield Text(
        f"Engine {_hours(plan.engine_hours)}, of which only to charge {_hours(plan.charging_hours)}; "
        f"fuel {plan.fuel_l.planned:.0f} L ({plan.fuel_l.p10:.0f}-{plan.fuel_l.p90:.0f})."
    )
    yield Text(
        f"Lowest bank {_percent(plan.min_soc)}. Reserve {round(100 * plan.boat.bank.reserve_soc)} % kept in "
        f"{kept.kept} of {kept.members} forecasts held out (asked: {round(100 * kept.confidence)} %)."
    )
    for warning in plan.warnings:
        yield Text(f"! {plain(warning)}", style="bold")


def _day(plan: Plan, day: Day, rows: list[WatchRow]) -> Iterator[RenderableType]:
    from rich.padding import Padding
    from rich.text import Text

    yield Text("")
    yield Text(
        f"Day {day.day}, from {plain(date_words(day.start, plan.ship_offset))} "
        f"{clock(day.start, plan.ship_offset)} ({plain(offset_words(plan.ship_offset))})",
        style="bold underline",
    )
    yield Text(
        f"sun {_wh(day.solar_wh)} Wh ({_wh_span(day.solar_wh)}), loads {_wh(day.load_wh)} Wh, "
        f"engine {plain(duration(60 * day.engine_h.planned))}. "
        f"Wake the skipper below {rows[0].wake_soc_percent} % or {min(row.wake_v for row in rows):.1f} V."
    )
    yield Text(_dead_words(plan, rows[0]))
    yield _table(plan, rows)
    for row in rows:
        yield Padding(Text(_why(plan, row)), (0, 0, 0, 2))


def _table(plan: Plan, rows: list[WatchRow]) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for heading, justify, least in (
        ("watch", "left", 11),
        ("who", "left", 4),
        ("head M", "right", 6),
        ("wind", "right", 8),
        ("bank % (p10-90)", "right", 10),
        ("sun Wh", "right", 5),
        ("load Wh", "right", 5),
        ("engine", "left", 11),
        ("reading %: run", "left", 16),
    ):
        table.add_column(heading, justify=justify, min_width=least, no_wrap=heading != "bank % (p10-90)")
    for row in rows:
        table.add_row(
            _span(row.start, row.end, plan.ship_offset),
            row.role,
            bearing(row.heading_magnetic_deg),
            f"{bearing(row.wind_from_deg)} {round(row.wind_kn)}",
            _bank(row.soc),
            _wh(row.solar_wh),
            _wh(row.load_wh),
            Text(_engine(plan, row), style="bold" if row.engine_min else ""),
            "\n".join(_ladder(plan, row)),
        )
    return table


def _ladder(plan: Plan, row: WatchRow) -> list[str]:
    """Return the lines of the ladder; two rungs share one."""
    if row.earliest is None:
        return ["under engine" if row.under_engine_min else "no run"]
    words = rung_words(row.ladder)
    pairs = [" / ".join(words[place : place + 2]) for place in range(0, len(words), 2)]
    if row.earliest > row.start:
        pairs[-1] += f" from {clock(row.earliest, plan.ship_offset)}"
    return pairs


def _why(plan: Plan, row: WatchRow) -> str:
    words = [f"{clock(row.start, plan.ship_offset)}  {row.reason}"]
    if row.engine_min:
        words.append(stop_sentence(row))
    if row.skip_cost_min:
        words.append(f"Skipping it costs {plain(duration(row.skip_cost_min))} later.")
    if row.deferrable:
        words.append(f"Run the {' and the '.join(row.deferrable)}.")
    return plain(" ".join(words))


def _engine(plan: Plan, row: WatchRow) -> str:
    """Return when the engine runs in a watch on the planned course."""
    spans = []
    for window in plan.windows:
        begin, end = max(window.start, row.start), min(window.stop, row.end)
        if begin < end:
            spans.append(_span(begin, end, plan.ship_offset) + (" drives" if window.propels else ""))
    return "\n".join(spans) or "-"


def _dead_words(plan: Plan, row: WatchRow) -> str:
    words = f"Engine dead at {clock(row.start, plan.ship_offset)}: {hours_left_words(row)}"
    if row.dead.hours_left is None:
        return f"{words}."
    shed = [price.name for price in sorted(plan.prices, key=lambda price: price.shed_order or 0) if price.shed_order]
    if not shed:
        return f"{words}; nothing may be shed."
    if row.dead.find_out_by is None:
        return f"{words}; shedding {', '.join(shed)} is not enough to arrival."
    return f"{words}; shed {', '.join(shed)} by {plain(moment_words(row.dead.find_out_by, plan.ship_offset))}."


def _foot(plan: Plan) -> Iterator[RenderableType]:
    from rich.text import Text

    yield Text("")
    yield Text("Price of four hours of each load, in engine minutes", style="bold")
    dear = [price for price in plan.prices if round(price.engine_min_per_watch) >= 1]
    yield Text(", ".join(f"{price.name} {round(price.engine_min_per_watch)}" for price in dear) or "under a minute")
    yield Text("")
    yield Text("Cautions", style="bold")
    for caution in plan.cautions:
        yield Text(plain(f"- {caution}"))


def _span(begin: datetime, end: datetime, offset: timedelta) -> str:
    return f"{clock(begin, offset)}-{clock(end, offset)}"


def _bank(soc: Spread) -> str:
    return f"{round(100 * soc.planned)} ({round(100 * soc.p10)}-{round(100 * soc.p90)})"


def _percent(soc: Spread) -> str:
    return f"{round(100 * soc.planned)} % ({round(100 * soc.p10)}-{round(100 * soc.p90)})"


def _hours(hours: Spread) -> str:
    return plain(f"{duration(60 * hours.planned)} ({duration_span(hours)})")


def _wh(energy: Spread) -> str:
    return str(10 * round(energy.planned / 10))


def _wh_span(energy: Spread) -> str:
    return f"{10 * round(energy.p10 / 10)}-{10 * round(energy.p90 / 10)}"
