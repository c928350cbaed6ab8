"""The schedule on the terminal: fits its width, says what the rows say, stays plain."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from inputs_fixture import DEPARTURE
from plan_fixture import make_plan, with_voyage

from planner.domain.results.bill import EngineDead, Lasts, Rung, WithoutEngine
from planner.domain.results.plan import Plan, Stress
from planner.presentation.words.bill.sentences import rung_words, stress_words, usual_watch, without_engine_from
from planner.presentation.words.bill.terminal import render
from planner.presentation.words.text import WIDTH
from planner.presentation.words.wording import plain


def whole(plan: Plan, *, width: int = WIDTH) -> str:
    return render(plan, width=width, all_days=True)


def lines_of(text: str, start: str) -> list[str]:
    return [line for line in text.splitlines() if line.startswith(start)]


def test_no_line_is_wider_than_asked() -> None:
    for width in (72, 80, WIDTH, 120):
        assert max(len(line) for line in whole(make_plan(), width=width).splitlines()) <= width


def test_text_is_plain_latin_1_without_escapes() -> None:
    text = render(make_plan())
    text.encode("latin-1")
    assert "\x1b" not in text


def test_every_watch_has_a_line_with_its_role() -> None:
    text = whole(make_plan())
    for role in ("hand", "skipper", "mate"):
        assert sum(f"  {role} " in line for line in text.splitlines()) == 14  # of 42 watches, a third


def test_each_day_is_headed_by_ships_date_and_offset() -> None:
    heads = lines_of(whole(make_plan()), "Day ")
    assert heads[0] == "Day 1, from Sun 10 May 08:00 (UTC+12)"
    assert len(heads) == 7


def test_times_follow_ships_time() -> None:
    moved = with_voyage(make_plan(), ship_offset=timedelta(hours=13))
    assert lines_of(render(moved), "Day 1,") == ["Day 1, from Sun 10 May 09:00 (UTC+13)"]


def test_a_planned_run_stands_with_its_times_stop_and_current() -> None:
    text = whole(make_plan())
    block = text[text.index("Day 2,") : text.index("Day 3,")]
    row = next(line for line in block.splitlines() if line.startswith("08:00"))
    assert "08:00-09:00" in row
    words = " ".join(block.split())
    assert "Stop at 85 %, 62 Ah in, or 8 A; after ten minutes expect 58 A" in words
    assert "Skipping it costs 1 h 10 later." in words


def test_propulsion_is_told_apart_from_charging() -> None:
    assert "drives" in whole(make_plan())


def test_a_ladder_names_every_reading_once() -> None:
    ladder = (Rung(68, 0), Rung(60, 60), Rung(59, 90), Rung(0, 120))
    assert rung_words(ladder) == ["68 % or more no run", "60-67 % 1 h", "59 % 1 h 30", "below 59 % 2 h"]
    assert rung_words((Rung(0, 0),)) == ["any no run"]


def test_a_watch_closed_to_the_engine_offers_no_run() -> None:
    text = render(make_plan())
    rows = [line for line in lines_of(text, "00:00") if "skipper" in line]
    assert all(line.endswith("no run") for line in rows)


def test_figures_are_rounded_as_a_crew_reads() -> None:
    row = make_plan().watches[0]
    line = next(line for line in lines_of(render(make_plan()), "08:00"))
    assert f" {round(100 * row.soc.planned)} (" in line
    assert f" {10 * round(row.load_wh.planned / 10)} " in line


def test_a_lead_bank_s_days_since_full_stand_with_its_day() -> None:
    text = " ".join(render(make_plan(), all_days=True).split())
    assert "; 1.0 days since the bank was full, or departure; at float for 1 h 30. " in text
    assert "; 2.0 days since the bank was full, or departure. " in text


@pytest.mark.parametrize(
    ("dead", "words"),
    [
        (EngineDead(hours_left=5.5, find_out_by=None), "Shedding loads is not enough to arrival."),
        (
            EngineDead(hours_left=5.5, find_out_by=DEPARTURE + timedelta(hours=3)),
            "Shed all that may be by Sun 10 May 11:00, and the reserve is kept.",
        ),
    ],
)
def test_what_shedding_still_saves_is_told_each_day(dead: EngineDead, words: str) -> None:
    plan = make_plan()
    rows = (replace(plan.watches[0], dead=dead), *plan.watches[1:])
    assert words in " ".join(render(replace(plan, watches=rows)).split())


def test_warnings_come_before_the_first_day_and_cautions_last() -> None:
    text = whole(make_plan())
    assert text.index("The forecast is a single run") < text.index("Day 1,")
    assert text.index("not for navigation") > text.index("Day 7,")


def test_a_narrow_terminal_keeps_bank_engine_and_ladder() -> None:
    text = render(make_plan(), width=80)
    head = next(line for line in text.splitlines() if line.startswith("from"))
    assert all(word in head for word in ("on watch", "bank %", "engine", "by the meter"))
    assert "hdg" not in head
    assert any("65 % or more no run" in line for line in lines_of(text, "08:00"))


def test_the_shedding_order_stands_once_with_what_stays_on() -> None:
    text = render(make_plan())
    assert text.count("2 radar; 3 fridge; 4 steering. Never: instruments, navigation lights.") == 1


def test_where_to_stop_stands_with_every_ladder() -> None:
    plan = make_plan()
    watches = sum(row.earliest is not None for row in plan.watches)
    assert render(plan, all_days=True).count("stop at 85 %") == watches


def test_the_next_24_hours_stand_first_and_say_how_to_see_the_rest() -> None:
    text = render(make_plan())
    assert len(lines_of(text, "Day ")) == 1
    assert "The days after: --days all." in " ".join(text.split())
    assert "--days all" not in whole(make_plan())


def test_where_one_figure_in_volts_serves_all_it_is_that_of_the_usual_watch() -> None:
    first = make_plan().watches[0]
    rows = [replace(first, wake_v=volts, wake_a=amps) for volts, amps in ((12.1, 12.0), (11.8, 40.0), (12.0, 18.0))]
    assert usual_watch(rows) is rows[2]
    plan = replace(make_plan(), watches=tuple(rows), card=None)
    assert "below 12.00 V for 10 min while no more than 18 A is drawn" in " ".join(render(plan).split())


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ((Lasts(None, None), Lasts(None, None), None), "the bank lasts to arrival."),
        (
            (Lasts(8.0, 20.5), Lasts(None, None), Lasts(None, None)),
            "reserve in 8 h, lights out in 20 h 30; with all shed that may be, the bank lasts to arrival.",
        ),
        (
            (Lasts(8.0, 20.5), Lasts(12.0, 31.0), Lasts(30.0, None)),
            "reserve in 8 h, lights out in 20 h 30; with all shed that may be, reserve in 12 h, lights out in 31 h; "
            "and steered by hand or vane, reserve in 30 h, lit to arrival.",
        ),
    ],
)
def test_a_dead_engine_is_told_to_the_reserve_and_to_lights_out(
    case: tuple[Lasts, Lasts, Lasts | None], words: str
) -> None:
    plan = make_plan()
    dead = WithoutEngine(plan.watches[0].start, *case)
    text = " ".join(render(replace(plan, without_engine=(dead,))).split())
    assert f"Engine dead from 08:00, in poor weather (one forecast in ten is worse): {words}" in text


def test_a_dead_engine_is_told_of_the_day_that_a_moment_lies_in() -> None:
    first = make_plan().without_engine[0]
    days = tuple(replace(first, start=first.start + timedelta(days=day)) for day in range(3))
    plan = replace(make_plan(), without_engine=days)
    hours = [-1.0, 0.0, 23.9, 24.0, 30.0, 90.0]
    found = [without_engine_from(plan, first.start + timedelta(hours=hour)) for hour in hours]
    assert found == [days[0], days[0], days[0], days[1], days[1], days[2]]


def test_a_trouble_says_its_engine_fuel_and_bank_on_arrival() -> None:
    plan = make_plan()
    at = plan.passage.departure + timedelta(days=2)
    waits = Stress("waits", None, 0.37, at, 0.75, 38.6, plan.charging_hours.planned + 0.5, 5, 5, None)
    assert plain(stress_words(plan, waits)) == (
        "Half a day hove-to off the landfall: 30 min more engine; lowest 37 % on Tue 12 May 08:00; arrives with "
        "75 %, 39 L burnt; reserve kept in 5 of 5 forecasts."
    )
