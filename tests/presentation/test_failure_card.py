"""The failure card on the page, on the terminal and in plan.json."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from failures_fixture import LINES, NOWHERE, plan_with_failures, with_failures
from inputs_fixture import DEPARTURE
from plan_fixture import make_plan

from planner.domain.results.bill import Lasts, WithoutEngine
from planner.presentation.files.summary_json import summarise
from planner.presentation.pages.failures import failure_page
from planner.presentation.pages.report import render
from planner.presentation.words.bill import terminal
from planner.presentation.words.bill.failures import (
    allowed_words,
    failure_sentence,
    landfall_words,
    loads_words,
    refuge_lines,
    shed_lines,
)
from planner.presentation.words.bill.sentences import without_engine_sentence
from planner.presentation.words.notes import TEMPLATES
from planner.presentation.words.wording import plain

ENGINE, ALTERNATOR, ARCH, BANK = LINES


def test_a_plan_that_was_not_let_fail_has_no_card() -> None:
    assert failure_page(make_plan()) is None
    assert "If something fails" not in render(make_plan())
    assert "If something fails" not in terminal.render(make_plan())
    assert summarise(make_plan())["failures"] is None


def test_each_turn_says_what_it_saves_and_wins() -> None:
    assert [plain(words) for words in shed_lines(ENGINE)] == [
        "watermaker: 460 Wh a day, 10 h more",
        "fridge: 480 Wh a day, then lit to landfall",
        "radar: 100 Wh a day, then the reserve holds",
    ]
    assert [plain(words) for words in shed_lines(BANK)] == [
        "watermaker: 460 Wh a day, lit 0.9 h a day more",
        "autopilot (steer by hand): 830 Wh a day",
    ]


def test_what_is_allowed_and_who_gets_there() -> None:
    plan = plan_with_failures()
    assert plain(allowed_words(ENGINE)) == "Allowed: 960 Wh a day."
    assert plain(loads_words(plan, ENGINE)) == "Sun 1540 Wh a day, 1440 in poor weather; loads 2000 Wh."
    assert [plain(words) for words in landfall_words(plan, ENGINE)] == [
        "Lit and with a radio in 5 of 5, reserve kept in 5.",
        "All on the control's track: the doubt of the wind is not in it.",
        "Arrives 2 h 50 later.",
    ]
    assert plain(allowed_words(ALTERNATOR)) == "All that may be shed leaves 1540 Wh a day."
    assert [plain(words) for words in landfall_words(plan, ALTERNATOR)] == [
        "Lit and with a radio in 0 of 5, reserve kept in 0.",
        "In poor weather reserve until Tue 12 May 07:00, lights out Wed 13 May 05:00.",
    ]
    assert plain(allowed_words(ARCH)) == "Allowed: 2000 Wh a day, all of it."
    assert landfall_words(plan, ARCH)[1].startswith(
        "By the ladders in hand, the engine charges for 15\N{NO-BREAK SPACE}h"
    )
    assert plain(landfall_words(plan, BANK)[0]) == "Dark by night: all lit 5 h a day as she is, 6 h with all shed."


def test_where_she_does_not_arrive_nothing_is_reckoned() -> None:
    plan = with_failures(make_plan(), NOWHERE)
    assert failure_sentence(plan, NOWHERE) == (
        "Engine dead: Under sail alone she does not get there within what the forecast serves."
    )
    assert (loads_words(plan, NOWHERE), allowed_words(NOWHERE), shed_lines(NOWHERE)) == ("", "", ())


def test_refuges_are_told_for_the_days_on_which_they_are_nearer() -> None:
    (words,) = refuge_lines(plan_with_failures())
    assert plain(words) == (
        "the haven is nearer: day 1 (Sun 10 May) 210 nm, 951 to go; day 2 (Mon 11 May) 420 nm, 802 to go; "
        "day 3 (Tue 12 May) 630 nm, 653 to go."
    )
    assert refuge_lines(make_plan()) == ()
    card = plan_with_failures().failures
    assert card is not None
    far = replace(card, diversions=card.diversions[3:])
    assert refuge_lines(replace(make_plan(), failures=far)) == (
        "None is nearer than the destination as any day begins.",
    )


def test_page_and_terminal_hold_every_line() -> None:
    plan = plan_with_failures()
    html, text = render(plan), " ".join(terminal.render(plan).split())
    assert html.count("failure-page") >= 1
    for line in LINES:
        assert TEMPLATES[line.first.code] in html
        assert plain(failure_sentence(plan, line)) in text
    assert "Controller arch out" in text
    assert "the haven is nearer" in text


@pytest.mark.parametrize("code", sorted(code for code in TEMPLATES if code.startswith("first_")))
def test_a_first_action_is_read_at_a_glance(code: str) -> None:
    assert len(TEMPLATES[code].split()) <= 50


@pytest.mark.parametrize("code", ["first_bank_managed", "first_bank", "first_engine", "first_alternator"])
def test_what_burns_or_blacks_out_has_its_caution_in_the_line(code: str) -> None:
    """Hot alternators, stopped engines, a disconnect under charge."""
    assert any(word in TEMPLATES[code] for word in ("burns", "stop it at once", "wreck the alternator", "no flame"))


def test_programs_read_the_same_figures() -> None:
    figures = summarise(plan_with_failures())["failures"]
    engine, alternator, *_ = figures["lines"]
    assert engine["failure"] == {"kind": "engine", "names": []}
    assert (engine["allowed_wh_per_day"], alternator["allowed_wh_per_day"]) == (963.0, None)
    assert engine["steps"][1]["loads"] == ["watermaker"]
    assert engine["steps"][2]["lasts"] == {"reserve_h": 80.0, "lights_out_h": None}
    assert [each["nearer"] for each in figures["diversions"]] == [True, True, True, False]
    assert engine["first"].startswith("Alarm, steam or smoke")


def test_hours_to_the_reserve_alone_are_told_where_no_lights_go_out() -> None:
    before, after = (replace(ENGINE.steps[0], lasts=Lasts(hours, None), gained_h=10.0) for hours in (39.0, 49.0))
    line = replace(ENGINE, steps=(before, replace(after, loads=("radar",))))
    assert [plain(words) for words in shed_lines(line)] == ["radar: 0 Wh a day, 10 h more"]


def test_where_the_engine_charges_a_turn_spares_engine() -> None:
    (as_she_is,) = ARCH.steps
    shed = replace(as_she_is, loads=("laptops",), saves_wh_per_day=120.0, charging_h=LINES[0].steps[0].charging_h)
    assert [plain(words) for words in shed_lines(replace(ARCH, steps=(as_she_is, shed)))] == [
        "laptops: 120 Wh a day, engine 15 h 35 less, reserve kept in 5"
    ]
    alike = replace(shed, charging_h=as_she_is.charging_h)
    assert [plain(words) for words in shed_lines(replace(ARCH, steps=(as_she_is, alike)))] == [
        "laptops: 120 Wh a day, reserve kept in 5"
    ]


def test_a_bank_that_keeps_its_charge_and_gives_none_does_not_last() -> None:
    case = WithoutEngine(DEPARTURE, Lasts(None, 0.0), Lasts(None, 6.5), Lasts(None, None))
    assert plain(without_engine_sentence(case, timedelta(hours=12))).endswith(
        "reserve kept, lights out at once; with all shed that may be, reserve kept, lights out in 6 h 30; "
        "and steered by hand or vane, the bank lasts to arrival."
    )
