"""The plan from a fix on: what changed and why, then the schedule."""

from __future__ import annotations

from planner.domain.replan_results import Replan
from planner.presentation.figure import Column, Table
from planner.presentation.studies_page import Page, as_text
from planner.presentation.terminal import render
from planner.presentation.wording import duration, moment_words, percent


def tables_of(replan: Replan) -> str:
    """Return what changed, and the schedule of the rest, for the terminal."""
    return f"{as_text(page_of(replan))}\n{render(replan.plan)}"


def page_of(replan: Replan) -> Page:
    """Return what changed as a page."""
    plan, bank = replan.plan, replan.bank
    words = [
        f"Bank {percent(bank.state_of_charge)}, {percent(bank.low)} to {percent(bank.high)}, by {bank.source}.",
        f"From here the engine charges for {duration(60.0 * plan.charging_hours.planned)}.",
    ]
    if replan.engine_so_far is not None:
        so_far = replan.engine_so_far
        words.append(
            f"So far it ran {duration(60.0 * so_far.hours)} and burnt {so_far.fuel_l:.0f} L, by {so_far.source}; "
            f"{plan.boat.engine.tank_l:.0f} L are left."
        )
    return Page(
        title=f"From the fix of {moment_words(plan.passage.departure, plan.ship_offset)} to {plan.route[-1].name}",
        answer=tuple(words),
        pictures=(),
        tables=_changes(replan),
    )


def _changes(replan: Replan) -> tuple[Table, ...]:
    if not replan.changes:
        return ()
    return (
        Table(
            "Against the last plan",
            (Column("Figure", "left"), Column("Foreseen", "left"), Column("Now", "left"), Column("Why", "left")),
            tuple((change.what, change.foreseen, change.now, change.why) for change in replan.changes),
        ),
    )
