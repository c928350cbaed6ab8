"""The report as text: whole, in order, safe, and saying what the plan holds."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pytest
from markupsafe import escape
from plan_fixture import make_plan, with_inputs, with_voyage

from planner.domain.results.bill import EngineDead, Rung
from planner.domain.results.figures import ReserveKept, Spread
from planner.domain.results.note import Note
from planner.presentation.pages.bill import bill_row, first_day, pages, shedding
from planner.presentation.pages.report import render
from planner.presentation.pages.tables import days_table, panels_table
from planner.presentation.words.answer import answer
from planner.presentation.words.cautions import cautions_of
from planner.presentation.words.notes import all_said
from planner.presentation.words.wording import NO_BREAK, duration, ladder_lines

VOID = {"meta", "link", "br", "img", "input", "hr"}
HOSTILE = "<script>alert(1)</script>\"'&"


class Outline(HTMLParser):
    """Check that tags nest and note what a test asks about."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.headings: list[tuple[int, str]] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        attributes = dict(attrs)
        self.tags.append((tag, attributes))
        self.ids += [attributes["id"] or ""] if "id" in attributes else []
        self.links += [value or "" for key, value in attrs if key in {"href", "src"}]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and re.fullmatch("h[1-6]", self.open[-1]):
            level, text = self.headings[-1]
            self.headings[-1] = (level, text + data)


@pytest.fixture(scope="module")
def page() -> str:
    return render(make_plan())


@pytest.fixture(scope="module")
def outline(page: str) -> Outline:
    parser = Outline()
    parser.feed(page)
    return parser


def calm_text(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace(NO_BREAK, " ")


def test_the_page_is_whole_and_small(page: str, outline: Outline) -> None:
    assert page.lstrip().startswith("<!doctype html>")
    assert page.rstrip().endswith("</html>")
    assert outline.open == []
    assert len(page.encode()) < 3_000_000


def test_nothing_is_fetched(page: str, outline: Outline) -> None:
    assert all(link.startswith(("#", "data:")) for link in outline.links)
    assert "@import" not in page
    assert not re.search(r"url\((?!#)", page)


def test_every_link_within_the_page_arrives(outline: Outline) -> None:
    assert len(outline.ids) == len(set(outline.ids))
    assert {link[1:] for link in outline.links if link.startswith("#")} <= set(outline.ids)


def test_headings_descend_one_level_at_a_time(outline: Outline) -> None:
    levels = [level for level, _ in outline.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_sections_come_in_the_order_that_a_skipper_asks(outline: Outline) -> None:
    wanted = [
        "The answer",
        "Watch bill, first 24 hours",
        "The bank's course",
        "Power in and out",
        "The track",
        "Where the sun's watt-hours go",
        "Panels, mean of the forecasts",
        "The boat as the sun sees her, Sun 10 May",
        "Other headings, Mon 10 May 12:00\N{EN DASH}16:00",
        "Days of the passage",
        "What each load costs",
        "The watch bill, a page a day",
        "What was assumed",
        "Warnings",
        "Cautions",
    ]
    assert [text for level, text in outline.headings if level == 2] == wanted


def test_every_table_heading_has_a_scope(outline: Outline) -> None:
    headings = [attributes for tag, attributes in outline.tags if tag == "th"]
    assert headings
    assert all(attributes.get("scope") in {"row", "col"} for attributes in headings)


def test_names_from_files_stay_text() -> None:
    plan = make_plan()
    hostile_note = Note("forecast_note", {"words": HOSTILE})
    route = (plan.route[0].model_copy(update={"name": HOSTILE}), *plan.route[1:])
    named = with_inputs(plan, route=route, files={HOSTILE: "a" * 64})
    hostile = dataclasses.replace(
        with_voyage(named, harvest=plan.harvest.assign_coords(panel=[p.name for p in plan.boat.panel])),
        watches=tuple(dataclasses.replace(watch, role=HOSTILE, reason=hostile_note) for watch in plan.watches),
        prices=tuple(dataclasses.replace(price, name=HOSTILE) for price in plan.prices),
        warnings=(hostile_note,),
        cautions=(hostile_note,),
    )
    text = render(hostile)
    assert "alert(1)" in text
    assert "<script>alert" not in text
    parser = Outline()
    parser.feed(text)
    assert sum(tag == "script" for tag, _ in parser.tags) == 6  # one for each figure's readings, and our own


def test_the_answer_names_arrival_lowest_reserve_and_poor_weather() -> None:
    bank = answer(make_plan())[0].replace(NO_BREAK, " ")
    planned = make_plan().planned
    lowest = round(100 * float(planned["bank_soc"].min()))
    assert f"with {round(100 * planned['bank_soc_end'].item())} %; it is lowest" in bank
    assert f"with {lowest} %, {50 - lowest} points BELOW the reserve of 50 %" in bank
    assert f"{round(100 * make_plan().min_soc.p10)} % or less" in bank


def test_the_answer_says_when_less_is_kept_than_asked() -> None:
    plan = dataclasses.replace(make_plan(), reserve_kept=ReserveKept(12, 20, 0.42, 0.76, 0.9))
    sure = answer(plan)[2].replace(NO_BREAK, " ")
    assert "of 20 forecasts" in sure
    assert "12 stay above" in sure
    assert "LESS than asked" in sure


def test_one_forecast_leaves_certainty_open() -> None:
    plan = make_plan()
    alone = dataclasses.replace(
        with_voyage(plan, ledger=plan.ledger.isel(member=[0]), harvest=plan.harvest.isel(member=[0])),
        reserve_kept=ReserveKept(1, 1, 0.1, 1.0, 0.9),
    )
    text = render(alone)
    assert "cannot be said" in text
    assert 'class="area spread"' not in text


def test_no_run_is_said_in_words() -> None:
    plan = dataclasses.replace(make_plan(), windows=(), charging_hours=Spread(0, 0, 0, 0))
    assert "need not run to charge" in answer(plan)[1]


def test_first_day_holds_the_watches_of_24_hours() -> None:
    rows = first_day(make_plan())
    assert len(rows) == 6
    assert rows[0].span == "08:00\N{EN DASH}12:00"
    assert rows[-1].date == "Mon 11 May"


def test_each_day_has_one_page_with_its_own_watches() -> None:
    bill = pages(make_plan())
    assert [page.day for page in bill] == [1, 2, 3, 4, 5, 6, 7]
    assert sum(len(page.rows) for page in bill) == len(make_plan().watches)
    assert "08:00 is 20:00 UTC" in bill[0].clocks


def test_the_bill_is_rounded_as_a_crew_reads() -> None:
    watch = dataclasses.replace(
        make_plan().watches[0],
        soc=Spread(0.7249, 0.6651, 0.7, 0.75),
        engine_min=73,
        charge_current_a=58.34,
        wake_v=12.15,
        wake_a=11.0,
    )
    row = bill_row(make_plan(), watch)
    assert row.bank == f"72{NO_BREAK}%"
    assert row.bank_span == f"67\N{EN DASH}75{NO_BREAK}%"
    assert row.engine == f"charge 1{NO_BREAK}h{NO_BREAK}15"
    assert row.current == f"58{NO_BREAK}A"
    assert row.wake == (f"53{NO_BREAK}% or less", f"or below 12.15{NO_BREAK}V", f"at up to 11{NO_BREAK}A")


def test_a_watch_in_quiet_hours_shows_no_ladder() -> None:
    watch = dataclasses.replace(make_plan().watches[0], earliest=None)
    assert bill_row(make_plan(), watch).ladder == (("any", "no charging"),)


def test_a_bank_that_outlasts_the_engine_is_said_to() -> None:
    watch = dataclasses.replace(make_plan().watches[0], dead=EngineDead(None, None))
    assert bill_row(make_plan(), watch).dead == "lasts to arrival"


def test_what_is_never_shed_is_what_the_boat_file_keeps_on() -> None:
    shed = shedding(make_plan())
    assert shed.order == ((2, "radar"), (3, "fridge"), (4, "steering"))
    assert shed.never == "instruments, navigation lights"


@pytest.mark.parametrize("reading", range(101))
def test_printed_ladder_covers_every_reading_once(reading: int) -> None:
    ladder = (Rung(68, 0), Rung(60, 60), Rung(59, 90), Rung(0, 120))
    hits = []
    for words, action in ladder_lines(ladder):
        text = words.replace(NO_BREAK, " ")
        numbers = [int(number) for number in re.findall(r"\d+", text)]
        if "or more" in text:
            inside = reading >= numbers[0]
        elif "below" in text:
            inside = reading < numbers[0]
        else:
            inside = numbers[0] <= reading <= numbers[-1]
        hits += [action] if inside else []
    wanted = next(rung.minutes for rung in ladder if reading >= rung.from_percent)
    assert hits == ["no run" if wanted == 0 else duration(wanted)]


def test_panel_energies_add_up_to_the_harvest() -> None:
    plan = make_plan()
    wanted = float(plan.harvest["panel_power_w"].mean("member").sum()) / 6 / 7
    shown = sum(int(row[2].replace("\N{THIN SPACE}", "")) for row in panels_table(plan).rows)
    assert shown == pytest.approx(wanted, abs=5 * 6)  # each figure is rounded to tens


def test_lit_share_is_that_of_the_hours_with_beam() -> None:
    shown = [row[-1] for row in panels_table(make_plan()).rows]
    assert shown == [f"{lit}{NO_BREAK}%" for lit in (97, 97, 80, 75, 80, 35)]


def test_a_panel_without_light_has_no_share_of_it() -> None:
    plan = make_plan()
    dark = plan.harvest.assign(dni_w_m2=0.0 * plan.harvest["dni_w_m2"])
    shown = panels_table(with_voyage(plan, harvest=dark)).rows
    assert {row[-1] for row in shown} == {f"0{NO_BREAK}%"}


def test_a_lead_bank_s_days_since_full_and_float_stand_on_page_and_in_the_table(page: str) -> None:
    words = "1.0 days since the bank was full, or departure; at float for 1 h 30"
    assert pages(make_plan())[1].full.replace(NO_BREAK, " ") == words
    assert words in calm_text(page).replace(NO_BREAK, " ")
    assert days_table(make_plan()).columns[-2].heading == "At float"
    assert [cell.replace(NO_BREAK, " ") for cell in days_table(make_plan()).rows[1][-2:]] == ["1 h 30", "1.0"]
    plan = make_plan()
    lithium = plan.boat.model_copy(update={"bank": plan.boat.bank.model_copy(update={"chemistry": "lifepo4"})})
    voyage = dataclasses.replace(plan.voyage, inputs=dataclasses.replace(plan.voyage.inputs, boat=lithium))
    bare = dataclasses.replace(plan, voyage=voyage)
    assert pages(bare)[1].full == ""
    assert days_table(bare).columns[-1].heading == "Bank at lowest"


def test_days_show_the_spread_of_the_forecasts(page: str) -> None:
    day = make_plan().days[0]
    cell = days_table(make_plan()).rows[0][2]
    low, high = (int(v.replace("\N{THIN SPACE}", "")) for v in re.search(r"\((.*)\)", cell)[1].split("\N{EN DASH}"))
    assert low == pytest.approx(day.solar_wh.p10, abs=5)
    assert high == pytest.approx(day.solar_wh.p90, abs=5)


def test_checksums_warnings_and_cautions_are_shown_whole(page: str) -> None:
    plan, text = make_plan(), calm_text(page)
    assert all(name in text and digest in text for name, digest in plan.voyage.inputs.files.items())
    assert all(str(escape(words)) in text for words in (*all_said(plan.warnings), *cautions_of(plan)))


def test_a_reading_an_hour_and_one_at_arrival(page: str) -> None:
    readings = re.search(r'id="bank-readings">(\[.*?\])</script>', page, re.DOTALL)
    assert readings
    hours = int(np.ceil(make_plan().track.sizes["time"] / 6))
    assert readings[1].count("Day ") + readings[1].count("Arrival") == hours + 1
