"""The failure card as the page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.results.plan import Plan
from planner.presentation.words.bill.failures import (
    allowed_words,
    failure_name,
    landfall_words,
    loads_words,
    refuge_lines,
    shed_lines,
)
from planner.presentation.words.cautions import AID
from planner.presentation.words.notes import said
from planner.presentation.words.wording import moment_words, which_plan

HOW = (
    "Hours and members as if it failed at the start of this plan and loads were shed then; under way, replan with "
    "--failed. Poor weather: one forecast in ten is worse. Where the engine charges, it follows the ladders in hand; "
    "on sun alone no ladder is needed."
)
CAUTIONS = (
    "Nobody goes on deck at night for watts. Cables and batteries by ISO 13297, ISO/TS 23625 (lithium), ABYC E-10, "
    "E-11, E-13 or the local code, by a qualified person. Where light or radio may fail, tell somebody ashore while "
    "there is power."
)


@dataclass(frozen=True)
class FailureRow:
    """One failure in words; names follow the columns."""

    name: str
    first: str
    loads: str
    shed: tuple[str, ...]
    allowed: str
    landfall: tuple[str, ...]
    assumed: str


@dataclass(frozen=True)
class FailurePage:
    """The failure card.

    Attributes
    ----------
    opening : str
        From when it holds.
    rows : tuple of FailureRow
    refuges : tuple of str
        Where a port of refuge is nearer; empty where none is named.
    never, how, cautions, which_plan : str
        What is never shed, how to read it, what to heed, and what tells it from another plan's.
    """

    opening: str
    rows: tuple[FailureRow, ...]
    refuges: tuple[str, ...]
    never: str
    how: str
    cautions: str
    which_plan: str


def failure_page(plan: Plan) -> FailurePage | None:
    """Return the failure card; None where nothing was let fail."""
    if plan.failures is None:
        return None
    vital = [load.name for load in plan.boat.load if load.shed_order is None]
    return FailurePage(
        opening=f"from {moment_words(plan.passage.departure, plan.ship_offset)} on",
        rows=tuple(
            FailureRow(
                name=failure_name(line.failure),
                first=said(line.first),
                loads=loads_words(plan, line),
                shed=shed_lines(line),
                allowed=allowed_words(line),
                landfall=landfall_words(plan, line),
                assumed=said(line.assumed),
            )
            for line in plan.failures.lines
        ),
        refuges=refuge_lines(plan),
        never=", ".join(vital) or "nothing that the boat file has",
        how=HOW,
        cautions=f"{AID} {CAUTIONS}",
        which_plan=which_plan(plan),
    )
