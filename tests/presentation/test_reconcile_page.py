"""The page, tables and JSON of a reconciliation say what was found, and stand alone."""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace

import pytest
from findings_fixture import reconciliation

from planner.domain.file_format import FORMAT
from planner.domain.results.reconcile.findings import BankFinding, Interval, LoadFinding, Reconciliation
from planner.presentation.drawing.reconcile_figures import figures
from planner.presentation.files.json_text import as_json
from planner.presentation.files.results_json import findings
from planner.presentation.pages.reconcile import html_of
from planner.presentation.words.reconcile.sentences import answer
from planner.presentation.words.reconcile.tables import page_of
from planner.presentation.words.text import as_text


@pytest.fixture(scope="module")
def found() -> Reconciliation:
    return reconciliation()


def test_the_answer_is_three_sentences_that_name_each_finding(found):
    panels, loads_and_bank, sky_and_clock = answer(found)
    assert panels.startswith("'bimini' is weak, 80\N{NO-BREAK SPACE}% (77 to 83) of what it gave before")
    assert "against 'arch' (one of the two changed), since Mon 10 May 10:00" in panels
    assert "draws 25 (20 to 30)" in loads_and_bank
    assert "the bank holds 280" in loads_and_bank
    assert "60 (56 to 64)\N{NO-BREAK SPACE}min fast" in sky_and_clock


def test_a_healthy_boat_is_told_in_the_same_words(found):
    sound = replace(found.controllers[0], controller="bimini")
    right = replace(found.clock, fast_min=Interval(1.0, -3.0, 5.0), corrected=False)
    loads = replace(found.loads, found=False, unexplained_w=Interval(5.0, -2.0, 12.0))
    panels, listed, clock = answer(
        replace(found, controllers=(found.controllers[0], sound), clock=right, loads=loads)
    )
    assert panels == "All controllers yield as expected."
    assert listed.startswith("Loads are as listed, to 5 (\N{MINUS SIGN}2 to 12)")
    assert clock.endswith("the log's clock goes right.")


def test_words_follow_the_intervals(found):
    """What excludes the list is not 'as listed', nor what excludes the expected 'as expected', fault or none."""
    over = replace(found.loads, found=False)
    assert "Loads draw more than listed, by 25 (20 to 30)" in answer(replace(found, loads=over))[1]
    under = replace(over, unexplained_w=Interval(-25.0, -30.0, -20.0))
    assert "Loads draw less than listed, by 25 (20 to 30)" in answer(replace(found, loads=under))[1]
    more = replace(found.controllers[0], verdict="more than expected", ratio=Interval(1.18, 1.12, 1.24))
    panels = answer(replace(found, controllers=(more, found.controllers[1])))[0]
    assert "more than expected: 'arch' 118\N{NO-BREAK SPACE}% (112 to 124)" in panels
    assert "as expected" not in panels


def test_a_slow_clock_and_what_cannot_be_told(found):
    slow = replace(found.clock, fast_min=Interval(-30.0, -34.0, -26.0))
    loads = LoadFinding(None, False, (), 0.0, "not read")
    bank = BankFinding(None, 285.0, False, "not read")
    untold = tuple(replace(one, verdict="cannot tell", ratio=None, since=None) for one in found.controllers)
    words = answer(replace(found, clock=slow, loads=loads, bank=bank, controllers=untold))
    assert words[0] == "Nothing can be told of 'arch', 'bimini'."
    assert (
        words[1]
        == "Loads cannot be told from these readings; the bank's capacity cannot be told from these readings."
    )
    assert "30 (26 to 34)\N{NO-BREAK SPACE}min slow" in words[2]


def test_the_terminal_has_a_line_a_controller_and_no_odd_characters(found):
    text = as_text(page_of(found))
    text.encode("latin-1")
    assert max(map(len, text.splitlines())) <= 100
    assert re.search(r"^bimini +weak +79 % \(75 to 83\) +Mon 10 May 10:00 +28", text, re.MULTILINE)
    assert "display.csv: 3 lines without a time were dropped." in text


def test_every_figure_has_its_table_and_a_reading_for_each_place_of_its_cursor(found):
    drawn = figures(found)
    assert [figure.key for figure in drawn] == [
        *("controller-1-course", "controller-1-days"),
        *("controller-2-course", "controller-2-days", "controller-2-sun"),
        *("loads", "bank", "sky"),
    ]
    for figure in drawn:
        assert figure.table.rows
        assert all(len(row) == len(figure.table.columns) for row in figure.table.rows)
        for drawing in figure.drawings:
            places = re.search(r'data-x="([^"]*)"', drawing)
            assert places is not None
            assert len(places[1].split()) == len(figure.readings)


def test_set_aside_hours_say_why(found):
    course = next(figure for figure in figures(found) if figure.key == "controller-2-course")
    assert {"run in-shade", "run bank-full", "run unsure", "run unread"} <= {css for css, _ in course.legend}
    assert any("bank full" in words for words in course.readings)
    assert not re.search(r" d=\"[^\"]*nan", "".join(course.drawings))


def test_the_page_stands_alone_and_escapes_names(found):
    odd = replace(found, logs=("<b>log.csv",), warnings=("a < b",))
    page = html_of(odd)
    assert "<b>log.csv" not in page
    assert "&lt;b&gt;log.csv" in page
    assert "src=" not in page
    assert "http:" not in page
    assert "https:" not in page
    words = html.unescape(re.sub(r"<[^>]*>", " ", page))
    assert "Cover a panel before you disconnect it" in words
    assert "qualified person" in words


def test_the_json_has_all_findings_and_no_courses(found):
    told = json.loads(as_json(findings(found)))
    assert told["controllers"][1]["since"] == "2027-05-09T22:00:00Z"
    assert told["ship_offset_hours"] == 12.0
    assert told["loads"]["hours"][3]["read_w"] is None
    assert "courses" not in told


def test_the_json_holds_each_controllers_level_day_by_day(found):
    told = json.loads(as_json(findings(found)))
    assert told["format"] == FORMAT
    arch, bimini = told["controllers"]
    assert (arch["listed_fraction"], bimini["listed_fraction"]) == (0.95, 1.0)
    assert bimini["days"][1] == {
        "day": 2,
        "begins": "2027-05-09T22:00:00Z",
        "ratio": {"value": 0.8, "low": pytest.approx(0.75), "high": pytest.approx(0.85)},
        "hours": 6.5,
        "read_wh": 320.0,
        "expected_wh": 400.0,
    }
