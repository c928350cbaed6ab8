"""The card in words: a line a watch of the day, what stands apart, when it lapses, what to see to at the engine."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.domain.results.bill import Card, CardLine, Rung, WatchRow
from planner.domain.results.plan import Plan
from planner.presentation.words.bill.sentences import standing_sentence, usual_watch, wake_sentence
from planner.presentation.words.notes import said
from planner.presentation.words.wording import (
    EN_DASH,
    NO_BREAK,
    clock,
    date_words,
    ladder_lines,
    moment_words,
    percent,
    percent_span,
)

FIVE = 5  # A, fineness of a current that is watched for
LEAST_TOLD = 0.005  # 1, of the engine's hours, that rounds to a percent
FIVE_NM = 5  # nm, fineness of a distance off the track
MORNING = "08:00"
QUIET = "no: quiet hours"


@dataclass(frozen=True)
class CardRow:
    """A watch of the day in words.

    Attributes
    ----------
    span : str
        Of the watch, ship's time.
    ladder : tuple of (str, str)
        Readings and what to run, from high to low.
    stop, amps, hours : str
        Reading that ends a run; current that it brings after ten minutes; in which hours of the watch the engine may
        run, where that is not the whole of it. Empty where the watch runs none.
    """

    span: str
    ladder: tuple[tuple[str, str], ...]
    stop: str
    amps: str
    hours: str


def card_rows(card: Card) -> tuple[CardRow, ...]:
    """Return the card's lines."""
    return tuple(_row(line) for line in card.lines)


def _row(line: CardLine) -> CardRow:
    span = f"{line.start}{EN_DASH}{line.end}"
    if not line.loud:
        return CardRow(span, tuple(ladder_lines((Rung(0, 0),))), "", "", QUIET)
    runs = any(rung.minutes for rung in line.ladder)
    hours = ", ".join(f"{begins}{EN_DASH}{ends}" for begins, ends in line.loud)
    return CardRow(
        span=span,
        ladder=tuple(ladder_lines(line.ladder)),
        stop=f"{line.stop_percent}{NO_BREAK}%" if runs else "",
        amps=_amps(line.charge_current_a) if runs else "",
        hours=hours if runs and hours != span else "",
    )


def _amps(current_a: float | None) -> str:
    if current_a is None or current_a < FIVE:
        return ""
    return f"{FIVE * int(current_a // FIVE)}{NO_BREAK}A or more"


def reading_sentence(card: Card) -> str:
    """Return how the card is read."""
    return (
        "As your watch begins, read the battery monitor, find your line, and run the engine so long; hours that it "
        f"drives the boat count. Stop at the reading given, or when {card.tail_a}{NO_BREAK}A or less goes in."
    )


def apart_lines(plan: Plan, card: Card) -> tuple[str, ...]:
    """Return the watches that have a ladder of their own, each with it and with why."""
    words = []
    for index in card.apart:
        row = plan.watches[index]
        span = f"{moment_words(row.start, plan.ship_offset)}{EN_DASH}{clock(row.end, plan.ship_offset)}"
        why = f" {said(row.reason)}" if row.engine_min else ""
        words.append(f"{span}: {own_ladder(row)}{why}")
    return tuple(words)


def own_ladder(row: WatchRow) -> str:
    """Return the ladder of a watch that stands apart from the card, with its stop."""
    ladder = "; ".join(f"{readings} {action}" for readings, action in ladder_lines(row.ladder))
    return f"{ladder}; stop at {row.stop.soc_percent}{NO_BREAK}%."


def any_watch_sentences(plan: Plan) -> tuple[str, ...]:
    """Return what holds in every watch: near the reserve, and when to wake the skipper."""
    standing = standing_sentence(plan)
    return (*([standing] if standing else []), wake_sentence(usual_watch(plan.watches)))


def lapse_sentence(plan: Plan) -> str:
    """Return how long the card holds, and what ends it."""
    offset = plan.ship_offset
    mornings = [row for row in plan.watches if clock(row.start, offset) == MORNING]
    spans = ", ".join(f"{date_words(row.start, offset)}{NO_BREAK}{_expected(row)}" for row in mornings)
    place = ", the boat within so far of her drawn place" if any(row.parted_nm for row in mornings) else ""
    shown = f" At {MORNING} expect the bank at{place}: {spans}." if spans else ""
    return (
        "The card holds until the next plan; late, it goes on as it is. Plan anew with each new forecast, and at "
        f"once when bank or place is well out of what was expected.{shown}{_price(plan.card)}"
    )


def _expected(row: WatchRow) -> str:
    """Return the bank's span in eight forecasts of ten, and within how far of the drawn place nine of ten lie."""
    if row.parted_nm is None:
        return percent_span(row.soc)
    return f"{percent_span(row.soc)}{NO_BREAK}({FIVE_NM * max(math.ceil(row.parted_nm / FIVE_NM), 1)}{NO_BREAK}nm)"


def _price(card: Card | None) -> str:
    """Return what the card costs beside a ladder for every watch, from a percent up."""
    if card is None or card.dearer < LEAST_TOLD:
        return ""
    return f" A ladder for every watch would take some {percent(card.dearer)} less engine (wishes.ladder = 'watch')."


def start_checks(plan: Plan) -> tuple[str, str]:
    """Return what to see to before the engine is started, and once it runs (common practice)."""
    return (
        "Neutral. No line over the side. Heel within "
        f"{plan.boat.engine.max_heel_deg:.0f}{NO_BREAK}degrees. Companionway clear of exhaust. CO alarm on.",
        "Water at the exhaust. Oil pressure. After ten minutes the amps of the card. Else stop; wake the skipper.",
    )
