"""The page of a reconciliation: the answer, each controller, loads, bank and sky, with the evidence."""

from __future__ import annotations

from planner.domain.results.reconcile.findings import Reconciliation
from planner.presentation.drawing.reconcile_figures import figures
from planner.presentation.pages.look import Links, filled
from planner.presentation.words.cautions import AID
from planner.presentation.words.reconcile.sentences import answer
from planner.presentation.words.reconcile.tables import bank_table, controllers_table, evidence_table, title
from planner.presentation.words.wording import offset_words

CAUTIONS = (
    "A verdict on a panel is a hint where to look, no proof. Look first for a shadow that is new, for dirt and salt, "
    "and for a plug or fuse that has come loose or grown warm.",
    "Cover a panel before you disconnect it: in the light it is live. Disconnect the panels from a controller before "
    "the bank, and connect the bank first.",
    "Wiring belongs to a qualified person, by ISO 13297, ISO/TS 23625 for lithium, ABYC E-11 and E-13 or the local "
    "code. Over 50 V a string can hurt.",
    "Lead banks give off hydrogen while they charge: ventilate, and no sparks. A lithium bank may cut itself off "
    "while it charges and black out the boat.",
    "Nobody goes on deck at night, or in a seaway, for a watt or a plug.",
    AID,
)


def html_of(found: Reconciliation, links: Links = ()) -> str:
    """Return the page as HTML.

    Parameters
    ----------
    found : Reconciliation
    links : sequence of (str, str)
        Pages beside it, where it does not stand alone.
    """
    content = {
        "title": title(found),
        "boat_file": found.boat_file,
        "logs": found.logs,
        "clock": offset_words(found.ship_offset),
        "answer": answer(found),
        "controllers": controllers_table(found),
        "evidence": evidence_table(found),
        "bank": bank_table(found),
        "figures": figures(found),
        "warnings": found.warnings,
        "cautions": CAUTIONS,
    }
    return filled("reconcile", content, links=links, scripts=["tables", "reading"], styles=["reconcile"])
