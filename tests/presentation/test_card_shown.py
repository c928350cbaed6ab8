"""The card on the terminal, on the page, in JSON: what a tired watchkeeper reads is what the policy asks."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from card_reader import minutes_asked
from plan_fixture import make_plan, with_card, with_inputs

from planner.domain.results.bill import CardLine, Rung
from planner.domain.results.plan import Plan
from planner.domain.version import __version__
from planner.presentation.outputs import json_of
from planner.presentation.pages import report
from planner.presentation.pages.bill import card_page
from planner.presentation.words.bill import terminal
from planner.presentation.words.bill.card import card_rows


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_card(make_plan())


def card_of(text: str) -> list[str]:
    return text[text.index("Card for every day") : text.index("In any watch")].splitlines()


def plain_page(plan: Plan) -> str:
    return " ".join(report.render(plan).replace("&#39;", "'").replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.mark.parametrize("width", [72, 100])
def test_every_reading_in_every_watch_has_one_answer(plan: Plan, width: int) -> None:
    assert plan.card is not None
    lines = card_of(terminal.render(plan, width=width))
    for line in plan.card.lines:
        for reading in range(101):
            wanted = next(rung.minutes for rung in line.ladder if reading >= rung.from_percent)
            assert minutes_asked(lines, line.start, reading) == wanted


def test_a_card_that_lacks_a_reading_is_noticed(plan: Plan) -> None:
    lines = [line for line in card_of(terminal.render(plan)) if "55-64 %" not in line]
    with pytest.raises(LookupError):
        minutes_asked(lines, "08:00", 60)


def test_the_card_stands_before_the_watches_and_takes_their_ladders_place(plan: Plan) -> None:
    text = terminal.render(plan, all_days=True)
    assert text.index("Card for every day") < text.index("Day 1,")
    assert "by the meter" not in text[text.index("Day 1,") :]
    assert "Card for every day" not in terminal.render(make_plan())


def test_a_watch_apart_is_named_with_its_ladder_and_its_stop(plan: Plan) -> None:
    words = "Tue 12 May 12:00-16:00: 80 % or more no run; below 80 % 1 h 30; stop at 85 %."
    assert f"Not by the card: {words}" in " ".join(terminal.render(plan).split())
    page = plain_page(plan)
    assert words.replace("-", "\N{EN DASH}") in page
    own = "Not by the card: 80 % or more no run; below 80 % 1 h 30; stop at 85 %."
    assert page.count(own) == 1  # in its row of the third day
    assert page.index('id="page-3"') < page.index(own) < page.index('id="page-4"')


def test_what_holds_in_any_watch_stands_once_on_the_card(plan: Plan) -> None:
    words = "In any watch, at 53 % or less, quiet hours or not: start the engine at once and charge to 60 %."
    assert " ".join(terminal.render(plan, all_days=True).split()).count(words) == 1
    page = card_page(plan)
    assert page is not None
    assert any(
        "Wake the skipper at 53 % or less" in words.replace("\N{NO-BREAK SPACE}", " ") for words in page.any_watch
    )


def test_the_page_has_the_card_first_and_days_without_ladders(plan: Plan) -> None:
    page = plain_page(plan)
    assert page.index('id="card"') < page.index('id="next"')
    assert page.index('id="card-page"') < page.index('id="page-1"')
    assert page.count("Charge by the card.") == len(plan.days)
    assert "Read the meter, then charge" not in page
    without = plain_page(make_plan())
    assert 'id="card' not in without
    assert "Read the meter, then charge" in without


def test_the_bank_expected_each_morning_says_when_the_card_is_out(plan: Plan) -> None:
    page = card_page(plan)
    assert page is not None
    for row in plan.watches:
        if f"{row.start + plan.ship_offset:%H:%M}" == "08:00":
            span = f"{round(100 * row.soc.p10)}\N{EN DASH}{round(100 * row.soc.p90)}"
            assert span in page.lapse or f"{round(100 * row.soc.p10)}\N{NO-BREAK SPACE}%" in page.lapse


@pytest.mark.parametrize(
    ("current", "words"), [(58.3, "55 A or more"), (60.0, "60 A or more"), (4.9, ""), (None, "")]
)
def test_the_current_to_expect_is_rounded_down(plan: Plan, current: float | None, words: str) -> None:
    assert plan.card is not None
    lines = tuple(replace(line, charge_current_a=current) for line in plan.card.lines)
    rows = card_rows(replace(plan.card, lines=lines))
    shown = {row.amps.replace("\N{NO-BREAK SPACE}", " ") for row, line in zip(rows, lines, strict=True) if line.loud}
    assert shown == {words}


def test_hours_are_said_where_they_are_not_the_whole_watch() -> None:
    ladder = (Rung(40, 0), Rung(0, 60))
    lines = tuple(
        CardLine("20:00", "00:00", loud, ladder, 85, 60.0)
        for loud in ((("20:00", "00:00"),), (("20:00", "22:00"),), (("20:00", "21:00"), ("23:00", "00:00")), ())
    )
    card = with_card(make_plan()).card
    assert card is not None
    whole, part, parts, never = card_rows(replace(card, lines=lines))
    assert whole.hours == ""
    assert part.hours == "20:00\N{EN DASH}22:00"
    assert parts.hours == "20:00\N{EN DASH}21:00, 23:00\N{EN DASH}00:00"
    assert "quiet hours" in never.hours
    assert never.ladder == (("any", "no run"),)


def test_json_holds_the_card_in_bands_and_the_watches_apart(plan: Plan) -> None:
    held = json.loads(json_of(plan))
    assert held["card"]["apart"] == [13]
    first = next(line for line in held["card"]["lines"] if line["start"] == "08:00")
    assert [(band["from_percent"], band["to_percent"], band["minutes"]) for band in first["ladder"]] == [
        (65, 100, 0), (55, 64, 60), (0, 54, 120)]  # fmt: skip
    assert json.loads(json_of(make_plan()))["card"] is None


def test_every_printed_side_says_of_which_plan_it_is(plan: Plan) -> None:
    forecast = plan.voyage.inputs.forecast.assign_attrs(issued="2026-05-09T06:00:00Z")
    sides = plain_page(with_inputs(plan, forecast=forecast))
    words = f"Plan for the departure of Sun 10 May 08:00; forecast begun Sat 9 May 06:00 UTC; planner {__version__}."
    assert sides.count(words) == 2 + len(plan.days)  # the card on screen and on paper
    typed = plain_page(plan)
    assert f"Plan for the departure of Sun 10 May 08:00; planner {__version__}." in typed


@pytest.mark.parametrize(("dearer", "words"), [(0.023, "some 2 % less engine"), (0.004, ""), (0.0, "")])
def test_the_card_says_what_it_costs_beside_a_ladder_for_every_watch(plan: Plan, dearer: float, words: str) -> None:
    assert plan.card is not None
    text = " ".join(terminal.render(replace(plan, card=replace(plan.card, dearer=dearer))).split())
    assert ("A ladder for every watch would take" in text) == bool(words)
    assert words in text


def test_a_place_well_off_the_track_ends_the_card_where_members_part(plan: Plan) -> None:
    rows = tuple(replace(row, parted_nm=11.2) for row in plan.watches)
    page = card_page(replace(plan, watches=rows))
    assert page is not None
    assert "the boat within so far of her drawn place" in page.lapse
    assert page.lapse.count("(15\N{NO-BREAK SPACE}nm)") == len(plan.days)
    assert "nm)" not in terminal.render(plan)
