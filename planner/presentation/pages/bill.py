"""The watch bill as the page shows it: rows of words, and one page a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from planner.domain.results.bill import WatchRow
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipOffset, offset_at
from planner.presentation.words.bill.card import (
    CardRow,
    any_watch_sentences,
    apart_lines,
    card_rows,
    lapse_sentence,
    own_ladder,
    reading_sentence,
    start_checks,
)
from planner.presentation.words.bill.sentences import (
    deferred_words,
    full_words,
    later_lines,
    low_volts_words,
    may_run,
    never_shed,
    shedding_turns,
    standing_sentence,
    usual_watch,
    without_engine_from,
    without_engine_sentence,
)
from planner.presentation.words.hours import DAY_H, hours_of, nights
from planner.presentation.words.notes import said
from planner.presentation.words.wording import (
    EN_DASH,
    NO_BREAK,
    bearing,
    clock,
    date_words,
    days_sentence,
    duration,
    ladder_action,
    ladder_lines,
    latitude,
    longitude,
    moment_words,
    offset_words,
    percent,
    percent_span,
    stop_lines,
    tens,
    which_plan,
    whole,
)

NOTHING = "\N{EM DASH}"


@dataclass(frozen=True)
class BillRow:
    """One watch in words; names follow the columns."""

    date: str
    span: str
    role: str
    heading: str
    wind: str
    tack: str
    bank: str
    bank_span: str
    solar: str
    load: str
    engine: str
    drives: str
    ladder: tuple[tuple[str, str], ...]
    stop: tuple[str, ...]
    current: str
    wake: tuple[str, str, str]
    dead: str
    find_out: str
    deferrable: str
    own_ladder: str
    reason: str


@dataclass(frozen=True)
class BillPage:
    """One day's page.

    Attributes
    ----------
    day : int
        Of the passage, from 1.
    of_days : int
        How many there are.
    opening : str
        Ship's date and time of its first watch.
    clocks : str
        What ship's time is, with an example in UTC.
    whereabouts, sun : str
        Position and miles at the start; sunrise and sunset.
    full : str
        A lead bank's days since full and its time at float.
    rows : tuple of BillRow
        Its watches.
    wake, low_volts : str
        When to wake the skipper: by the meter, and whatever it shows.
    without_engine : str
        How long the bank lasts if the engine is dead from the first watch on.
    standing : str
        What holds in every watch once the reserve is near.
    later : tuple of (str, str)
        On the last page, the watches past the planned arrival.
    which_plan : str
        What tells it from another plan's.
    """

    day: int
    of_days: int
    opening: str
    clocks: str
    whereabouts: str
    sun: str
    full: str
    rows: tuple[BillRow, ...]
    wake: str
    low_volts: str
    without_engine: str
    standing: str
    later: tuple[tuple[str, str], ...]
    which_plan: str


@dataclass(frozen=True)
class CardPage:
    """The card on a page of its own.

    Attributes
    ----------
    opening : str
        From when it holds.
    reading : str
        How it is read.
    rows : tuple of CardRow
        A line a watch of the day.
    any_watch : tuple of str
        What holds in all of them.
    apart : tuple of str
        Watches with a ladder of their own.
    lapse : str
        What ends it.
    checks : (str, str)
        Before a start, and after it.
    which_plan : str
        What tells it from another plan's.
    """

    opening: str
    reading: str
    rows: tuple[CardRow, ...]
    any_watch: tuple[str, ...]
    apart: tuple[str, ...]
    lapse: str
    checks: tuple[str, str]
    which_plan: str


@dataclass(frozen=True)
class Shedding:
    """What to shed with a dead engine, in which order, and what each load costs; the same on every page."""

    order: tuple[tuple[int, str], ...]
    never: str
    prices: tuple[tuple[str, str], ...]


def card_page(plan: Plan) -> CardPage | None:
    """Return the card's page; None where every watch has a ladder of its own."""
    if plan.card is None:
        return None
    return CardPage(
        opening=f"from {moment_words(plan.passage.departure, plan.ship_offset)} to the next plan",
        reading=reading_sentence(plan.card),
        rows=card_rows(plan.card),
        any_watch=any_watch_sentences(plan),
        apart=apart_lines(plan, plan.card),
        lapse=lapse_sentence(plan),
        checks=start_checks(plan),
        which_plan=which_plan(plan),
    )


def first_day(plan: Plan) -> tuple[BillRow, ...]:
    """Return the watches that begin in the 24 hours from departure."""
    if not plan.watches:
        return ()
    end = plan.watches[0].start + timedelta(hours=DAY_H)
    return tuple(bill_row(plan, watch) for watch in plan.watches if watch.start < end)


def pages(plan: Plan) -> tuple[BillPage, ...]:
    """Return a page for each day of the passage that has a watch."""
    return tuple(_page(plan, list(rows)) for _, rows in groupby(plan.watches, key=lambda watch: watch.day))


def shedding(plan: Plan) -> Shedding:
    """Return the order of shedding and the prices from a minute up, dearest first."""
    dearest = sorted(plan.prices, key=lambda price: price.engine_min_per_hour, reverse=True)
    return Shedding(
        order=shedding_turns(plan),
        never=never_shed(plan),
        prices=tuple(
            (price.name, f"{whole(price.engine_min_per_hour)} min")
            for price in dearest
            if round(price.engine_min_per_hour)
        ),
    )


def bill_row(plan: Plan, watch: WatchRow) -> BillRow:
    """Return one watch in words."""
    offset, charges = plan.ship_offset, may_run(watch)
    apart = plan.card is not None and any(plan.watches[index].start == watch.start for index in plan.card.apart)
    return BillRow(
        date=date_words(watch.start, offset),
        span=f"{clock(watch.start, offset)}{EN_DASH}{clock(watch.end, offset)}",
        role=watch.role,
        heading=f"{bearing(watch.heading_magnetic_deg)} M",
        wind=f"{bearing(watch.wind_from_deg)}{NO_BREAK}T{NO_BREAK}{whole(watch.wind_kn)}{NO_BREAK}kn",
        tack="starboard tack" if watch.tack > 0 else "port tack",
        bank=percent(watch.soc.planned),
        bank_span=percent_span(watch.soc),
        solar=f"{tens(watch.solar_wh.planned)}{NO_BREAK}in",
        load=f"{tens(watch.load_wh.planned)}{NO_BREAK}out",
        engine=_engine(watch, offset),
        drives=f"drives in {watch.drives_in.k} of {watch.drives_in.n}"
        if watch.drives_in is not None and watch.drives_in.k
        else "",
        ladder=tuple(ladder_lines(watch.ladder)) if charges else (("any", _no_ladder(watch)),),
        stop=stop_lines(watch.stop) if charges else (NOTHING,),
        current=NOTHING
        if watch.charge_current_a is None or not charges
        else f"{whole(watch.charge_current_a)}{NO_BREAK}A",
        wake=(
            f"{watch.wake_soc_percent}{NO_BREAK}% or less",
            f"or below {watch.wake_v:.2f}{NO_BREAK}V",
            f"at up to {watch.wake_a:.0f}{NO_BREAK}A",
        ),
        dead="lasts to arrival"
        if watch.dead.hours_left is None
        else f"{whole(watch.dead.hours_left)}{NO_BREAK}h{NO_BREAK}left",
        find_out="" if watch.dead.find_out_by is None else _find_out(watch, watch.dead.find_out_by, offset),
        deferrable=deferred_words(watch, offset),
        own_ladder=own_ladder(watch) if apart else "",
        reason=said(watch.reason)
        + (f" Skipped, it costs {duration(watch.skip_cost_min)} later." if watch.skip_cost_min > 0 else ""),
    )


def _no_ladder(watch: WatchRow) -> str:
    if watch.earliest is not None:
        return ladder_action(0)
    return "under engine" if watch.under_engine_min else "no charging"


def _find_out(watch: WatchRow, moment: datetime, offset: ShipOffset) -> str:
    date = date_words(moment, offset)
    weekday = "" if date == date_words(watch.start, offset) else date.split()[0] + NO_BREAK
    return f"know by {weekday}{clock(moment, offset)}"


def _engine(watch: WatchRow, offset: ShipOffset) -> str:
    parts = []
    if watch.engine_min:
        parts.append(f"charge {duration(watch.engine_min)}")
        if watch.earliest is not None and watch.earliest > watch.start:
            parts[0] += f", not before {clock(watch.earliest, offset)}"
    if watch.under_engine_min:
        parts.append(f"drives {duration(watch.under_engine_min)}")
    return "; ".join(parts) or "none"


def _page(plan: Plan, watches: list[WatchRow]) -> BillPage:
    hours, offset = hours_of(plan), plan.ship_offset
    start = watches[0].start
    step = min(max(round(hours.since_start(start) / hours.step_h), 0), hours.steps - 1)
    here = {name: float(plan.track[name].values[step]) for name in ("lat", "lon", "distance_nm", "distance_to_go_nm")}
    usual = usual_watch(watches if plan.card is None else plan.watches)
    return BillPage(
        day=watches[0].day,
        of_days=plan.watches[-1].day,
        opening=f"from {date_words(start, offset)} {clock(start, offset)}",
        clocks=f"Ship's time {offset_words(offset_at(offset, start))}: "
        f"{clock(start, offset)} is {clock(start, timedelta())} UTC. {days_sentence(plan)}".rstrip(". "),
        whereabouts=f"{latitude(here['lat'])} {longitude(here['lon'])}, {whole(here['distance_nm'])} nm sailed, "
        f"{whole(here['distance_to_go_nm'])} nm to go",
        sun=_sun(plan, hours.since_start(start), hours.since_start(watches[-1].end)),
        full=next(full_words(plan, day) for day in plan.days if day.day == watches[0].day),
        rows=tuple(bill_row(plan, watch) for watch in watches),
        wake=f"{usual.wake_soc_percent}{NO_BREAK}% or less",
        low_volts=low_volts_words(usual),
        without_engine=without_engine_sentence(without_engine_from(plan, start), offset),
        standing=standing_sentence(plan),
        later=later_lines(plan) if watches[-1] is plan.watches[-1] else (),
        which_plan=which_plan(plan),
    )


def _sun(plan: Plan, start_h: float, stop_h: float) -> str:
    """Return the sun's rising and setting within the hours, ends of the passage left out."""
    hours = hours_of(plan)
    edges = [
        (edge, word)
        for night in nights(plan, hours)
        for edge, word in zip(night, ("sets", "rises"), strict=True)
        if start_h <= edge < stop_h and 0.0 < edge < hours.total_h
    ]
    return ", ".join(f"sun {word} {clock(hours.start + timedelta(hours=edge), hours.offset)}" for edge, word in edges)
