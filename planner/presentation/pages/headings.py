"""A fan of headings in words, tables and a figure."""

from __future__ import annotations

from planner.domain.results.studies import HalfDay, HeadingFan, HeadingOption
from planner.presentation.drawing.value_plots import Whisker, whiskers
from planner.presentation.pages.page import with_rows
from planner.presentation.words.content import Column, Page, Picture, Table
from planner.presentation.words.headings import (
    ONE_STEP_WH,
    TACKS,
    answer,
    heading_sentences,
    lost_words,
    magnetic,
    miles,
    options_table,
    signed,
    turn_words,
)
from planner.presentation.words.notes import said
from planner.presentation.words.wording import clock, date_words, moment_words, whole

MOST_CAUSES = 3


def page_of(fan: HeadingFan) -> Page:
    """Return the study as a page."""
    as_planned, verdict = heading_sentences(fan)
    return Page(
        title=f"Headings from {moment_words(fan.start, fan.ship_offset)} ship's time, {fan.hours:g} h",
        answer=(verdict, answer(fan), as_planned),
        pictures=(_picture(fan),),
        tables=with_rows(options_table(fan), _panels(fan), _half_days(fan)),
    )


def _panels(fan: HeadingFan) -> Table:
    shown = [option for option in fan.options if abs(option.turn_deg) <= 45.0 and option is not fan.planned]
    return Table(
        "Panels that gain or lose, and why",
        (Column("Turn", "left"), Column("Heads", "left"), Column("Panels", "left")),
        tuple(
            (turn_words(option, fan), f"{magnetic(option)} {TACKS[option.tack]}", _changes(option))
            for option in shown
        ),
    )


def _changes(option: HeadingOption) -> str:
    """Return the panels that change most, and why."""
    changed = [shift for shift in option.panels if shift.cause.code != "as_before"]
    most = sorted(changed, key=lambda shift: -abs(shift.difference_wh))[:MOST_CAUSES]
    words = [f"{shift.name} {whole(shift.difference_wh)} Wh, {said(shift.cause)}" for shift in most]
    if len(changed) > MOST_CAUSES:
        words.append(f"{len(changed) - MOST_CAUSES} more change less")
    return "; ".join(words) or "all as before"


def _half_days(fan: HeadingFan) -> Table:
    rows = tuple(
        (
            f"{date_words(half.start, fan.ship_offset)} {'to noon' if half.before_noon else 'after noon'}",
            f"{clock(half.start, fan.ship_offset)}-{clock(half.end, fan.ship_offset)}",
            whole(half.starboard_wh.p50),
            whole(half.port_wh.p50),
            signed(half.advantage_wh),
            f"{half.starboard_made_good_nm:.0f}",
            f"{half.port_made_good_nm:.0f}",
            _hold(half),
        )
        for half in fan.half_days
    )
    return Table(
        f"Which tack to hold: leg {fan.leg}, at the planned angle to the wind",
        (
            Column("Light hours", "left"),
            Column("Ship's time", "left"),
            Column("Wh, S"),
            Column("Wh, P"),
            Column("S over P, Wh"),
            Column("nm, S"),
            Column("nm, P"),
            Column("Hold", "left"),
        ),
        rows,
        note="S starboard tack, P port tack; noon is the sun's highest; nm made good toward the waypoint. A tack "
        "that makes no ground is no choice, whatever it would bring. Hold: the tack that brings more, and how much "
        "less ground it makes than the other. Wh are those of the middle forecast, in brackets of eight in ten"
        f"{_of_so_many(fan)}.",
    )


def _of_so_many(fan: HeadingFan) -> str:
    """Return of how many forecasts the half days are, where not of all."""
    fewest = min((half.members for half in fan.half_days), default=fan.members.n)
    return f", of {fewest} or more evenly chosen from {fan.members.n}" if fewest < fan.members.n else ""


def _hold(half: HalfDay) -> str:
    ground = {1: half.starboard_made_good_nm, -1: half.port_made_good_nm}
    sailed = [tack for tack, nm in ground.items() if nm > 0.0]
    if len(sailed) == 1:
        return f"{TACKS[sailed[0]]}, the only one"
    if abs(half.advantage_wh.p50) < ONE_STEP_WH:
        return "either"
    better = half.better_tack
    lost = ground[-better] - ground[better]
    return f"{TACKS[better]}, {lost:.0f} nm less ground" if lost >= 1.0 else TACKS[better]


def _picture(fan: HeadingFan) -> Picture:
    rows = [
        Whisker(
            name=f"{turn_words(option, fan)}: {magnetic(option)} {TACKS[option.tack]}, {miles(option)}",
            value=option.difference_wh.middle,
            css="first" if option.tack > 0 else "second",
            short=f"{magnetic(option)} {TACKS[option.tack][0].upper()}, "
            + ("plan" if option is fan.planned else f"{lost_words(option)} nm"),
        )
        for option in fan.options
    ]
    low, high = (pick(o.difference_wh.p50 for o in fan.options) for pick in (min, max))
    return Picture(
        title="What each heading wins or costs",
        caption="Sun less steering, beside the planned heading. Whiskers: eight forecasts in ten; nm: ground lost.",
        legend=(("whisker first", "starboard tack"), ("whisker second", "port tack")),
        drawings=whiskers(
            rows, unit="Wh", label=f"Difference by heading, from {low:.0f} to {high:.0f} Wh. Its table follows."
        ),
    )
