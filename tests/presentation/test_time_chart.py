"""Charts: where values and hours fall, what is shaded, what is labelled."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from plan_fixture import make_plan

from planner.presentation.drawing.frame import NARROW, WIDE, Frame, Paper, even_ticks
from planner.presentation.drawing.plots import bank_course, power_in_and_out
from planner.presentation.drawing.svg import polyline, ribbon
from planner.presentation.drawing.time_chart import StripRun, TimeAxis, corners_of, time_chart
from planner.presentation.words.hours import hours_of, nights, spans

START = datetime(2026, 5, 10, 18, 0)  # noqa: DTZ001  (ship's time)
TWO_DAYS = TimeAxis(START, 48.0)
TICKS = (0.0, 50.0, 100.0)


def nothing(_frame: Frame) -> None:
    """Draw no course."""


def drawn(
    courses: Callable[[Frame], None] = nothing,
    *,
    time: TimeAxis = TWO_DAYS,
    runs: tuple[StripRun, ...] = (),
    label: str = "a chart",
    paper: Paper = WIDE,
) -> ET.Element:
    cursor = ([0.0, 24.0], [50.0, np.nan])
    both = time_chart(time, TICKS, courses, unit="%", label=label, cursor=cursor, runs=runs)
    return ET.fromstring(str(both[paper is NARROW]))


def plot_of(root: ET.Element) -> tuple[float, float, float, float]:
    """Left, top, breadth and height of the plot [px]."""
    edge = root.find(".//rect[@class='plot-frame']")
    return tuple(float(edge.get(name)) for name in ("x", "y", "width", "height"))


def on_plot(root: ET.Element, points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Points on the paper as hours of 48 and percent."""
    left, top, broad, tall = plot_of(root)
    return [(48.0 * (x - left) / broad, 100.0 * (1.0 - (y - top) / tall)) for x, y in points]


def corners(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path)]


def test_after_a_replan_days_go_on_at_the_hour_of_the_first_departure() -> None:
    """Begun 46 hours after it: two hours are left of the second day, then the third, and four hours of the fourth."""
    rest = TimeAxis(START, 30.0, before_h=46.0)
    assert rest.days() == {1: (0.0, 2.0), 2: (2.0, 26.0), 3: (26.0, 30.0)}
    words = [each.text for each in drawn(time=rest).iter("text")]
    assert [each for each in words if each and each.startswith("day ")] == ["day 2", "day 3", "day 4"]
    assert TWO_DAYS.days() == {0: (0.0, 24.0), 1: (24.0, 48.0)}


def test_a_line_runs_from_corner_to_corner() -> None:
    root = drawn(lambda frame: frame.line("planned", [0.0, 48.0], [0.0, 100.0]))
    path = root.find(".//path[@class='line planned']")
    assert on_plot(root, corners(path.get("d"))) == [(0.0, 0.0), (48.0, 100.0)]


def test_values_outside_are_held_at_the_frame() -> None:
    root = drawn(lambda frame: frame.line("planned", [0.0, 48.0], [-20.0, 130.0]))
    path = root.find(".//path[@class='line planned']")
    assert on_plot(root, corners(path.get("d"))) == [(0.0, 0.0), (48.0, 100.0)]


def test_a_band_closes_over_its_hours() -> None:
    root = drawn(lambda frame: frame.band("spread", [0.0, 48.0], [0.0, 0.0], [50.0, 100.0]))
    path = root.find(".//path[@class='area spread']").get("d")
    assert on_plot(root, corners(path)) == [(0.0, 50.0), (48.0, 100.0), (48.0, 0.0), (0.0, 0.0)]
    assert path.endswith("Z")


def test_the_reserve_lies_at_its_value_and_is_named() -> None:
    root = drawn(lambda frame: frame.level("reserve", 25.0, "reserve 25 %"))
    y = float(root.find(".//line[@class='line reserve']").get("y1"))
    assert on_plot(root, [(0.0, y)])[0][1] == 25.0
    assert any(text.text == "reserve 25 %" for text in root.iter("text"))


def test_the_pen_lifts_where_a_value_is_missing() -> None:
    points = np.array([[0.0, 5.0], [1.0, np.nan], [2.0, 5.0], [3.0, 6.0]])
    assert polyline(points) == "M0 5M2 5L3 6"


def test_a_band_is_drawn_apart_on_either_side_of_a_gap() -> None:
    x, low = np.arange(5.0), np.zeros(5)
    assert ribbon(x, low, np.array([1.0, 1.0, np.nan, 2.0, 2.0])) == "M0 1L1 1L1 0L0 0ZM3 2L4 2L4 0L3 0Z"


def test_a_band_of_nothing_draws_nothing() -> None:
    assert ribbon(np.array([0.0]), np.array([np.nan]), np.array([np.nan])) == ""


def test_nights_and_runs_stand_at_their_hours() -> None:
    root = drawn(time=TimeAxis(START, 48.0, nights=((12.0, 24.0),)), runs=(StripRun("charges", 24.0, 30.0),))
    left, _, broad, _ = plot_of(root)
    for css, start, stop in (("night", 12.0, 24.0), ("run charges", 24.0, 30.0)):
        box = root.find(f".//rect[@class='{css}']")
        assert float(box.get("x")) == pytest.approx(left + broad * start / 48.0, abs=0.06)
        assert float(box.get("width")) == pytest.approx(broad * (stop - start) / 48.0, abs=0.06)


def test_a_short_run_is_still_seen() -> None:
    run = drawn(runs=(StripRun("charges", 1.0, 1.01),)).find(".//rect[@class='run charges']")
    assert float(run.get("width")) >= 1.5


def test_dates_stand_at_midnight_by_ship_s_time() -> None:
    root = drawn()
    dates = {text.text: float(text.get("x")) for text in root.iter("text") if text.get("class") == "date"}
    plot = 960.0 - 48.0 - 10.0
    assert dates["Mon 11 May"] == pytest.approx(48.0 + plot * 6 / 48 + 3.0, abs=0.1)
    assert dates["day 2"] == pytest.approx(48.0 + plot / 2 + 3.0, abs=0.1)


def test_a_long_passage_names_only_days_that_have_room() -> None:
    root = drawn(time=TimeAxis(START, 60 * 24.0), paper=NARROW)
    dates = sorted(
        float(text.get("x")) for text in root.iter("text") if text.get("class") == "date" and text.text != "day 1"
    )
    top = [float(t.get("x")) for t in root.iter("text") if t.get("class") == "date" and float(t.get("y")) < 100]
    assert np.diff(sorted(top)).min() >= 17.0
    assert dates


def test_the_cursor_knows_each_reading_and_gaps() -> None:
    root = drawn()
    (first, second), (here, gap) = (map(float, root.get(name).split()) for name in ("data-x", "data-y"))
    assert on_plot(root, [(first, here)]) == [(0.0, 50.0)]
    assert on_plot(root, [(second, here)])[0][0] == 24.0
    assert np.isnan(gap)


def test_a_label_that_holds_markup_stays_text() -> None:
    assert drawn(label='"><b>x</b>').get("aria-label") == '"><b>x</b>'


def test_steps_hold_each_mean_over_its_step() -> None:
    assert list(corners_of(np.array([0.0, 1.0, 2.0]))) == [0.0, 1.0, 1.0, 2.0]


@pytest.mark.parametrize("value", [0.4, 9.9, 60.0, 61.0, 899.0, 1000.0, 5400.0, 123456.0])
def test_an_axis_holds_its_highest_value_in_few_ticks(value: float) -> None:
    ticks = even_ticks(0.0, value, 6)
    assert ticks[0] == 0.0
    assert ticks[-1] >= value
    assert 2 <= len(ticks) <= 7


def test_spans_find_runs_at_both_ends() -> None:
    assert spans(np.array([True, False, True, True]), 0.5) == ((0.0, 0.5), (1.0, 2.0))


def test_nights_are_when_the_sun_is_down() -> None:
    plan = make_plan()
    hours = hours_of(plan)
    dark = sum(stop - start for start, stop in nights(plan, hours))
    assert dark == pytest.approx(float((plan.harvest["sun_elevation_deg"] < 0).sum()) / 6)


def test_hourly_means_keep_the_energy() -> None:
    plan = make_plan()
    hours = hours_of(plan)
    solar = plan.planned["solar_power_w"].values[0]
    assert float((hours.mean(solar) * np.diff(hours.edges_h)).sum()) == pytest.approx(
        float(solar.sum()) * hours.step_h
    )


def test_a_last_hour_cut_short_keeps_its_own_mean() -> None:
    plan = make_plan()
    hours = hours_of(plan)
    cut = type(hours)(hours.start, hours.offset, hours.step_h, 8, np.array([0, 6]), 1)
    assert list(cut.mean(np.array([1.0, 1, 1, 1, 1, 1, 4, 6]))) == [1.0, 5.0]


@pytest.mark.parametrize("figure", [bank_course, power_in_and_out])
def test_figures_read_and_tabulate_the_same_hours(figure: object) -> None:
    made = figure(make_plan())  # type: ignore[operator]
    assert len(made.readings) == len(made.table.rows)
    assert len(made.drawings) == 2
    assert all(len(row) == len(made.table.columns) for row in made.table.rows)
    for drawing in made.drawings:
        assert len(ET.fromstring(str(drawing)).get("data-x").split()) == len(made.readings)


def test_the_reading_at_0600_of_day_3_is_the_plan_s() -> None:
    plan = make_plan()
    reading = next(text for text in bank_course(plan).readings if "Wed 13 May 06:00" in text)
    step = (24 * 2 + 22) * 6
    assert reading.startswith("Day 3, ")
    assert f"bank {round(100 * plan.planned['bank_soc'].values[0, step])}" in reading


def test_both_papers_carry_the_same_course() -> None:
    wide, narrow = (ET.fromstring(str(drawing)) for drawing in bank_course(make_plan()).drawings)
    assert wide.get("viewBox") == f"0 0 {WIDE.width:.0f} 340"
    assert narrow.get("viewBox") == f"0 0 {NARROW.width:.0f} 280"
    counts = [len(root.findall(".//rect[@class='night']")) for root in (wide, narrow)]
    assert counts[0] == counts[1] == 7


def margin_of(clock_changes: tuple[tuple[float, float], ...] = ()) -> tuple[list[tuple[float, int]], list[str]]:
    """Hour and number of each quarter, and the dates that are written."""
    time = TimeAxis(START, 72.0, clock_changes=clock_changes)
    written = [text.text for text in drawn(time=time).iter("text") if text.get("class") == "date"]
    return [(quarter.hour, quarter.number) for quarter in time.quarters()], [
        w for w in written if w and "day" not in w
    ]


def test_a_fixed_clock_graduates_every_six_hours() -> None:
    marks, dates = margin_of()
    assert marks == [(6.0 * n, (n + 3) % 4) for n in range(12)]
    assert dates == ["Mon 11 May", "Tue 12 May", "Wed 13 May"]


def test_a_clock_put_back_makes_one_quarter_longer_and_midnight_later() -> None:
    marks, dates = margin_of(clock_changes=((22.0, -1.0),))  # at 16:00 on the second day
    hours = [hour for hour, _ in marks]
    assert max(np.diff(hours)) == 7.0
    assert [hour for hour, number in marks if number == 0] == [6.0, 31.0, 55.0]
    assert dates == ["Mon 11 May", "Tue 12 May", "Wed 13 May"]


def test_a_clock_put_on_over_the_end_of_a_quarter_loses_none() -> None:
    marks, _ = margin_of(clock_changes=((17.5, 1.0),))  # from 11:30 to 12:30
    assert [number for _, number in marks][:6] == [3, 0, 1, 2, 3, 0]
    assert marks[3:5] == [(17.5, 2), (23.0, 3)]


def test_a_date_that_comes_twice_is_written_twice() -> None:
    assert margin_of(clock_changes=((30.0 - 8.0, -24.0),))[1] == ["Mon 11 May", "Mon 11 May", "Tue 12 May"]
    assert margin_of(clock_changes=((30.0 - 8.0, 24.0),))[1] == ["Mon 11 May", "Wed 13 May", "Thu 14 May"]
