"""The plan from a fix on: what changed and why, then the schedule."""

from __future__ import annotations

from planner.domain.results.replan import FixMoment, LastCard, Replan
from planner.domain.ship_clock import moment_in_full
from planner.presentation.pages.page import with_rows
from planner.presentation.words.content import Column, Page, Table
from planner.presentation.words.notes import all_said, said
from planner.presentation.words.reserve_kept import kept_count
from planner.presentation.words.wording import duration, percent


def page_of(replan: Replan) -> Page:
    """Return what changed as a page."""
    plan, bank = replan.plan, replan.bank
    charging_min = 60.0 * plan.charging_hours.planned
    words = [
        f"From here the engine {f'charges for {duration(charging_min)}' if charging_min else 'need not charge'}.",
        f"Bank {percent(bank.state_of_charge)}, {percent(bank.low)} to {percent(bank.high)}, by {said(bank.source)}.",
    ]
    if replan.last_card is not None:
        words.insert(0, card_sentence(replan.last_card))
    words += all_said(replan.by_log)
    if replan.engine_so_far is not None:
        so_far = replan.engine_so_far
        words.append(
            f"So far it ran {duration(60.0 * so_far.hours)} and burnt {so_far.fuel_l:.0f} L, by {so_far.source}; "
            f"{plan.boat.engine.tank_l:.0f} L are left."
        )
    else:
        words.append(
            "Neither log nor last plan says what the engine burnt so far: the plan reckons with "
            f"{plan.boat.engine.tank_l:.0f} L, as the boat file has it."
        )
    words.append(days_sentence(replan.fix))
    return Page(
        title=fix_sentence(replan),
        answer=tuple(words),
        pictures=(),
        tables=with_rows(
            Table(
                "Against the last plan",
                (Column("Figure", "left"), Column("Foreseen", "left"), Column("Now", "left"), Column("Why", "left")),
                tuple(
                    tuple(map(said, (change.what, change.foreseen, change.now, change.why)))
                    for change in replan.changes
                ),
            )
        ),
    )


def card_sentence(card: LastCard) -> str:
    """Say whether the crew go on by the last plan's card, and what a new one does better."""
    tried = (
        f"from here it keeps the reserve in {kept_count(card.kept)} and charges for {duration(card.run_min)}; "
        f"the new one in {kept_count(card.kept_anew)}, for {duration(card.run_anew_min)}"
    )
    if card.holds:
        return f"The last plan's card holds: {tried}. Go on by it."
    if card.keeps:
        return f"The last plan's card holds, yet a new one saves engine: {tried}. Strike out the old one."
    return f"The last plan's card holds no longer: {tried}. Strike out the old one."


def fix_sentence(replan: Replan) -> str:
    """Say when the fix is, as its time was understood, and where the rest leads."""
    fix = replan.fix
    understood = moment_in_full(fix.time, fix.ship_offset)
    return f"From the fix of {understood}, day {fix.day}, to {replan.plan.route[-1].name}"


def days_sentence(fix: FixMoment) -> str:
    """Say from where days are numbered, and how a time without a day was understood."""
    begun = moment_in_full(fix.first_departure, fix.ship_offset)
    words = f"Days are numbered from the first departure, {begun}, also after a replan."
    if fix.without_day_after:
        words += f" The fix's time was given without a day: it is the first such time after {fix.without_day_after}."
    return words
