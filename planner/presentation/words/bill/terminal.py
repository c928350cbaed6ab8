"""The daily charge schedule by watch, for a terminal and for a tired reader."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from typing import TYPE_CHECKING, Literal

from planner.domain.results.bill import Card, WatchRow
from planner.domain.results.figures import Spread
from planner.domain.results.plan import Day, Plan
from planner.domain.ship_clock import ShipOffset, offset_at
from planner.presentation.words.bill.card import (
    any_watch_sentences,
    apart_lines,
    card_rows,
    lapse_sentence,
    reading_sentence,
)
from planner.presentation.words.bill.failures import failure_sentence, refuge_lines
from planner.presentation.words.bill.sentences import (
    deferred_words,
    full_words,
    later_lines,
    may_run,
    never_shed,
    rung_words,
    shedding_turns,
    standing_sentence,
    stop_sentence,
    stress_words,
    usual_watch,
    wake_sentence,
    without_engine_from,
    without_engine_sentence,
)
from planner.presentation.words.cautions import cautions_of
from planner.presentation.words.notes import all_said, said
from planner.presentation.words.own_tracks import own_tracks_sentence
from planner.presentation.words.reserve_kept import kept_words
from planner.presentation.words.text import WIDTH, printed
from planner.presentation.words.wording import (
    bearing,
    boat_file_words,
    clock,
    date_words,
    days_sentence,
    duration,
    duration_span,
    moment_words,
    offset_words,
    plain,
    which_plan,
)

if TYPE_CHECKING:
    from rich.console import Group, RenderableType

INDENT = 7  # columns by which the words under a watch stand in
GAP = 2  # columns between one figure and the next
DAY = timedelta(hours=24)
LEGEND = (
    "hdg magnetic; wind from, true, and knots; bank at the start of the watch, planned (eight forecasts in ten); sun "
    "and load in Wh; drives 8/21: the engine drives the boat in so many forecasts."
)
REST = "The days after: --days all."
Justify = Literal["left", "right"]
COLUMNS: tuple[tuple[str, int, Justify], ...] = (
    ("from", 5, "left"),
    ("on watch", 8, "left"),
    ("hdg", 4, "right"),
    ("wind", 7, "right"),
    ("bank %", 12, "right"),
    ("sun", 4, "right"),
    ("load", 4, "right"),
    ("engine", 11, "left"),
    ("by the meter", 29, "left"),
)
SPARED_FIRST = ("hdg", "wind", "load", "sun")


def render(plan: Plan, *, width: int = WIDTH, all_days: bool = False) -> str:
    """Return the answer, the card and the schedule as plain text.

    Parameters
    ----------
    plan : Plan
    width : int
        Columns; lines are wrapped to it.
    all_days : bool
        Whether the schedule goes on after the first 24 hours.

    Returns
    -------
    str
        No escape codes and no characters beyond Latin-1; ends in a newline.
    """
    return printed(schedule(plan, width=width, all_days=all_days), width=width)


def schedule(plan: Plan, *, width: int = WIDTH, all_days: bool = False) -> Group:
    """Return the same for a rich console: the passage, the card, a table a day, prices, cautions.

    Parameters
    ----------
    plan : Plan
    width : int
        Columns of the console; where there are few, bearings, wind and energies are left out first.
    all_days : bool
        As for ``render``.

    Returns
    -------
    rich.console.Group
    """
    from rich.console import Group
    from rich.text import Text

    parts: list[RenderableType] = [*_head(plan)]
    if plan.card is not None:
        parts += _card(plan, plan.card)
    days = {day.day: day for day in plan.days}
    ends = plan.watches[0].start + DAY
    shown = [row for row in plan.watches if all_days or row.start < ends]
    for number, rows in groupby(shown, key=lambda row: row.day):
        parts += _day(plan, days[number], list(rows), columns=_fitting(width, with_ladder=plan.card is None))
    parts.append(Text(LEGEND if len(shown) == len(plan.watches) else f"{LEGEND} {REST}"))
    parts += [*_foot(plan)]
    return Group(*parts)


def _head(plan: Plan) -> Iterator[RenderableType]:
    from rich.text import Text

    offset = plan.ship_offset
    miles = sum(day.distance_nm for day in plan.days)
    yield Text(f"{plan.route[0].name} to {plan.route[-1].name}, {miles:.0f} nm", style="bold")
    yield Text(
        f"Departs {plain(moment_words(plan.passage.departure, offset))}, "
        f"arrives {plain(moment_words(plan.arrival, offset))}. "
        f"All times are ship's time, {plain(offset_words(offset))}. {plain(days_sentence(plan))}".rstrip()
    )
    yield Text(
        f"Reserve {round(100 * plan.boat.bank.reserve_soc)} % kept in {kept_words(plan)} "
        f"({round(100 * plan.reserve_kept.confidence)} % asked; held out from the ladders)."
    )
    yield Text(
        f"Engine {_hours(plan.engine_hours)}, to charge alone {_hours(plan.charging_hours)}; "
        f"fuel {plan.fuel_l.planned:.0f} L ({plan.fuel_l.p10:.0f}-{plan.fuel_l.p90:.0f})."
    )
    yield Text(
        f"Lowest bank {round(100 * plan.min_soc.planned)} % in the forecasts' mean weather, "
        f"{round(100 * plan.min_soc.p10)}-{round(100 * plan.min_soc.p90)} % in eight forecasts of ten."
    )
    if plan.card is None and (standing := standing_sentence(plan)):
        yield Text(plain(standing), style="bold")
    if plan.own_tracks is not None:
        yield Text(plain(own_tracks_sentence(plan, plan.own_tracks)))
    for warning in all_said(plan.warnings):
        yield Text(f"! {plain(warning)}", style="bold")


def _card(plan: Plan, card: Card) -> Iterator[RenderableType]:
    from rich.table import Table
    from rich.text import Text

    yield Text("")
    yield Text("Card for every day", style="bold underline")
    yield Text(plain(reading_sentence(card)))
    table = Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0))
    for heading in ("watch", "the meter shows", "run", "stop at", "amps after 10 min", "engine may run"):
        table.add_column(heading, overflow="fold")
    for row in card_rows(card):
        readings, actions = zip(*row.ladder, strict=True)
        table.add_row(
            *(
                plain(cell)
                for cell in (row.span, "\n".join(readings), "\n".join(actions), row.stop, row.amps, row.hours)
            )
        )
    yield table
    for sentence in any_watch_sentences(plan):
        yield Text(plain(sentence), style="bold")
    for line in apart_lines(plan, card):
        yield Text(plain(f"Not by the card: {line}"))
    yield Text(plain(lapse_sentence(plan)))


def _day(plan: Plan, day: Day, rows: list[WatchRow], *, columns: Sequence[int]) -> Iterator[RenderableType]:
    from rich.padding import Padding
    from rich.text import Text

    yield Text("")
    yield Text(
        f"Day {day.day}, from {plain(date_words(day.start, plan.ship_offset))} "
        f"{clock(day.start, plan.ship_offset)} ({plain(offset_words(offset_at(plan.ship_offset, day.start)))})",
        style="bold underline",
    )
    yield Text(
        f"sun {_wh(day.solar_wh)} Wh ({_wh_span(day.solar_wh)}), loads {_wh(day.load_wh)} Wh, "
        f"engine {plain(duration(60 * day.engine_h.planned))}"
        f"{''.join(f'; {plain(words)}' for words in [full_words(plan, day)] if words)}."
    )
    if plan.card is None:
        yield Text(plain(wake_sentence(usual_watch(rows))))
    yield Text(_dead_words(plan, rows[0]))
    yield _line([[heading] for heading, _, _ in COLUMNS], columns, style="bold")
    for row in rows:
        yield _line(_cells(plan, row), columns, style="bold" if row.engine_min else "")
        yield Padding(Text(_why(row, plan.ship_offset)), (0, 0, 0, INDENT))


def _fitting(width: int, *, with_ladder: bool) -> list[int]:
    """Return which columns to show, by index, in a console of a width."""
    shown = list(range(len(COLUMNS) if with_ladder else len(COLUMNS) - 1))
    for spared in SPARED_FIRST:
        if sum(COLUMNS[place][1] + GAP for place in shown) - GAP <= width:
            break
        shown = [place for place in shown if COLUMNS[place][0] != spared]
    return shown


def _line(cells: Sequence[Sequence[str]], columns: Sequence[int], *, style: str) -> RenderableType:
    """Set the lines of each column that is shown side by side."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), show_header=False, style=style)
    for place in columns:
        _, width, justify = COLUMNS[place]
        table.add_column(width=width, justify=justify, overflow="fold")
    table.add_row(*("\n".join(cells[place]) for place in columns))
    return table


def _cells(plan: Plan, row: WatchRow) -> list[list[str]]:
    return [
        [clock(row.start, plan.ship_offset)],
        [row.role],
        [bearing(row.heading_magnetic_deg)],
        [f"{bearing(row.wind_from_deg)} {round(row.wind_kn)}"],
        [_bank(row.soc)],
        [_wh(row.solar_wh)],
        [_wh(row.load_wh)],
        _engine(plan, row),
        _packed(_ladder(plan, row), COLUMNS[-1][1]),
    ]


def _ladder(plan: Plan, row: WatchRow) -> list[str]:
    """Return the rungs, the reading to stop at, and from when on where that is not from the change of watch."""
    if row.earliest is None:
        return ["under engine" if row.under_engine_min else "no run"]
    words = rung_words(row.ladder)
    if may_run(row):
        words.append(f"stop at {row.stop.soc_percent} %")
        if row.earliest > row.start:
            words.append(f"from {clock(row.earliest, plan.ship_offset)}")
    return words


def _packed(words: list[str], width: int) -> list[str]:
    """Join words with ' / ' into as few lines of a width as they need, none broken."""
    lines = [words[0]]
    for word in words[1:]:
        joined = f"{lines[-1]} / {word}"
        if len(joined) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines


def _why(row: WatchRow, offset: ShipOffset) -> str:
    words = [said(row.reason)]
    if row.engine_min:
        words.append(stop_sentence(row))
    if row.skip_cost_min:
        words.append(f"Skipping it costs {plain(duration(row.skip_cost_min))} later.")
    if row.deferrable:
        words.append(f"Run {deferred_words(row, offset)}.")
    return plain(" ".join(words))


def _engine(plan: Plan, row: WatchRow) -> list[str]:
    """Return when the engine runs in a watch on the planned course, a run a line."""
    spans = []
    for window in plan.windows:
        begin, end = max(window.start, row.start), min(window.stop, row.end)
        if begin < end:
            spans += [_span(begin, end, plan.ship_offset), *(["drives"] if window.propels else [])]
    if row.drives_in is not None and row.drives_in.k:
        spans.append(f"drives {row.drives_in.k}/{row.drives_in.n}")
    return spans or ["none"]


def _dead_words(plan: Plan, row: WatchRow) -> str:
    words = without_engine_sentence(without_engine_from(plan, row.start), plan.ship_offset)
    if row.dead.hours_left is None:
        return plain(words)
    if row.dead.find_out_by is None:
        return plain(f"{words} Shedding loads is not enough to arrival.")
    known_by = moment_words(row.dead.find_out_by, plan.ship_offset)
    return plain(f"{words} Shed all that may be by {known_by}, and the reserve is kept.")


def _shed_words(plan: Plan) -> str:
    """Return the shedding order, loads of one order together, and what stays on."""
    turns = [f"{order} {names}" for order, names in shedding_turns(plan)]
    never = never_shed(plan)
    shed = "; ".join(turns) or "nothing"
    return f"{shed}. Never: {never}." if never else f"{shed}."


def _foot(plan: Plan) -> Iterator[RenderableType]:
    from rich.text import Text

    if later := later_lines(plan):
        yield Text("")
        yield Text("If still at sea then", style="bold")
        for when, words in later:
            yield Text(plain(f"- {when}: {words}"))
    yield Text("")
    yield Text("Price of an hour's use of each load, in engine minutes; in brackets its day's", style="bold")
    dear = [price for price in plan.prices if round(price.engine_min_per_day) >= 1]
    priced = (f"{price.name} {price.engine_min_per_hour:.0f} ({price.engine_min_per_day:.0f})" for price in dear)
    yield Text(", ".join(priced) or "under a minute")
    if plan.failures is not None:
        yield Text("")
        yield Text("If something fails at the start; the report's failure card has more", style="bold")
        for line in plan.failures.lines:
            yield Text(plain(f"- {failure_sentence(plan, line)}"))
        for words in refuge_lines(plan):
            yield Text(plain(f"- {words}"))
    if plan.stresses:
        yield Text("")
        yield Text("In trouble that the forecast does not hold, the ladders followed", style="bold")
        for stress in plan.stresses:
            yield Text(plain(f"- {stress_words(plan, stress)}"))
    yield Text("")
    yield Text("To shed if the engine is dead, in this order", style="bold")
    yield Text(_shed_words(plan))
    yield Text("")
    yield Text("Cautions", style="bold")
    for caution in cautions_of(plan):
        yield Text(plain(f"- {caution}"))
    yield Text("")
    yield Text(plain(f"{which_plan(plan)} Boat file {boat_file_words(plan)}."))


def _span(begin: datetime, end: datetime, offset: ShipOffset) -> str:
    return f"{clock(begin, offset)}-{clock(end, offset)}"


def _bank(soc: Spread) -> str:
    low, high = round(100 * soc.p10), round(100 * soc.p90)
    return f"{round(100 * soc.planned)} ({low})" if low == high else f"{round(100 * soc.planned)} ({low}-{high})"


def _hours(hours: Spread) -> str:
    return plain(f"{duration(60 * hours.planned)} ({duration_span(hours)})")


def _wh(energy: Spread) -> str:
    return str(10 * round(energy.planned / 10))


def _wh_span(energy: Spread) -> str:
    return f"{10 * round(energy.p10 / 10)}-{10 * round(energy.p90 / 10)}"
