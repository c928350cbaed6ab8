"""The report: one page of HTML that needs no network and prints the watch bill, one side of A4 or US letter a day."""

from __future__ import annotations

from planner.domain.results.plan import Plan
from planner.presentation.drawing.heading_fan import heading_fan
from planner.presentation.drawing.loss_account import loss_account
from planner.presentation.drawing.maps.track_map import track_map
from planner.presentation.drawing.plots import bank_course, power_in_and_out
from planner.presentation.drawing.sun_view import sun_pictures
from planner.presentation.pages.bill import card_page, first_day, pages, shedding
from planner.presentation.pages.failures import failure_page
from planner.presentation.pages.look import Links, asset, filled
from planner.presentation.pages.tables import (
    assumed,
    days_table,
    files_table,
    panels_table,
    prices_table,
    route_table,
    stress_table,
)
from planner.presentation.words.answer import answer
from planner.presentation.words.cautions import cautions_of
from planner.presentation.words.hours import hours_of
from planner.presentation.words.notes import all_said
from planner.presentation.words.own_tracks import own_tracks_table
from planner.presentation.words.wording import moment_words, offset_words


def render(plan: Plan, links: Links = ()) -> str:
    """Return the report of a plan as one complete page of HTML.

    Parameters
    ----------
    plan : Plan
        A computed plan; nothing is recomputed but sums and percentiles for display.
    links : sequence of (str, str)
        Pages beside it, where it does not stand alone.

    Returns
    -------
    str
        The page, with its style, script and drawings inside.
    """
    content = {
        "title": f"{plan.route[0].name} to {plan.route[-1].name}",
        "departure": moment_words(hours_of(plan).start, plan.ship_offset),
        "arrival": moment_words(plan.arrival, plan.ship_offset),
        "clock": offset_words(plan.ship_offset),
        "answer": answer(plan),
        "card": card_page(plan),
        "failures": failure_page(plan),
        "first_day": first_day(plan),
        "figures": (bank_course(plan), power_in_and_out(plan), track_map(plan), loss_account(plan)),
        "panels": panels_table(plan),
        "days": days_table(plan),
        "suns": sun_pictures(plan),
        "fan": heading_fan(plan),
        "prices": prices_table(plan),
        "own": own_tracks_table(plan, plan.own_tracks) if plan.own_tracks is not None else None,
        "stress": stress_table(plan) if plan.stresses else None,
        "pages": pages(plan),
        "shedding": shedding(plan),
        "assumed": assumed(plan),
        "sources": (route_table(plan), files_table(plan)),
        "warnings": all_said(plan.warnings),
        "cautions": cautions_of(plan),
        "page_a_day": True,
        "bill_cards": asset("bill_cards.css"),
        "bill_failures": asset("bill_failures.css"),
        "bill_paper": asset("bill_paper.css"),
    }
    return filled("report", content, links=links, scripts=["tables", "report", "bill_fit", "reading"], styles=[])
