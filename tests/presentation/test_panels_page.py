"""The page of panels: what lies idle without a panel is named, and a wiring that cannot be has its reason once."""

from __future__ import annotations

from planner.domain.results.figures import Spread
from planner.domain.results.note import Note
from planner.domain.results.panels import PairWiring, PanelStudy, PanelWorth
from planner.presentation.pages.panels import page_of
from planner.presentation.words.content import Table

HOURS = Spread(planned=9.0, p10=3.0, p50=4.0, p90=5.0)  # on the members' mean weather more than in any of them
ENERGY = Spread(planned=6000.0, p10=5500.0, p50=6100.0, p90=6500.0)
WHY = "21.9 V open-circuit never reaches the 29.8 V that 'one' needs."


def worth(name: str, partner: str) -> PanelWorth:
    idle = (Note("lies_idle", {"panels": partner}),)
    return PanelWorth(name, None, ENERGY, HOURS, 400.0, None, difference_wh=ENERGY, wiring=idle)


def study() -> PanelStudy:
    pairs = tuple(PairWiring(first, "c", "series", ENERGY, None, None, own_failure=WHY) for first in "ab")
    return PanelStudy(
        8.0, (worth("a", "b"), worth("b", "a")), HOURS, pairs, 100.0, (), Note("sums", {"rows_h": 8.0, "all_h": 4.0})
    )


def table(caption: str) -> Table:
    (found,) = [each for each in page_of(study()).tables if each.caption.startswith(caption)]
    return found


def test_each_panels_hours_are_the_middle_members_and_its_idle_partner_is_named() -> None:
    rows = table("Panels aboard").rows
    assert [row[-1] for row in rows] == ["no string for b, idle", "no string for a, idle"]
    assert {row[4] for row in rows} == {"4.0 (3.0 to 5.0)"}
    assert "The rows come to 8.0 h, all panels together save 4.0 h." in table("Panels aboard").note


def test_panels_alike_in_worth_are_told_in_one_clause() -> None:
    assert page_of(study()).answer == (
        "Without any one of the panels the engine would charge 4.0 (3.0 to 5.0) h more.",
    )


def test_a_wiring_that_cannot_be_has_no_figure_and_its_reason_once() -> None:
    pairs = table("Pairs of like panels")
    assert [row[3:] for row in pairs.rows] == [("", "", "each alone")] * 2
    assert pairs.note.count(WHY) == 1
    assert f"Each alone: {WHY}" in pairs.note
