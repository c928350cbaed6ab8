"""The report's heading fan: marks stand on their bearings, outside the planned ring when they win, and read alike."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import fan_fixture
import pytest
from fan_fixture import flat, heading_fan_found
from plan_fixture import make_plan

from planner.domain.results.figures import Count, Spread
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.results.studies import PanelShift
from planner.presentation.drawing.heading_fan import heading_fan
from planner.presentation.pages.report import render
from planner.presentation.words.content import Figure
from planner.presentation.words.headings import answer, heading_sentences, options_table


def figure(sun_elevation_deg: float = 39.0) -> Figure:
    drawn = heading_fan(plan(sun_elevation_deg))
    assert drawn is not None
    return drawn


def plan(sun_elevation_deg: float = 39.0) -> Plan:
    return replace(make_plan(), fan=heading_fan_found(sun_elevation_deg=sun_elevation_deg))


def drawings(one: Figure) -> list[ET.Element]:
    return [ET.fromstring(str(drawing)) for drawing in one.drawings]


def places(root: ET.Element) -> list[tuple[float, float]]:
    """Bearing [degree] and distance from the middle [px] of each mark."""
    middle = float(root.attrib["viewBox"].split()[2]) / 2.0
    across, down = ([float(each) - middle for each in root.attrib[name].split()] for name in ("data-x", "data-y"))
    return [(math.degrees(math.atan2(x, -y)) % 360.0, math.hypot(x, y)) for x, y in zip(across, down, strict=True)]


def test_each_mark_stands_on_its_bearing_and_gybes_step_aside() -> None:
    options = heading_fan_found().options
    for root in drawings(figure()):
        for option, (bearing, _) in zip(options, places(root), strict=True):
            off = (bearing - option.heading_magnetic_deg + 180.0) % 360.0 - 180.0
            assert abs(off) < (2.0 if option.turn_deg == -60.0 else 0.3)
        assert places(root)[0] != places(root)[1]


def test_what_wins_lies_outside_the_planned_ring_by_as_much_as_it_wins() -> None:
    options = heading_fan_found().options
    for root in drawings(figure()):
        (ring,) = (each for each in root.iter("circle") if "planned-ring" in each.attrib.get("class", ""))
        planned = float(ring.attrib["r"])
        outward = [distance - planned for _, distance in places(root)]
        assert outward[2] == pytest.approx(0.0, abs=0.2)
        scale = outward[3] / options[3].difference_wh.p50
        assert scale > 0.0
        for option, off in zip(options, outward, strict=True):
            assert off == pytest.approx(scale * option.difference_wh.p50, abs=0.3)


def all_round() -> Plan:
    """A plan whose fan has a heading every 20 degrees, marks on every ring, and tacks two degrees apart."""
    fan = heading_fan_found()
    options = [
        replace(
            fan.options[3 if number % 2 else 4],
            heading_magnetic_deg=20.0 * number + 1.0 * tack,
            tack=tack,
            difference_wh=Spread(planned=value, p10=value - 15.0, p50=value, p90=value + 15.0),
        )
        for number, value in enumerate((-480.0, 0.0, 480.0) * 6)
        for tack in (1, -1)
    ]
    return replace(plan(), fan=replace(fan, options=(fan.planned, *options)))


def test_no_rings_name_stands_over_a_mark_even_where_headings_go_all_round() -> None:
    one = heading_fan(all_round())
    assert one is not None
    for root in drawings(one):
        names = [each for each in root.iter("text") if each.attrib["class"] == "ring-name"]
        assert len(names) == 3
        marks = [[float(each) for each in root.attrib[name].split()] for name in ("data-x", "data-y")]
        for name in names:
            x, y, half = float(name.attrib["x"]), float(name.attrib["y"]) - 4.5, 3.0 * len(name.text or "")
            assert all(abs(x - mx) > half + 4.0 or abs(y - my) > 10.0 for mx, my in zip(*marks, strict=True))


def test_tacks_on_nearly_one_heading_step_apart() -> None:
    one = heading_fan(all_round())
    assert one is not None
    for root in drawings(one):
        bearings = [bearing for bearing, _ in places(root)[1:]]
        apart = [(a - b + 180.0) % 360.0 - 180.0 for a, b in zip(bearings[::2], bearings[1::2], strict=True)]
        assert min(apart) > 3.7  # two degrees as steered


def test_all_of_it_lies_on_the_paper() -> None:
    for root in drawings(figure()):
        width = float(root.attrib["viewBox"].split()[2])
        for path in root.iter("path"):
            if path.attrib["class"] != "bow":
                assert all(0.0 <= float(each) <= width for each in re.findall(r"[\d.]+", path.attrib["d"]))


def test_tacks_differ_in_shape_and_driving_is_named() -> None:
    one = figure()
    for root in drawings(one):
        marks = [each for each in root.iter() if "mark" in each.attrib.get("class", "")]
        assert [mark.tag for mark in marks] == ["circle", "rect", "circle", "circle", "circle"]
    assert ("line spoke drives", "the engine must drive") in one.legend
    said = one.readings[4].replace("\N{NO-BREAK SPACE}", " ")
    assert said == "085°M, starboard tack, 75 to starboard: +40 Wh, loses 7.5 nm; 5.2 kn, engine drives 4 h"


def test_readings_and_table_go_through_the_same_headings() -> None:
    one = figure()
    assert len(one.readings) == len(one.table.rows) == 5
    for reading, row in zip(one.readings, one.table.rows, strict=True):
        assert reading.startswith(row[1])
    assert "1000 Wh of sun" in one.readings[2]


def test_the_words_say_watch_wind_and_what_coming_up_costs() -> None:
    one = figure()
    assert one.title == "Other headings, Mon 10 May 12:00\N{EN DASH}16:00"
    assert "Coming up 20 degrees, to 030°M, costs 118 Wh (90 to 150 over the forecasts)" in one.lead
    assert "the wind, from 110°M" in one.caption
    assert "the sun, up to 39° high" in one.caption


def test_a_cost_that_some_forecasts_turn_is_told_under_nought() -> None:
    fan = heading_fan_found()
    up = fan_fixture.option(20.0, 1, Spread(planned=-9.0, p10=-33.0, p50=-14.0, p90=29.0))
    assert "costs 14 Wh (-29 to 33 over the forecasts)" in answer(replace(fan, coming_up=up))


def test_no_sun_is_drawn_below_the_horizon() -> None:
    dark = figure(sun_elevation_deg=-3.0)
    assert "sun" not in dark.caption.split("forecasts in ten.")[1]
    assert not [each for root in drawings(dark) for each in root.iter() if each.attrib.get("class") == "solar"]


def test_the_report_has_it_after_the_suns_and_before_the_bill() -> None:
    page = render(plan())
    assert page.index('id="panels"') < page.index('id="headings"') < page.index('id="bill"')
    assert "Northing &lt;&amp;&gt;" in page
    assert 'id="headings"' not in render(replace(make_plan(), fan=None))


def test_a_heading_that_costs_more_time_than_it_saves_engine_is_not_recommended() -> None:
    """A gybe wins 30 Wh, two minutes of engine, and 6 of 18 miles in four hours: 80 minutes."""
    _, words = heading_sentences(heading_fan_found())
    assert words == (
        "Hold your course: most comes in on 310\N{DEGREE SIGN}M, starboard tack, but it saves 2 min of engine, "
        "+30 Wh, and costs 80 min of way: -78 min in all."
    )


def test_a_heading_that_saves_more_engine_than_time_is() -> None:
    fan = heading_fan_found()
    better = fan_fixture.option(-5.0, 1, flat(280.0))  # 20 min of engine for 0.5 of 18 miles in four hours
    words = heading_sentences(replace(fan, options=(better, *fan.options)))[-1]
    assert words == (
        "Worth it: 005\N{DEGREE SIGN}M, starboard tack, saves 20 min of engine, +280 Wh, and costs 7 min of way: "
        "+13 min in all."
    )


def test_the_verdict_says_in_one_line_what_the_winner_wins_by() -> None:
    """Of 280 Wh 150 come out of the mainsail's shadow over two panels, 140 clear of the boom; one panel loses 10."""
    fan = heading_fan_found()
    shifts = (
        PanelShift("port", 300.0, 50.0, Note("out_of_mainsail")),
        PanelShift("middle", 300.0, 140.0, Note("clear_of_boom")),
        PanelShift("arch", 300.0, 100.0, Note("out_of_mainsail")),
        PanelShift("hood", 300.0, -10.0, Note("in_headsail")),
    )
    better = replace(fan_fixture.option(-5.0, 1, flat(280.0)), panels=shifts)
    words = heading_sentences(replace(fan, options=(better, *fan.options)))[-1]
    assert words.endswith("+13 min in all. Most of it: arch and port out of the mainsail's shadow, +150 Wh.")


def test_the_verdict_rests_on_the_middle_forecast_and_tells_the_span() -> None:
    fan = heading_fan_found()
    better = replace(
        fan_fixture.option(-5.0, 1, Spread(planned=-90.0, p10=-60.0, p50=280.0, p90=300.0)),
        gain_min=Spread(planned=-13.0, p10=-11.0, p50=13.0, p90=15.0),
        gains_in=15,
    )
    words = heading_sentences(replace(fan, options=(better, *fan.options)))[-1]
    assert words == (
        "Worth it: 005\N{DEGREE SIGN}M, starboard tack, saves 20 min of engine, +280 (-60 to +300) Wh, and costs 7 "
        "min of way: +13 (-11 to +15) min in all, a gain in 15 of 21 forecasts."
    )
    turned = replace(better, gain_min=Spread(planned=13.0, p10=-15.0, p50=-11.0, p90=15.0))
    assert heading_sentences(replace(fan, options=(turned, *fan.options)))[-1].startswith("Hold your course: most")


def test_a_heading_on_which_the_middle_forecast_drives_more_is_not_recommended() -> None:
    fan = heading_fan_found()
    driven = replace(fan_fixture.option(-5.0, 1, flat(280.0)), drives_more_h=Spread(0.0, 0.0, 0.5, 1.0))
    assert heading_sentences(replace(fan, options=(driven, *fan.options)))[-1].startswith("Hold your course")


def test_the_table_says_whose_place_and_wind_the_figures_are_of() -> None:
    fan = heading_fan_found()
    for own, sailed, words in (
        (True, 21, "Each of 21 forecasts stands at a place and in a wind of its own"),
        (True, 11, "11 of 21 forecasts stand at a place and in a wind of its own"),
        (False, 21, "All 21 forecasts are met at the planned places"),
    ):
        assert words in options_table(replace(fan, own_tracks=own, members=Count(sailed, 21))).note


def test_where_no_heading_brings_more_she_holds_her_course() -> None:
    fan = heading_fan_found()
    only = tuple(each for each in fan.options if each.difference_wh.p50 <= 0.0)
    assert heading_sentences(replace(fan, options=only))[-1].startswith("Hold your course: no other heading")
